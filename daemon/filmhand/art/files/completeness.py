"""Does the end of a picture file look finished?

Asked while a file may still be arriving, and once more before it is decoded: decoders pass some
files that broke off. Reads the head, the tail and a few directories; never the whole picture,
except in a JPEG whose end is not at the end of the file.
"""

from __future__ import annotations

import os
import re
import zlib
from typing import BinaryIO

from filmhand.art.files.file_types import HEAD_BYTES, READABLE, FileType, sniff
from filmhand.art.files.file_words import DamageWord, FileNote, FrameCount
from filmhand.art.files.tiff_structure import Tag, read_structure
from filmhand.art.formats.animations import FramesThere, gif_frames, webp_frames
from filmhand.art.formats.jpeg_markers import start_of_scan
from filmhand.art.formats.layered import read_layered
from filmhand.art.formats.netpbm import netpbm_head
from filmhand.digest import Readable
from filmhand.values import dataclass

_TAIL_BYTES = 65536
_PAGE_BYTES = 4096
_JPEG_SEARCH_BYTES = 32 * 2**20
_MOST_BOXES = 10_000
_MOST_UNPACKED = 64_000_000


@dataclass(frozen=True, slots=True)
class Completeness:
    """The answer: whether the end looks finished and, if not, why.

    ``hard`` tells that the end is surely missing; otherwise it may be real, such as a black
    edge that is stored as zeros, or does not matter, as the last frames of an animation.
    ``frames`` are those of an animation that breaks off, where some are whole.
    """

    finished: bool
    fault: DamageWord | None = None
    hard: bool = False
    frames: int = 0

    @property
    def why(self) -> str:
        """One phrase: what is missing; empty where the end looks finished."""
        if self.frames:
            return FrameCount.ENDS.say(self.frames)
        return self.fault.say() if self.fault else ""

    @property
    def note(self) -> str:
        """What to tell in the record of a doubt that is not hard."""
        if self.frames:
            return FileNote.FIRST_OF_BROKEN_ANIMATION.say(frames=self.why)
        return FileNote.CHECK_LOWER_EDGE.say(why=self.why)


_FINISHED = Completeness(True)
_NO_END = Completeness(False, DamageWord.NO_END, hard=True)
_ENDING_WITH_A_MARK = frozenset(
    {FileType.JPEG, FileType.JPEG_2000, FileType.PNG, FileType.GIF, FileType.PDF, FileType.SVG}
)
_SEE_THROUGH_AS_ZEROS = frozenset({FileType.ICO, FileType.DDS, FileType.TGA})


def completeness_of(path: Readable) -> Completeness:
    """Whether the end of the file at ``path`` looks finished.

    Kinds that are not read here count as finished: they are refused anyway. Never raises for
    odd content; a file that cannot be opened or read raises OSError.
    """
    with path.open("rb") as file:
        size = os.fstat(file.fileno()).st_size
        head = file.read(HEAD_BYTES)
        kind = sniff(head)
        if kind is FileType.EMPTY:
            return Completeness(False, DamageWord.NO_BYTES, hard=True)
        if kind not in READABLE:
            return _FINISHED
        answer = _TESTS[kind](file, size, head)
        return answer if not answer.finished else _zero_end(kind, file, size)


def _zero_end(kind: FileType, file: BinaryIO, size: int) -> Completeness:
    """Whether a file that is long enough ends in zeros, as a copy does that was only begun."""
    zeros = _zero_tail(file, size)
    if zeros < _PAGE_BYTES or _ends_before(kind, file, size - zeros):
        return _FINISHED
    if kind in _SEE_THROUGH_AS_ZEROS:
        return Completeness(False, DamageWord.ENDS_IN_ZEROS)
    if zeros * 2 >= size and not _is_all_zeros(kind, file, size - zeros):
        return Completeness(False, DamageWord.HALF_OF_ZEROS, hard=True)
    hard = kind in (FileType.WEBP, FileType.HEIC, FileType.AVIF, FileType.JPEG_XL)
    return Completeness(False, DamageWord.ENDS_IN_ZEROS, hard=hard)


def _read_at(file: BinaryIO, offset: int, length: int) -> bytes:
    file.seek(max(0, offset))
    return file.read(length)


def _zero_tail(file: BinaryIO, size: int) -> int:
    """How many zero bytes the file ends with, looked at from the end; stops past the middle."""
    if any(_read_at(file, size - _PAGE_BYTES, _PAGE_BYTES)):
        return 0
    zeros, block = 0, 2**20
    while zeros * 2 < size:
        start = max(0, size - zeros - block)
        data = _read_at(file, start, size - zeros - start)
        kept = data.rstrip(b"\0")
        zeros += len(data) - len(kept)
        if kept or not data:
            break
    return zeros


def _ends_before(kind: FileType, file: BinaryIO, offset: int) -> bool:
    """True where the picture is known to end before ``offset``: what follows is padding."""
    if kind in _ENDING_WITH_A_MARK:
        return True  # and it was found
    if kind is not FileType.TIFF:
        return False
    structure = read_structure(file, os.fstat(file.fileno()).st_size)
    return 0 < max(one.data_end() for one in structure.directories) <= offset


def _is_all_zeros(kind: FileType, file: BinaryIO, offset: int) -> bool:
    """True if everything from the first pixel on is zero: more likely one flat than a lost half."""
    if kind is FileType.BMP:
        return offset <= int.from_bytes(_read_at(file, 10, 4), "little")
    if kind is FileType.NETPBM:
        found = netpbm_head(_read_at(file, 0, HEAD_BYTES))
        return found is not None and offset <= found.at
    if kind is not FileType.TIFF:
        return False
    structure = read_structure(file, os.fstat(file.fileno()).st_size)
    return offset <= min(one.data_start() for one in structure.directories)


def _jpeg(file: BinaryIO, size: int, head: bytes) -> Completeness:
    start = start_of_scan(file, size)
    if start is None:
        return _NO_END
    tail_start = max(start, size - _TAIL_BYTES)
    if _read_at(file, tail_start, _TAIL_BYTES).rfind(b"\xff\xd9") >= 0:
        return _FINISHED
    # Cameras append whole films behind the picture; within the scan the byte FF is always
    # followed by 00 or a marker (ITU-T T.81, B.1.1), so the end mark cannot be mistaken.
    data = _read_at(file, start, _JPEG_SEARCH_BYTES)
    return _FINISHED if b"\xff\xd9" in data else _NO_END


def _png(file: BinaryIO, size: int, head: bytes) -> Completeness:
    tail = _read_at(file, size - 2**20, 2**20)
    return _FINISHED if b"IEND\xae\x42\x60\x82" in tail else _NO_END


def _gif(file: BinaryIO, size: int, head: bytes) -> Completeness:
    return _of_frames(gif_frames(file, size), _NO_END)


def _of_frames(frames: FramesThere, else_: Completeness) -> Completeness:
    if frames.ended:
        return _FINISHED
    if not frames.whole:
        return else_
    return Completeness(False, frames=frames.whole)


def _webp(file: BinaryIO, size: int, head: bytes) -> Completeness:
    short = Completeness(False, DamageWord.SHORTER_THAN_SAID, hard=True)
    if len(head) >= 12 and int.from_bytes(head[4:8], "little") + 8 <= size:
        return _FINISHED
    return _of_frames(webp_frames(file, size)[0], short)


def _dib(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """A bitmap that begins with its second header: masks and palette lie before the pixels."""
    length, bits = int.from_bytes(head[:4], "little"), int.from_bytes(head[14:16], "little")
    colors = int.from_bytes(head[32:36], "little") or (1 << bits if bits <= 8 else 0)
    entry = 4
    if length == 12:
        bits = int.from_bytes(head[10:12], "little")
        colors, entry = (1 << bits if bits <= 8 else 0), 3
    masks = 12 if length == 40 and head[16:17] == b"\3" else 0
    start = 14 + length + masks + entry * min(colors, 256)
    first = b"BM" + bytes(8) + start.to_bytes(4, "little")
    return _bmp(file, size + 14, first + head)


def _bmp(file: BinaryIO, size: int, head: bytes) -> Completeness:
    start = int.from_bytes(head[10:14], "little")
    short = Completeness(False, DamageWord.SHORTER_THAN_PIXELS, hard=True)
    if start >= size or len(head) < 26:
        return short
    if int.from_bytes(head[14:18], "little") == 12:
        width, height = (int.from_bytes(head[i : i + 2], "little") for i in (18, 20))
        bits, packing = int.from_bytes(head[24:26], "little"), 0
    elif len(head) >= 38:
        width = int.from_bytes(head[18:22], "little", signed=True)
        height = abs(int.from_bytes(head[22:26], "little", signed=True))
        bits = int.from_bytes(head[28:30], "little")
        packing = int.from_bytes(head[30:34], "little")
    else:
        return short
    if packing in (1, 2):  # run lengths: the header gives the packed size
        needed = start + int.from_bytes(head[34:38], "little")
    else:
        needed = start + (max(0, width) * bits + 31) // 32 * 4 * height
    return _FINISHED if needed <= size else short


def _tiff(file: BinaryIO, size: int, head: bytes) -> Completeness:
    structure = read_structure(file, size)
    if structure.fault:
        return Completeness(False, structure.fault, hard=True)
    end = max(one.data_end() for one in structure.directories)
    if end > size:
        return Completeness(False, DamageWord.PART_BEHIND_END, hard=True)
    zeros = _zero_tail(file, size)
    packed = any(one.one(Tag.COMPRESSION, 1) != 1 for one in structure.directories)
    if packed and zeros >= _PAGE_BYTES and end > size - zeros:
        return Completeness(False, DamageWord.ENDS_IN_ZEROS, hard=True)
    return _FINISHED


def _boxes(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """HEIC and AVIF: boxes one after another to the end (ISO/IEC 14496-12, 4.2)."""
    offset, kinds = 0, set()
    for _ in range(_MOST_BOXES):
        box = _read_at(file, offset, 16)
        if len(box) < 8 or not any(box):
            break  # what is left is padding or junk; decoders stop here too
        length = int.from_bytes(box[:4], "big")
        if length == 1:
            length = int.from_bytes(box[8:16], "big")
        kinds.add(box[4:8])
        if length == 0:  # to the end of the file
            offset = size
            break
        if length < 8 or offset + length > size:
            return _NO_END
        offset += length
    if kinds.isdisjoint((b"meta", b"moov")):
        return _NO_END
    # A small picture may lie within its description, in a box called idat.
    ended = kinds & {b"mdat", b"idat"} or b"idat" in _read_at(file, 0, min(size, 2**20))
    return _FINISHED if ended else _NO_END


def _layered(file: BinaryIO, size: int, head: bytes) -> Completeness:
    found = read_layered(file, size)
    return _FINISHED if found and found.whole else _NO_END


def _pdf(file: BinaryIO, size: int, head: bytes) -> Completeness:
    # A file prepared for the web has an end mark near its start, but says how long it is
    # (ISO 32000-1, F.2).
    said = re.search(rb"/Linearized\b.{0,200}?/L\s+(\d{1,15})", head, re.DOTALL)
    if said and int(said[1]) > size:
        return _NO_END
    zeros = _zero_tail(file, size) if size > _PAGE_BYTES else 0
    tail = _read_at(file, size - zeros - _TAIL_BYTES, _TAIL_BYTES)
    return _FINISHED if b"%%EOF" in tail or b"startxref" in tail else _NO_END


def _svg(file: BinaryIO, size: int, head: bytes) -> Completeness:
    tail = _read_at(file, size - _TAIL_BYTES, _TAIL_BYTES)
    if head[:2] == b"\x1f\x8b":
        unpacker = zlib.decompressobj(31)
        try:
            tail = unpacker.decompress(_read_at(file, 0, size), _MOST_UNPACKED)[-_TAIL_BYTES:]
        except zlib.error:
            return Completeness(False, DamageWord.NOT_UNPACKED, hard=True)
        if not unpacker.eof and not unpacker.unconsumed_tail:
            return _NO_END
        if unpacker.unconsumed_tail:
            return _FINISHED  # too large to be drawn, which is told later
    tail = tail.replace(b"\0", b"")
    ended = re.search(rb"</([\w.-]+:)?svg\s*>|<([\w.-]+:)?svg\b[^>]*/>\s*\Z", tail)
    return _FINISHED if ended else _NO_END


def _jpeg_2000(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """The codestream ends with a mark of its own (ISO/IEC 15444-1, A.4.4)."""
    zeros = _zero_tail(file, size) if size > _PAGE_BYTES else 0
    tail = _read_at(file, max(0, size - zeros - _TAIL_BYTES), _TAIL_BYTES)
    return _FINISHED if b"\xff\xd9" in tail else _NO_END


def _jpeg_xl(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """In boxes their lengths are there; a bare codestream has no end that could be told."""
    if head[:2] == b"\xff\x0a":
        return _FINISHED
    offset = 0
    while offset < size:
        box = _read_at(file, offset, 16)
        length = int.from_bytes(box[:4], "big")
        if length == 1:
            length = int.from_bytes(box[8:16], "big")
        if length == 0:
            break
        if length < 8 or offset + length > size:
            return _NO_END
        offset += length
    return _FINISHED


def _netpbm(file: BinaryIO, size: int, head: bytes) -> Completeness:
    found = netpbm_head(head)
    return _FINISHED if found and found.needed <= size else _NO_END


def _tga(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """Plain pixels have a length; packed ones are judged by their decoder."""
    width, height = (int.from_bytes(head[at : at + 2], "little") for at in (12, 14))
    table = int.from_bytes(head[5:7], "little") * ((head[7] + 7) // 8) if head[1] else 0
    needed = 18 + head[0] + table
    if head[2] < 8:
        needed += (width * head[16] + 7) // 8 * height
    return _FINISHED if needed <= size else _NO_END


def _ico(file: BinaryIO, size: int, head: bytes) -> Completeness:
    count = int.from_bytes(head[4:6], "little")
    entries = _read_at(file, 6, 16 * count)
    ends = [
        int.from_bytes(entries[at + 8 : at + 12], "little")
        + int.from_bytes(entries[at + 12 : at + 16], "little")
        for at in range(0, len(entries) - 15, 16)
    ]
    return _FINISHED if count and len(ends) == count and max(ends) <= size else _NO_END


def _by_decoder(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """Kinds whose end only the decoder finds."""
    return _FINISHED


_TESTS = {
    FileType.JPEG_2000: _jpeg_2000,
    FileType.JPEG_XL: _jpeg_xl,
    FileType.NETPBM: _netpbm,
    FileType.TGA: _tga,
    FileType.PCX: _by_decoder,
    FileType.DDS: _by_decoder,
    FileType.ICO: _ico,
    FileType.DIB: _dib,
    FileType.HEIC: _boxes,
    FileType.AVIF: _boxes,
    FileType.LAYERED: _layered,
    FileType.PDF: _pdf,
    FileType.SVG: _svg,
    FileType.JPEG: _jpeg,
    FileType.PNG: _png,
    FileType.GIF: _gif,
    FileType.WEBP: _webp,
    FileType.BMP: _bmp,
    FileType.TIFF: _tiff,
}

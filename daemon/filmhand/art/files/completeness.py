"""Does the end of a picture file look finished?

Asked while a file may still be arriving, and once more before it is decoded: decoders pass some
files that broke off. Reads the head, the tail and a few directories; never the whole picture,
except in a JPEG whose end is not at the end of the file.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from typing import BinaryIO

from filmhand.art.files.file_types import HEAD_BYTES, READABLE, FileType, sniff
from filmhand.art.files.layered import read_layered
from filmhand.art.files.tiff_structure import Tag, read_structure
from filmhand.digest import Readable

_TAIL_BYTES = 65536
_PAGE_BYTES = 4096
_JPEG_SEARCH_BYTES = 32 * 2**20
_MOST_SEGMENTS = 10_000


@dataclass(frozen=True, slots=True)
class Completeness:
    """The answer: whether the end looks finished and, if not, why.

    ``hard`` tells that the end is surely missing; otherwise it may be real, such as a black
    edge that is stored as zeros.
    """

    finished: bool
    why: str = ""
    hard: bool = False


_FINISHED = Completeness(True)
_NO_END = Completeness(False, "its end is missing", hard=True)
_ZERO_END = "the last part of the file is empty (all zeros)"


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
            return Completeness(False, "the file is empty", hard=True)
        if kind not in READABLE:
            return _FINISHED
        answer = _TESTS[kind](file, size, head)
        return answer if not answer.finished else _zero_end(kind, file, size)


def _zero_end(kind: FileType, file: BinaryIO, size: int) -> Completeness:
    """Whether a file that is long enough ends in zeros, as a copy does that was only begun."""
    zeros = _zero_tail(file, size)
    if zeros < _PAGE_BYTES or _ends_before(kind, file, size - zeros):
        return _FINISHED
    if zeros * 2 >= size and not _is_all_zeros(kind, file, size - zeros):
        return Completeness(False, "the second half of the file is empty (all zeros)", hard=True)
    hard = kind in (FileType.WEBP, FileType.HEIC, FileType.AVIF)
    return Completeness(False, _ZERO_END, hard=hard)


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
    if kind in (FileType.JPEG, FileType.PNG, FileType.GIF, FileType.PDF, FileType.SVG):
        return True  # their end mark was found
    if kind is not FileType.TIFF:
        return False
    structure = read_structure(file, os.fstat(file.fileno()).st_size)
    return 0 < max((one.data_end() for one in structure.directories), default=0) <= offset


def _is_all_zeros(kind: FileType, file: BinaryIO, offset: int) -> bool:
    """True if everything from the first pixel on is zero: more likely one flat than a lost half."""
    if kind is FileType.BMP:
        return offset <= int.from_bytes(_read_at(file, 10, 4), "little")
    if kind is not FileType.TIFF:
        return False
    structure = read_structure(file, os.fstat(file.fileno()).st_size)
    return offset <= min((one.data_start() for one in structure.directories), default=0)


def _jpeg(file: BinaryIO, size: int, head: bytes) -> Completeness:
    start = _start_of_scan(file, size)
    if start is None:
        return _NO_END
    tail_start = max(start, size - _TAIL_BYTES)
    if _read_at(file, tail_start, _TAIL_BYTES).rfind(b"\xff\xd9") >= 0:
        return _FINISHED
    # Cameras append whole films behind the picture; within the scan the byte FF is always
    # followed by 00 or a marker (ITU-T T.81, B.1.1), so the end mark cannot be mistaken.
    data = _read_at(file, start, _JPEG_SEARCH_BYTES)
    return _FINISHED if b"\xff\xd9" in data else _NO_END


def _start_of_scan(file: BinaryIO, size: int) -> int | None:
    """Where the first scan begins; segment lengths are followed, so thumbnails don't count."""
    offset = 2
    for _ in range(_MOST_SEGMENTS):
        segment = _read_at(file, offset, 4)
        if len(segment) < 4 or segment[0] != 0xFF:
            return None
        marker = segment[1]
        if marker == 0xDA:
            return offset
        if marker == 0xFF:  # fill byte
            offset += 1
        elif marker == 0x01 or 0xD0 <= marker <= 0xD7:  # markers without a length
            offset += 2
        else:
            offset += 2 + int.from_bytes(segment[2:], "big")
        if offset >= size:
            return None
    return None


def _png(file: BinaryIO, size: int, head: bytes) -> Completeness:
    tail = _read_at(file, size - 2**20, 2**20)
    return _FINISHED if b"IEND\xae\x42\x60\x82" in tail else _NO_END


def _gif(file: BinaryIO, size: int, head: bytes) -> Completeness:
    # The last block ends with a zero byte, then comes the trailer 3B; some writers pad.
    tail = _read_at(file, size - _TAIL_BYTES, _TAIL_BYTES)
    if re.search(rb"\x00\x3b[\x00\r\n\x1a]*\Z", tail):
        return _FINISHED
    zeros = _zero_tail(file, size)
    ended = zeros and _read_at(file, size - zeros - 2, 2) == b"\x00\x3b"
    return _FINISHED if ended else _NO_END


def _webp(file: BinaryIO, size: int, head: bytes) -> Completeness:
    if len(head) < 12 or int.from_bytes(head[4:8], "little") + 8 > size:
        return Completeness(False, "it is shorter than it says", hard=True)
    return _FINISHED


def _bmp(file: BinaryIO, size: int, head: bytes) -> Completeness:
    start = int.from_bytes(head[10:14], "little")
    short = Completeness(False, "it is shorter than its size in pixels needs", hard=True)
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
        why = "a part of the picture lies behind the end of the file"
        return Completeness(False, why, hard=True)
    zeros = _zero_tail(file, size)
    packed = any(one.one(Tag.COMPRESSION, 1) != 1 for one in structure.directories)
    if packed and zeros >= _PAGE_BYTES and end > size - zeros:
        return Completeness(False, _ZERO_END, hard=True)
    return _FINISHED


def _boxes(file: BinaryIO, size: int, head: bytes) -> Completeness:
    """HEIC and AVIF: boxes one after another to the end (ISO/IEC 14496-12, 4.2)."""
    offset, kinds = 0, set()
    for _ in range(_MOST_SEGMENTS):
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
    tail = _read_at(file, size - _TAIL_BYTES, _TAIL_BYTES).replace(b"\0", b"")
    ended = re.search(rb"</([\w.-]+:)?svg\s*>|<([\w.-]+:)?svg\b[^>]*/>\s*\Z", tail)
    return _FINISHED if ended else _NO_END


_TESTS = {
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

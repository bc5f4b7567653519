"""A film as TIFF 6.0: one bit a pixel, Group 4 or Deflate strips, 0 = clear, no date.

MinIsWhite matters: many readers take fax-coded data for black on white whatever the file says.

The description holds a SHA-256 of the strips. Decoding alone does not notice every damage: some
flipped bits turn Group 4 into code that one decoder forgives and another does not.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any, BinaryIO

from filmhand.errors import Quantity
from filmhand.film import deflate, group4
from filmhand.film.bits import BitSheet
from filmhand.film.film_words import FilmFileRefusal
from filmhand.film.formats import BrokenFilm, Codec
from filmhand.film.strips import FilePlan, FilmStrip, compare_strips
from filmhand.film.tiff_strip import GROUP4

DEFLATE = 8
_ASCII, _SHORT, _LONG, _RATIONAL = 2, 3, 4, 5
_COMPRESSION, _OFFSETS, _COUNTS = 259, 273, 279
_DESCRIPTION = 270
_KINDS = {270: _ASCII, 305: _ASCII, 282: _RATIONAL, 283: _RATIONAL}
_KINDS |= dict.fromkeys((254, 256, 257, 273, 278, 279, 293), _LONG)
_SOFTWARE = "filmhand"
_LARGEST = 2**32 - 1


class TiffWriter:
    """Writes strips as they come, then the directory, then its place into the header."""

    def __init__(self, file: BinaryIO, plan: FilePlan) -> None:
        self._file = file
        self._plan = plan
        self._offsets: list[int] = []
        self._counts: list[int] = []
        self._digest = hashlib.sha256()
        file.write(struct.pack("<2sHI", b"II", 42, 0))

    def encode(self, strip: FilmStrip) -> bytes:
        """The strip's bytes; safe to call from several threads."""
        if self._plan.group4:
            return group4.to_strip(strip.code)
        return zlib.compress(strip.rows.tobytes(), deflate.LEVEL)

    def add(self, payload: bytes) -> None:
        """Put the next strip into the file, at an even offset."""
        offset = self._file.tell()
        if offset + len(payload) > _LARGEST:
            raise FilmFileRefusal.TIFF_TOO_LONG.refused(needed=Quantity(_LARGEST, "bytes"))
        self._offsets.append(offset)
        self._counts.append(len(payload))
        self._digest.update(payload)
        self._file.write(payload + bytes(len(payload) % 2))

    def finish(self) -> None:
        """Write the directory; the file is whole afterwards."""
        place = self._file.tell()
        self._file.write(self._directory(place))
        self._file.seek(4)
        self._file.write(struct.pack("<I", place))

    def _directory(self, place: int) -> bytes:
        fields = {tag: _pack(tag, value) for tag, value in _tags(self._plan).items()}
        fields[_DESCRIPTION] = _pack(_DESCRIPTION, _describe(self._digest.hexdigest()))
        for tag, values in ((_OFFSETS, self._offsets), (_COUNTS, self._counts)):
            fields[tag] = (len(values), struct.pack(f"<{len(values)}I", *values))
        entries = bytearray(struct.pack("<H", len(fields)))
        beyond = bytearray()
        after = place + 2 + 12 * len(fields) + 4
        for tag in sorted(fields):
            count, data = fields[tag]
            entries += struct.pack("<HHI", tag, _kind(tag), count)
            if len(data) > 4:
                entries += struct.pack("<I", after + len(beyond))
                beyond += data + bytes(len(data) % 2)
            else:
                entries += data.ljust(4, b"\0")
        return bytes(entries + bytes(4) + beyond)


def _describe(digest: str) -> str:
    return f"SHA-256 of the strips: {digest}"


def _kind(tag: int) -> int:
    """The type each tag is written in."""
    return _KINDS.get(tag, _SHORT)


def _pack(tag: int, value: Any) -> tuple[int, bytes]:
    """Count and bytes of a tag's one value."""
    kind = _kind(tag)
    if kind == _ASCII:
        text = value.encode("ascii") + b"\0"
        return len(text), text
    if kind == _RATIONAL:
        return 1, struct.pack("<II", value, 1)
    return 1, struct.pack("<H" if kind == _SHORT else "<I", value)


def _tags(plan: FilePlan) -> dict[int, Any]:
    """Every tag but the strips' places, with its value."""
    tags = {
        254: 0,  # NewSubfileType
        256: plan.width,
        257: plan.height,
        258: 1,  # BitsPerSample
        259: GROUP4 if plan.group4 else DEFLATE,
        262: 0,  # PhotometricInterpretation: WhiteIsZero
        266: 1,  # FillOrder: most significant bit first
        274: 1,  # Orientation: top left
        277: 1,  # SamplesPerPixel
        278: plan.rows_per_strip,
        282: plan.dpi.x,
        283: plan.dpi.y,
        296: 2,  # ResolutionUnit: inch
        305: _SOFTWARE,
    }
    if plan.group4:
        tags[293] = 0  # T6Options: no uncompressed mode
    return tags


def verify_tiff(file: BinaryIO, bits: BitSheet, plan: FilePlan, *, threads: int) -> None:
    """Decode every strip of a TIFF and compare tags and bits with what was meant.

    Raises
    ------
    BrokenFilm
        At the first tag or strip that differs.
    """
    try:
        found = _read_directory(file)
    except (struct.error, ZeroDivisionError) as error:
        raise BrokenFilm(f"has a damaged directory: {error!r}") from error
    offsets, counts = found.pop(_OFFSETS, ()), found.pop(_COUNTS, ())
    description = found.pop(_DESCRIPTION, None)
    if found.get(_COMPRESSION) == (DEFLATE,):
        plan = replace(plan, group4=False)
    meant = {tag: (value,) for tag, value in _tags(plan).items()}
    for tag in sorted(meant.keys() | found.keys()):
        if found.get(tag) != meant.get(tag):
            raise BrokenFilm(f"differs: tag {tag} is {found.get(tag)}, meant is {meant.get(tag)}")
    if not len(offsets) == len(counts) == len(plan.starts):
        raise BrokenFilm(f"has {len(offsets)} strips, meant are {len(plan.starts)}")
    digest = hashlib.sha256()

    def payloads() -> Iterator[bytes]:
        end = file.seek(0, 2)
        for offset, count in zip(offsets, counts, strict=True):
            if offset + count > end:
                raise BrokenFilm("has a strip that lies beyond the file's end")
            file.seek(offset)
            payload = file.read(count)
            digest.update(payload)
            yield payload

    holds = _is_group4 if plan.group4 else _is_deflated
    compare_strips(payloads(), holds, bits, plan, threads=threads)
    if description != (_describe(digest.hexdigest()),):
        raise BrokenFilm("has other strips than those that its description was made from")


def _read_directory(file: BinaryIO) -> dict[int, tuple[Any, ...]]:
    """The values of each tag, in the few types this module writes."""
    end = file.seek(0, 2)
    file.seek(0)
    mark, number, place = struct.unpack("<2sHI", file.read(8))
    file.seek(place)
    (entries,) = struct.unpack("<H", file.read(2))
    directory = file.read(12 * entries + 4)
    if (mark, number) != (b"II", 42) or directory[-4:] != bytes(4):
        raise BrokenFilm("does not begin or go on as one of a single page")
    found: dict[int, tuple[Any, ...]] = {}
    for tag, kind, count, inline in struct.iter_unpack("<HHI4s", directory[:-4]):
        if kind != _kind(tag):
            raise BrokenFilm(f"differs: tag {tag} is of type {kind}, meant is {_kind(tag)}")
        size = {_ASCII: 1, _SHORT: 2, _LONG: 4, _RATIONAL: 8}[kind] * count
        data = inline[:size]
        if size > 4:
            (offset,) = struct.unpack("<I", inline)
            if offset + size > end:
                raise BrokenFilm(f"has a tag {tag} that lies beyond the file's end")
            file.seek(offset)
            data = file.read(size)
        if kind == _ASCII:
            found[tag] = (data.rstrip(b"\0").decode("latin-1"),)
        elif kind == _RATIONAL:
            found[tag] = tuple(Fraction(*pair) for pair in struct.iter_unpack("<II", data))
        else:
            found[tag] = struct.unpack(f"<{count}{'H' if kind == _SHORT else 'I'}", data)
    return found


def _is_group4(strip: FilmStrip, payload: bytes) -> bool:
    return group4.is_code_of(group4.from_strip(payload), strip.rows, width=strip.width)


def _is_deflated(strip: FilmStrip, payload: bytes) -> bool:
    meant = strip.rows.tobytes()
    return list(deflate.inflate_exactly([payload], [len(meant)])) == [meant]


TIFF_CODEC = Codec(TiffWriter, verify_tiff)

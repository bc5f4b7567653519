"""A film as PWG Raster (PWG 5102.4), color space black, one bit a pixel: 1 = ink.

A raster is the word ``RaS2``, a header of 1796 bytes, and lines: a count of repeats, then
packets until the line is full. A packet is one byte n followed by one byte to be repeated n + 1
times (n up to 127), or by 257 - n bytes to be taken as they are (n from 129).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from itertools import islice, repeat
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, UInt8Array
from filmhand.film.bits import BitSheet
from filmhand.film.formats import BrokenFilm, Codec
from filmhand.film.strips import FilePlan, FilmStrip, compare_strips
from filmhand.kernels.loops import compiled
from filmhand.units import MEDIA_NAMES, Resolution, SheetSize
from filmhand.values import dataclass

SYNC = b"RaS2"
HEADER_BYTES = 1796
_BLACK = 3
_HIGH = 5
_LONGEST = 128
# A shorter run of equal bytes costs more packets than it saves bytes.
_SHORTEST_RUN = 4
_CHUNK = 1 << 18


class PwgWriter:
    """Writes one page."""

    def __init__(self, file: BinaryIO, plan: FilePlan) -> None:
        self._file = file
        file.write(SYNC + page_header(plan))

    def encode(self, strip: FilmStrip) -> bytes:
        """The strip's lines; safe to call from several threads."""
        return encode_lines(strip.rows)

    def add(self, payload: bytes) -> None:
        """Put the next strip into the file."""
        self._file.write(payload)

    def finish(self) -> None:
        """Nothing follows the last line."""


def page_header(plan: FilePlan) -> bytes:
    """The page header; fields that are not named here are 0 or empty."""
    header = bytearray(HEADER_BYTES)
    header[:9] = b"PwgRaster"
    points = (plan.width * 72 // plan.dpi.x, plan.height * 72 // plan.dpi.y)
    fields = {
        276: (plan.dpi.x, plan.dpi.y),  # HWResolution
        352: points,  # PageSize
        372: (plan.width, plan.height),
        384: (1, 1, plan.row_bytes),  # BitsPerColor, BitsPerPixel, BytesPerLine
        400: (_BLACK,),  # ColorSpace
        420: (1,),  # NumColors
        452: (1,),  # TotalPageCount
        456: (1, 1),  # CrossFeedTransform, FeedTransform
        464: (0, 0, plan.width, plan.height),  # ImageBox
        480: (0xFFFFFF,),  # AlternatePrimary
        484: (_HIGH,),  # PrintQuality
    }
    for offset, values in fields.items():
        struct.pack_into(f">{len(values)}I", header, offset, *values)
    name = _media_name(plan).encode("ascii")
    header[1732 : 1732 + len(name)] = name
    return bytes(header)


def _media_name(plan: FilePlan) -> str:
    for sides, name in MEDIA_NAMES.items():
        if SheetSize(*sides).pixels(plan.dpi) == (plan.width, plan.height):
            return name
    across, down = plan.width * 25.4 / plan.dpi.x, plan.height * 25.4 / plan.dpi.y
    return f"custom_film_{across:.4g}x{down:.4g}mm"


def encode_lines(rows: UInt8Array) -> bytes:
    """Rows as lines of PWG Raster.

    Parameters
    ----------
    rows : (n, row_bytes) uint8, n at most 256
        Packed most significant bit first, 1 = ink, pad bits 0.
    """
    loops = compiled()
    if loops is None:
        return _encode_by_numpy(rows)
    packed = np.empty(len(rows) * (2 * rows.shape[1] + 1), np.uint8)
    length = loops.pack_lines(np.ascontiguousarray(rows), rows.shape[1], packed)
    return packed[:length].tobytes()


def _encode_by_numpy(rows: UInt8Array) -> bytes:
    """The same without the loop in C."""
    fresh = np.ones(len(rows), np.bool_)
    fresh[1:] = (rows[1:] != rows[:-1]).any(axis=1)
    tops = np.flatnonzero(fresh)
    repeats = np.diff(tops, append=len(rows)) - 1
    lines = rows[tops]
    starts, lengths, repeated = _packets(lines)

    # What is copied of the lines: all bytes that stand for themselves, one of each run.
    flat = lines.reshape(-1)
    kept = np.repeat(~repeated, lengths)
    kept[starts] = True
    kept_before = np.cumsum(kept)[starts] - 1
    # Every packet has one byte before what it keeps, the first of a line one more before that.
    first = starts % lines.shape[1] == 0
    heads = kept_before + np.arange(len(starts)) + np.cumsum(first)
    out = np.empty(int(kept.sum()) + len(starts) + len(lines), np.uint8)
    copied = np.ones(len(out), np.bool_)
    copied[heads] = False
    copied[heads[first] - 1] = False
    out[copied] = flat[kept]
    out[heads] = np.where(repeated, lengths - 1, 257 - lengths)
    out[heads[first] - 1] = repeats
    return out.tobytes()


def _packets(lines: UInt8Array) -> tuple[NDArray[np.intp], NDArray[np.intp], BoolArray]:
    """Start, length (1 to 128) and whether one byte is repeated, for each packet."""
    total = lines.size
    fresh = np.ones(lines.shape, np.bool_)
    fresh[:, 1:] = lines[:, 1:] != lines[:, :-1]
    runs = np.flatnonzero(fresh)
    long = np.diff(runs, append=total) >= _SHORTEST_RUN
    # Short runs that follow one another within a line make one stretch of plain bytes.
    opens = np.ones(len(runs), np.bool_)
    opens[1:] = long[1:] | long[:-1] | (runs[1:] % lines.shape[1] == 0)
    stretches, repeated = runs[opens], long[opens]
    sizes = np.diff(stretches, append=total)
    pieces = -(-sizes // _LONGEST)
    nth = np.arange(int(pieces.sum())) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    starts = np.repeat(stretches, pieces) + nth * _LONGEST
    lengths = np.diff(starts, append=total)
    # A single plain byte has no packet of its own kind: 256 does not fit a byte.
    return starts, lengths, np.repeat(repeated, pieces) | (lengths == 1)


@dataclass(frozen=True, slots=True)
class PwgHead:
    """What a page header says."""

    width: int
    height: int
    dpi: Resolution
    row_bytes: int


def read_pwg_head(file: BinaryIO) -> PwgHead:
    """Read the header of the first page.

    Raises
    ------
    BrokenFilm
        If it is not a page in one-bit black.
    """
    file.seek(0)
    start = file.read(4 + HEADER_BYTES)
    if len(start) < 4 + HEADER_BYTES or start[:4] != SYNC:
        raise BrokenFilm("has no page header")
    header = start[4:]

    def field(offset: int) -> int:
        return int.from_bytes(header[offset : offset + 4], "big")

    head = PwgHead(field(372), field(376), Resolution(field(276), field(280)), field(392))
    kind = (field(384), field(388), field(400), field(420))
    if kind != (1, 1, _BLACK, 1) or head.row_bytes != (head.width + 7) // 8 or not head.height:
        raise BrokenFilm("is not in one-bit black")
    return head


def decode_lines(file: BinaryIO, head: PwgHead) -> Iterator[tuple[int, bytes]]:
    """Each coded line as (how many rows it stands for, the row), from where the file is.

    Raises
    ------
    BrokenFilm
        If the lines are damaged, or more or fewer than the header says.
    """
    # A count, two bytes for each of the row's, and a packet that goes on beyond it.
    longest = 1 + 2 * head.row_bytes + 1 + _LONGEST
    data, at, rows = b"", 0, 0
    while rows < head.height:
        if len(data) - at < longest:
            data, at = data[at:] + file.read(longest + _CHUNK), 0
        if at == len(data):
            raise BrokenFilm("ends too early")
        count = data[at] + 1
        rows += count
        line, at = _decode_line(data, at + 1, head.row_bytes)
        if rows > head.height or (rows == head.height and (at < len(data) or file.read(1))):
            raise BrokenFilm("has more lines than its header says")
        yield count, line


def _decode_line(data: bytes, start: int, row_bytes: int) -> tuple[bytes, int]:
    """The row whose packets begin at `start`, and where they end."""
    loops = compiled()
    if loops is not None:
        row = bytearray(row_bytes)
        end = loops.unpack_line(data, start, row)
        if end >= 0:
            return bytes(row), end
    return _decode_packets(data, start, row_bytes)


def _decode_packets(data: bytes, at: int, row_bytes: int) -> tuple[bytes, int]:
    """The same without the loop in C, which also tells what is wrong with damaged packets."""
    pieces = []
    left, end = row_bytes, len(data)
    while left > 0:
        if at == end or (packet := data[at]) == _LONGEST:
            raise BrokenFilm("has a damaged line")
        if packet < _LONGEST:
            pieces.append(data[at + 1 : at + 2] * (packet + 1))
            left -= packet + 1
            at += 2
        else:
            pieces.append(data[at + 1 : at + 258 - packet])
            left -= 257 - packet
            at += 258 - packet
        if at > end:
            raise BrokenFilm("ends too early")
    if left:
        raise BrokenFilm("has a line of the wrong length")
    return b"".join(pieces), at


def verify_pwg(file: BinaryIO, bits: BitSheet, plan: FilePlan, *, threads: int) -> None:
    """Decode a PWG Raster and compare header and bits with what was meant.

    Raises
    ------
    BrokenFilm
        At the first thing that differs.
    """
    head = read_pwg_head(file)
    file.seek(4)
    if file.read(HEADER_BYTES) != page_header(plan):
        raise BrokenFilm("has another header than was meant")
    lines = (row for count, row in decode_lines(file, head) for row in repeat(row, count))
    pieces = (b"".join(islice(lines, plan.rows_at(y))) for y in plan.starts)

    def holds(strip: FilmStrip, piece: bytes) -> bool:
        return piece == strip.rows.tobytes()

    compare_strips(pieces, holds, bits, plan, threads=threads)


PWG_CODEC = Codec(PwgWriter, verify_pwg)

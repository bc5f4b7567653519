"""A film as PNG: one bit a pixel, gray, ink = black, no interlace, every row unfiltered.

PNG keeps whole pixels per meter, so its resolution is only near the film's.
"""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Iterator
from typing import BinaryIO

import numpy as np

from filmhand.arrays import UInt8Array
from filmhand.film import deflate
from filmhand.film.bits import BitSheet, pad_mask
from filmhand.film.formats import BrokenFilm, Codec
from filmhand.film.strips import FilePlan, FilmStrip, compare_strips
from filmhand.values import dataclass

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PER_METER = 1


class PngWriter:
    """Writes one IDAT chunk a strip."""

    def __init__(self, file: BinaryIO, plan: FilePlan) -> None:
        self._file = file
        self._plan = plan
        self._checksum = zlib.adler32(b"")
        self._start = deflate.START
        file.write(PNG_SIGNATURE)
        self._chunk(b"IHDR", struct.pack(">IIBBBBB", plan.width, plan.height, 1, 0, 0, 0, 0))
        self._chunk(b"pHYs", struct.pack(">IIB", *per_meter(plan), _PER_METER))

    def encode(self, strip: FilmStrip) -> tuple[bytes, bytes]:
        """The strip as stored, and compressed; safe to call from several threads."""
        rows = _filtered(strip.rows, self._plan.width).tobytes()
        return rows, deflate.deflate_block(rows)

    def add(self, payload: tuple[bytes, bytes]) -> None:
        """Put the next strip into the file."""
        rows, block = payload
        self._checksum = zlib.adler32(rows, self._checksum)
        self._chunk(b"IDAT", self._start + block)
        self._start = b""

    def finish(self) -> None:
        """End the stream and the file."""
        self._chunk(b"IDAT", deflate.end_of_stream(self._checksum))
        self._chunk(b"IEND", b"")

    def _chunk(self, kind: bytes, data: bytes) -> None:
        checksum = zlib.crc32(data, zlib.crc32(kind))
        self._file.write(struct.pack(">I4s", len(data), kind) + data + struct.pack(">I", checksum))


def per_meter(plan: FilePlan) -> tuple[int, int]:
    """The nearest whole pixels per meter across and down."""
    return round(plan.dpi.x / 0.0254), round(plan.dpi.y / 0.0254)


def _filtered(rows: UInt8Array, width: int) -> UInt8Array:
    """Filter byte 0, then the row with 0 = ink as gray wants it."""
    stored = np.zeros((len(rows), rows.shape[1] + 1), np.uint8)
    np.invert(rows, out=stored[:, 1:])
    stored[:, -1] &= pad_mask(width)
    return stored


@dataclass(frozen=True, slots=True)
class PngHead:
    """What stands before a PNG's picture data."""

    width: int
    height: int
    plain: bool
    """One bit gray without interlace or transparency."""
    per_meter: tuple[int, int] | None
    data_at: int
    """Offset of the first IDAT chunk."""


def read_png_head(file: BinaryIO) -> PngHead:
    """Read up to the first picture data, checksums checked.

    Raises
    ------
    BrokenFilm
        If that is not there.
    """
    file.seek(0)
    if file.read(8) != PNG_SIGNATURE:
        raise BrokenFilm("has no PNG signature")
    width = height = 0
    plain = False
    density: tuple[int, int] | None = None
    while True:
        at = file.tell()
        kind, data = _read_chunk(file)
        if kind == b"IHDR" and len(data) == 13:
            width, height, *rest = struct.unpack(">IIBBBBB", data)
            plain = rest == [1, 0, 0, 0, 0]
        elif kind == b"pHYs" and len(data) == 9 and data[8] == _PER_METER:
            density = struct.unpack(">II", data[:8])
        elif kind == b"tRNS":
            plain = False
        elif kind == b"IDAT":
            break
        elif kind == b"IEND":
            raise BrokenFilm("has no picture")
    if not width or not height:
        raise BrokenFilm("has no size")
    return PngHead(width, height, plain, density, at)


def picture_data(file: BinaryIO, head: PngHead) -> Iterator[bytes]:
    """The data of the IDAT chunks, checksums checked; the file must end with IEND."""
    file.seek(head.data_at)
    while True:
        kind, data = _read_chunk(file)
        if kind == b"IDAT":
            yield data
        elif kind == b"IEND":
            if file.read(1):
                raise BrokenFilm("has bytes after its end")
            return
        elif not kind[0] & 0x20:
            raise BrokenFilm(f"has an unknown chunk {kind!r}")


def _read_chunk(file: BinaryIO) -> tuple[bytes, bytes]:
    start = file.read(8)
    if len(start) < 8:
        raise BrokenFilm("ends too early")
    length, kind = struct.unpack(">I4s", start)
    if length > os.fstat(file.fileno()).st_size - file.tell():
        raise BrokenFilm("ends too early")
    data = file.read(length)
    checksum = file.read(4)
    if checksum != zlib.crc32(data, zlib.crc32(kind)).to_bytes(4, "big"):
        raise BrokenFilm(f"has a damaged chunk {kind!r}")
    return kind, data


def verify_png(file: BinaryIO, bits: BitSheet, plan: FilePlan, *, threads: int) -> None:
    """Decode a PNG and compare size, resolution and bits with what was meant.

    Raises
    ------
    BrokenFilm
        At the first thing that differs.
    """
    head = read_png_head(file)
    meant = (plan.width, plan.height, True, per_meter(plan))
    if (head.width, head.height, head.plain, head.per_meter) != meant:
        raise BrokenFilm(f"has the head {head}, meant is {meant}")
    sizes = (plan.rows_at(y) * (plan.row_bytes + 1) for y in plan.starts)
    pieces = deflate.inflate_exactly(picture_data(file, head), sizes)

    def holds(strip: FilmStrip, piece: bytes) -> bool:
        return piece == _filtered(strip.rows, plan.width).tobytes()

    compare_strips(pieces, holds, bits, plan, threads=threads)


PNG_CODEC = Codec(PngWriter, verify_png)

"""Channels of layers, read a few rows at a time."""

from __future__ import annotations

import struct
import tracemalloc
import zlib
from io import BytesIO

import numpy as np
import pytest

from filmhand.art.formats.layer_channels import ChannelRows
from filmhand.art.formats.layered import LayeredFile, Packing

FILE = LayeredFile(1, 1, 1, 8, 3, flattened=True, see_through=False, whole=True)


def channel(packing: Packing, data: bytes, shape: tuple[int, int]) -> ChannelRows:
    packed = struct.pack(">H", packing) + data
    return ChannelRows(BytesIO(b"before" + packed + b"after"), FILE, (6, len(packed)), shape)


def packed_rows(plane: np.ndarray) -> bytes:
    """PackBits with no repeats, so many bytes and one before each 128."""
    rows = [
        b"".join(
            bytes([len(row[at : at + 128]) - 1]) + row[at : at + 128]
            for at in range(0, len(row), 128)
        )
        for row in (line.tobytes() for line in plane)
    ]
    return struct.pack(f">{len(rows)}H", *map(len, rows)) + b"".join(rows)


PACKED = {
    Packing.PLAIN: lambda plane: plane.tobytes(),
    Packing.ROWS: packed_rows,
    Packing.ZIP: lambda plane: zlib.compress(plane.tobytes()),
    Packing.ZIP_DIFFERENCES: lambda plane: zlib.compress(
        np.diff(plane, axis=1, prepend=np.uint8(0)).tobytes()
    ),
}


@pytest.mark.parametrize("packing", PACKED)
def test_any_rows_and_columns_are_those_of_the_whole(packing) -> None:
    plane = np.random.default_rng(5).integers(0, 256, (40, 300)).astype(np.uint8)
    found = channel(packing, PACKED[packing](plane), plane.shape)
    for first, stop, left, right in [
        (0, 3, 0, 300),
        (9, 20, 7, 8),
        (20, 40, 50, 290),
        (1, 2, 0, 9),
    ]:
        assert np.array_equal(found.rows(first, stop, left, right), plane[first:stop, left:right])


@pytest.mark.parametrize("packing", PACKED)
def test_what_breaks_off_is_an_error(packing) -> None:
    plane = np.random.default_rng(6).integers(0, 256, (40, 300)).astype(np.uint8)
    data = PACKED[packing](plane)
    with pytest.raises((ValueError, zlib.error)):
        channel(packing, data[: len(data) // 2], plane.shape).rows(0, 40, 0, 300)
    with pytest.raises((ValueError, zlib.error)):
        channel(packing, b"", plane.shape).rows(0, 40, 0, 300)


def test_memory_follows_the_rows_that_are_asked_for() -> None:
    rows, columns = 10_000, 4000
    data = zlib.compress(bytes(rows * columns))
    tracemalloc.start()
    found = channel(Packing.ZIP, data, (rows, columns))
    assert not found.rows(rows - 10, rows, 100, 200).any()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < rows * columns / 5

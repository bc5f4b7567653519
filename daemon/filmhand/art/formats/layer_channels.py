"""The pixels of a layer of a layered working file, a few rows at a time.

Layout by the format's published specification: each channel of a layer begins with how it is
packed. Where its rows are packed one by one a table of their lengths goes before them; where all of
it is deflated it can be read from the top only.
"""

from __future__ import annotations

import zlib
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.art.formats.layered import LayeredFile, Packing

_AT_ONCE = 2**20  # bytes that are unpacked in one go
_PIECE = 2**16  # bytes of a deflated channel that are read in one go


class ChannelRows:
    """One channel of a layer; memory follows the rows that are asked for.

    Parameters
    ----------
    file, found : the open file, and what its head says
    place : where the channel begins, and how many bytes it has
    shape : rows and columns of the layer

    Raises
    ------
    ValueError, zlib.error
        Here and by :meth:`rows`, where the channel breaks off or contradicts itself.
    """

    def __init__(
        self, file: BinaryIO, found: LayeredFile, place: tuple[int, int], shape: tuple[int, int]
    ) -> None:
        """Reads the table of rows, where there is one."""
        self._file, self._columns, self._bits = file, shape[1], found.bits
        self._row_bytes = shape[1] * found.bits // 8
        self._at, self._end = place[0] + 2, place[0] + place[1]
        file.seek(place[0])
        self._packing = int.from_bytes(file.read(min(2, place[1])), "big")
        self._lengths = np.empty(0, ">u2")
        if self._packing == Packing.ROWS:
            kind = np.dtype(">u4" if found.version == 2 else ">u2")
            table = file.read(max(0, min(shape[0] * kind.itemsize, place[1] - 2)))
            if len(table) < shape[0] * kind.itemsize:
                raise ValueError("a layer breaks off")
            self._lengths = np.frombuffer(table, kind)
            # 128 bytes that do not repeat take 129 (PackBits), so no row is much longer packed.
            if int(self._lengths.max(initial=0)) > 2 * self._row_bytes + 64:
                raise ValueError("the rows of a layer contradict its width")
            self._at += len(table)
        needed = int(self._lengths.sum(dtype=np.int64))
        if self._packing == Packing.PLAIN:
            needed = shape[0] * self._row_bytes
        if needed > self._end - self._at:
            raise ValueError("a layer breaks off")
        self._next, self._read = 0, self._at
        self._inflater = zlib.decompressobj()
        self._rest = b""

    def rows(self, first: int, stop: int, left: int, right: int) -> NDArray[np.uint8]:
        """(stop - first, right - left) uint8, some rows and columns; of sixteen bits the upper.

        Rows are best asked for from the top to the bottom.
        """
        made = np.empty((stop - first, right - left), np.uint8)
        count = max(1, _AT_ONCE // max(1, self._row_bytes))
        for top in range(first, stop, count):
            bottom = min(stop, top + count)
            data = self._unpacked(top, bottom)
            if len(data) < (bottom - top) * self._row_bytes:
                raise ValueError("a layer breaks off")
            plane = np.frombuffer(data, np.uint8).reshape(bottom - top, self._row_bytes)
            made[top - first : bottom - first] = self._codes(plane)[:, left:right]
        return made

    def _codes(self, plane: NDArray[np.uint8]) -> NDArray[np.uint8]:
        differences = self._packing == Packing.ZIP_DIFFERENCES
        if self._bits == 8:
            return np.cumsum(plane, axis=1, dtype=np.uint8) if differences else plane
        words = plane.view(">u2").astype(np.uint16)
        if differences:
            words = np.cumsum(words, axis=1, dtype=np.uint16)
        return (words >> 8).astype(np.uint8)

    def _unpacked(self, first: int, stop: int) -> bytes:
        """The bytes of some rows."""
        if self._packing == Packing.ROWS:
            if first < self._next:
                self._start_over()
            self._read += int(self._lengths[self._next : first].sum(dtype=np.int64))
            self._file.seek(self._read)
            packed = self._file.read(int(self._lengths[first:stop].sum(dtype=np.int64)))
            self._read += len(packed)
            self._next = stop
            size = self._row_bytes, stop - first
            return Image.frombytes("L", size, packed, "packbits", "L").tobytes()
        if self._packing in (Packing.ZIP, Packing.ZIP_DIFFERENCES):
            return self._inflated(first, stop)
        self._file.seek(self._at + first * self._row_bytes)
        return self._file.read((stop - first) * self._row_bytes)

    def _start_over(self) -> None:
        self._next, self._read = 0, self._at
        self._inflater = zlib.decompressobj()
        self._rest = b""

    def _inflated(self, first: int, stop: int) -> bytes:
        if first < self._next:
            self._start_over()
        aside = (first - self._next) * self._row_bytes
        while aside > 0:
            aside -= len(self._more(min(aside, _AT_ONCE)))
        self._next = stop
        pieces, wanted = [], (stop - first) * self._row_bytes
        while wanted > 0:
            pieces.append(self._more(wanted))
            wanted -= len(pieces[-1])
        return b"".join(pieces)

    def _more(self, most: int) -> bytes:
        """Some of what follows, at most so many bytes."""
        while True:
            packed = self._rest
            if not packed:
                self._file.seek(self._read)
                packed = self._file.read(max(0, min(_PIECE, self._end - self._read)))
                self._read += len(packed)
            data = self._inflater.decompress(packed, most)
            self._rest = self._inflater.unconsumed_tail
            if data:
                return data
            if not packed or self._inflater.eof:
                raise ValueError("a layer breaks off")

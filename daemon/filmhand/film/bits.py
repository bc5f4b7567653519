"""A film's bits in a file, so that memory does not grow with the sheet."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import UInt8Array, UInt32Array
from filmhand.kernels.loops import compiled


class BitSheet:
    """The bits of one film: rows packed most significant bit first, 1 = ink, pad bits 0.

    Rows that were never written are blank. Several threads may read and write at once as long
    as no row is written by one and touched by another: every call addresses the file by
    position (pread, pwrite) and shares no file pointer. The file stays when the sheet is
    closed; whoever gave the path removes it.

    Attributes
    ----------
    path : Path
        The file that holds the rows, ``row_bytes`` bytes each and nothing else.
    width, height : int
        Device pixels across and down.
    row_bytes : int
        ceil(width / 8).
    """

    __slots__ = ("_descriptor", "_pad_mask", "height", "path", "row_bytes", "width")

    def __init__(self, descriptor: int, path: Path, *, width: int, height: int) -> None:
        self._descriptor = descriptor
        self.path = path
        self.width = width
        self.height = height
        self.row_bytes = (width + 7) // 8
        self._pad_mask = pad_mask(width)

    @classmethod
    def create(cls, path: Path, *, width: int, height: int) -> Self:
        """A blank sheet in a new file at `path` (an old file there is emptied).

        Raises
        ------
        ValueError
            If a side is not at least one pixel.
        OSError
            If the file cannot be made, or is too large for its disk or the process's limit.
        """
        if width < 1 or height < 1:
            raise ValueError(f"a sheet must be at least 1 x 1 pixels, found {width} x {height}")
        flags = os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC
        descriptor = os.open(path, flags, 0o600)
        try:
            os.ftruncate(descriptor, height * ((width + 7) // 8))
        except OSError:
            os.close(descriptor)
            raise
        return cls(descriptor, path, width=width, height=height)

    def write(self, y: int, rows: UInt8Array) -> None:
        """Put rows at y, y + 1, …; bits beyond the width are cleared.

        Parameters
        ----------
        y : int
            First row, 0 at the top.
        rows : (n, row_bytes) uint8
            Packed most significant bit first, 1 = ink.

        Raises
        ------
        ValueError
            If the rows have another shape or type, or do not lie on the sheet.
        OSError
            As the disk says it (no space left, and so on).
        """
        if rows.dtype != np.uint8 or rows.ndim != 2 or rows.shape[1] != self.row_bytes:
            raise ValueError(
                f"rows must be uint8 of shape (n, {self.row_bytes}), "
                f"found {rows.dtype} of shape {rows.shape}"
            )
        self._must_lie_on_sheet(y, len(rows))
        rows = np.ascontiguousarray(rows)
        if np.any(rows[:, -1] & ~self._pad_mask):
            rows = rows.copy()
            rows[:, -1] &= self._pad_mask
        left = memoryview(rows.data).cast("B")
        position = y * self.row_bytes
        while left:
            written = os.pwrite(self._descriptor, left, position)
            left = left[written:]
            position += written

    def read(self, y: int, n: int) -> UInt8Array:
        """Rows y … y + n - 1 as a fresh (n, row_bytes) uint8 array.

        Raises
        ------
        ValueError
            If the rows do not lie on the sheet.
        OSError
            If the file cannot be read or has been cut.
        """
        self._must_lie_on_sheet(y, n)
        rows = np.empty((n, self.row_bytes), np.uint8)
        left = memoryview(rows.data).cast("B")
        position = y * self.row_bytes
        while left:
            got = os.preadv(self._descriptor, [left], position)
            if not got:
                raise OSError(f"{self.path.name} ends before row {y + n} of {self.height}")
            left = left[got:]
            position += got
        return rows

    def close(self) -> None:
        """Close the file; the sheet cannot be used afterwards. Closing twice is no error."""
        descriptor, self._descriptor = self._descriptor, -1
        if descriptor >= 0:
            os.close(descriptor)

    def __del__(self) -> None:
        """A sheet nobody holds any more keeps no file open."""
        self.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _must_lie_on_sheet(self, y: int, n: int) -> None:
        if y < 0 or n < 0 or y + n > self.height:
            raise ValueError(f"rows {y} to {y + n} do not lie on a sheet of {self.height} rows")


def box_sums(rows: NDArray[Any], *, across: int, down: int, most: int = 1) -> NDArray[np.uint32]:
    """The sum of every box of pixels; what is left over at the right and the foot is cut off.

    Parameters
    ----------
    rows : (h, w) bool or whole numbers from 0 to ``most``
    across, down : pixels of a box

    Returns
    -------
    (h // down, w // across) uint32
    """
    height, width = rows.shape[0] // down, rows.shape[1] // across * across
    boxed = rows[: height * down, :width].reshape(height, down, width)
    # In as few bytes as hold the sum of a column: that is where the time goes.
    columns = boxed.sum(axis=1, dtype=np.min_scalar_type(most * down))
    sums: NDArray[np.uint32] = columns[:, ::across].astype(np.uint32)
    for column in range(1, across):
        sums += columns[:, column::across]
    return sums


def ink_in_boxes(
    rows: UInt8Array, *, skip: int, columns: int, across: int, down: int
) -> UInt32Array:
    """The inked pixels of every box; what is left over at the right and the foot is cut off.

    Parameters
    ----------
    rows : (h, n) uint8
        Packed most significant bit first, 1 = ink.
    skip : int
        Pixels (0 .. 7) before the first box in the first byte of every row.
    columns : int
        Boxes beside one another.
    across, down : int
        Pixels of a box.

    Returns
    -------
    (h // down, columns) uint32
    """
    loops = compiled()
    if loops is None:
        bits = np.unpackbits(rows, axis=1, count=skip + columns * across)
        return box_sums(bits[:, skip:], across=across, down=down)
    sums = np.empty((len(rows) // down, columns), np.uint32)
    rows = np.ascontiguousarray(rows)
    loops.count_ink(rows, rows.shape[1], skip, across, down, columns, sums)
    return sums


def pad_mask(width: int) -> np.uint8:
    """The last byte of a row of `width` pixels with 1 for every bit that is a pixel.

    >>> f"{pad_mask(11):08b}"
    '11100000'
    """
    return np.uint8(0xFF << (-width % 8) & 0xFF)

"""Of each pixel the nearest of some others, as a feature transform finds it.

Columns are gone through once; along the rows those so far away are tried that could still be nearer
(A. Rosenfeld and J. L. Pfaltz, Distance functions on digital pictures, Pattern Recognition 1, 1968;
the parting into columns and rows: T. Saito and J. Toriwaki, Pattern Recognition 27, 1994). That is
exact to :data:`REACH` pixels. What lies farther asks a coarse picture of cells which few may be
nearest, so that it costs no more however far it is, and misses the nearest by some cells at most.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Int32Array, Int64Array

REACH = 32
"""Pixels to which the nearest is exact."""
_CELL = 8
# What is nearest by cells is at most three cells farther than what is nearest.
_SURELY_BEYOND = REACH + 3 * _CELL
_NOWHERE = 10**6  # rows away; more than any picture has


class NearestPlaces:
    """The nearest of some places; several threads may ask.

    Parameters
    ----------
    sources : (H, W) bool, the places among which the nearest is looked for; one at least
    """

    def __init__(self, sources: BoolArray) -> None:
        self._shape = sources.shape
        self._rows = _nearest_rows(sources)
        self._of_cells: Int64Array | None = None
        if max(sources.shape) > REACH:
            self._of_cells = _of_cells(sources)

    def of(self, rows: Int64Array, columns: Int64Array) -> Int64Array:
        """(n,) int64, the nearest place to each of (n,) pixels, in an array that lies flat."""
        width = self._shape[1]
        found: Int64Array = self._rows[rows, columns].astype(np.int64)
        far = (rows - found) ** 2
        found = found * width + columns
        left = np.flatnonzero(far > 1)
        if self._of_cells is not None:
            deep = np.flatnonzero(far > REACH**2)
            found[deep], far[deep] = self._among_cells(
                rows[deep], columns[deep], found[deep], far[deep]
            )
            left = left[far[left] <= _SURELY_BEYOND**2]
        for aside in range(1, REACH + 1):
            left = left[far[left] > aside * aside]
            if not left.size:
                break
            for step in (-aside, aside):
                beside = columns[left] + step
                some = left[(beside >= 0) & (beside < width)]
                beside = columns[some] + step
                row = self._rows[rows[some], beside].astype(np.int64)
                off = aside * aside + (rows[some] - row) ** 2
                nearer = off < far[some]
                some = some[nearer]
                far[some], found[some] = off[nearer], row[nearer] * width + beside[nearer]
        return found

    def _among_cells(
        self, rows: Int64Array, columns: Int64Array, found: Int64Array, far: Int64Array
    ) -> tuple[Int64Array, Int64Array]:
        """The nearest of what was found and of what is nearest to the cells around, and how far."""
        assert self._of_cells is not None
        height, width = self._of_cells.shape
        for down in (-1, 0, 1):
            for across in (-1, 0, 1):
                row = np.clip(rows // _CELL + down, 0, height - 1)
                column = np.clip(columns // _CELL + across, 0, width - 1)
                place = self._of_cells[row, column]
                at_row, at_column = np.divmod(place, self._shape[1])
                off = (at_row - rows) ** 2 + (at_column - columns) ** 2
                nearer = off < far
                found, far = np.where(nearer, place, found), np.where(nearer, off, far)
        return found, far


def _nearest_rows(sources: BoolArray) -> Int32Array:
    """(H, W) int32, the row of the nearest source in the same column; far outside for none."""
    height, width = sources.shape
    rows = np.empty((height, width), np.int32)
    last = np.full(width, -_NOWHERE, np.int32)
    for y in range(height):
        last[sources[y]] = y
        rows[y] = last
    last[:] = _NOWHERE
    for y in range(height - 1, -1, -1):
        last[sources[y]] = y
        below = last - y < y - rows[y]
        rows[y, below] = last[below]
    return rows


def _of_cells(sources: BoolArray) -> Int64Array:
    """(h, w) int64, the nearest source to each cell, of one that each cell with sources puts up."""
    height, width = sources.shape
    down, across = -(-height // _CELL), -(-width // _CELL)
    padded = np.zeros((down * _CELL, across * _CELL), np.bool_)
    padded[:height, :width] = sources
    blocks = padded.reshape(down, _CELL, across, _CELL).swapaxes(1, 2).reshape(down, across, -1)
    inner = blocks.argmax(axis=2)
    rows = np.arange(down)[:, None] * _CELL + inner // _CELL
    columns = np.arange(across) * _CELL + inner % _CELL
    nearest = NearestPlaces(np.asarray(blocks.any(axis=2)))
    every = np.mgrid[:down, :across].reshape(2, -1)
    cells = nearest.of(every[0], every[1])
    places: Int64Array = (rows * width + columns).ravel()[cells].reshape(down, across)
    return places

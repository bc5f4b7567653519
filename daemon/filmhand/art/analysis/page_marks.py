"""The marks on a page, counted: whether they are letters in rows or the strokes of a drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from filmhand.arrays import BoolArray, Int64Array


@dataclass(frozen=True, slots=True)
class PageMarks:
    """Connected marks (eight neighbors), one entry each.

    Attributes
    ----------
    area : pixels
    left, top, right, bottom : box, the last two exclusive
    runs : (n, 4) row, first, stop and mark of every run of pixels, rows ascending
    """

    area: Int64Array
    left: Int64Array
    top: Int64Array
    right: Int64Array
    bottom: Int64Array
    runs: Int64Array

    @property
    def height(self) -> Int64Array:
        """Rows of each."""
        return self.bottom - self.top

    @property
    def width(self) -> Int64Array:
        """Columns of each."""
        return self.right - self.left

    def mask(self, shape: tuple[int, int], chosen: BoolArray) -> BoolArray:
        """The pixels of the chosen marks."""
        out = np.zeros(shape[0] * (shape[1] + 1) + 1, np.int32)
        row, first, stop, _mark = self.runs[chosen[self.runs[:, 3]]].T
        np.add.at(out, row * (shape[1] + 1) + first, 1)
        np.add.at(out, row * (shape[1] + 1) + stop, -1)
        inside: BoolArray = np.cumsum(out[:-1]).reshape(shape[0], shape[1] + 1)[:, :-1] > 0
        return inside


def find_marks(ink: BoolArray) -> PageMarks:
    """All connected marks of a mask, (H, W) bool."""
    height, width = ink.shape
    edge = np.diff(np.pad(ink, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, first = np.nonzero(edge == 1)
    stop = np.nonzero(edge == -1)[1]
    joined = _joined(row, first, stop, width)
    label = np.unique(joined, return_inverse=True)[1]
    count = int(label.max()) + 1 if len(label) else 0
    area = np.bincount(label, stop - first, count).astype(np.int64)
    left, top = np.full(count, width), np.full(count, height)
    right, bottom = np.zeros(count, np.int64), np.zeros(count, np.int64)
    np.minimum.at(left, label, first)
    np.minimum.at(top, label, row)
    np.maximum.at(right, label, stop)
    np.maximum.at(bottom, label, row + 1)
    return PageMarks(area, left, top, right, bottom, np.stack([row, first, stop, label], axis=1))


def _joined(row: Int64Array, first: Int64Array, stop: Int64Array, width: int) -> Int64Array:
    """For each run the smallest run that it hangs together with."""
    # Runs are sorted by row and column, so those that touch a run from above are a span.
    wide = width + 2
    begins, ends = row * wide + first, row * wide + stop
    low = np.searchsorted(ends, begins - wide, side="left")
    high = np.searchsorted(begins, ends - wide, side="right")
    many = np.maximum(high - low, 0)
    lower = np.repeat(np.arange(len(row)), many)
    upper = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many) + np.repeat(low, many)
    root = np.arange(len(row))
    while True:
        least = np.minimum(root[lower], root[upper])
        before = root.copy()
        np.minimum.at(root, root[lower], least)
        np.minimum.at(root, root[upper], least)
        while True:
            further = root[root]
            if np.array_equal(further, root):
                break
            root = further
        if np.array_equal(before, root):
            return root

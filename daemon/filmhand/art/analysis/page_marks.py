"""The marks on a page, counted: whether they are letters in rows or the strokes of a drawing."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Int64Array
from filmhand.art.raster import connected_runs
from filmhand.values import dataclass


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


def find_marks(ink: BoolArray) -> PageMarks:
    """All connected marks of a mask, (H, W) bool."""
    height, width = ink.shape
    row, first, stop, label = connected_runs(ink)
    count = int(label.max()) + 1 if len(label) else 0
    area = np.bincount(label, stop - first, count).astype(np.int64)
    left, top = np.full(count, width), np.full(count, height)
    right, bottom = np.zeros(count, np.int64), np.zeros(count, np.int64)
    np.minimum.at(left, label, first)
    np.minimum.at(top, label, row)
    np.maximum.at(right, label, stop)
    np.maximum.at(bottom, label, row + 1)
    return PageMarks(area, left, top, right, bottom, np.stack([row, first, stop, label], axis=1))

"""The components of one strip of a bitmap: its runs, and whose each is.

A strip is cut into runs, ink and bare in turn, and both colors are joined at once. Every run first
points at the first run of its color that it touches in the row above, which by itself joins any
convex dot; only runs that touch several need a union.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Int32Array, Int64Array
from filmhand.values import dataclass

_FEW_PIXELS_A_RUN = 16


def with_neighbors(bits: BoolArray) -> BoolArray:
    """(..., h, w) bool: the pixels that are set or touch one that is edge to edge."""
    grown = bits.copy()
    grown[..., 1:, :] |= bits[..., :-1, :]
    grown[..., :-1, :] |= bits[..., 1:, :]
    grown[..., 1:] |= bits[..., :-1]
    grown[..., :-1] |= bits[..., 1:]
    return grown


@dataclass(frozen=True, slots=True)
class LabeledStrip:
    """A labeled strip: runs in order, and its components.

    ``bounds`` has one entry more than there are runs; run k covers the flat pixels bounds[k] ..
    bounds[k+1]-1 and belongs to component owner[k].
    """

    rows: int
    bounds: Int32Array
    owner: Int32Array
    ink: BoolArray  # by component
    area: Int64Array
    cut: BoolArray


def label_strip(strip: BoolArray, beyond: BoolArray | None) -> LabeledStrip:
    """Label a strip.

    Parameters
    ----------
    strip : (rows, width) bool, True = ink
    beyond : the same shape; components with a pixel where it is True count as cut, like those that
        touch the sides
    """
    rows, width = strip.shape
    begins = np.empty(strip.shape, np.bool_)
    begins[:, 0] = True
    np.not_equal(strip[:, 1:], strip[:, :-1], out=begins[:, 1:])
    starts = np.flatnonzero(begins).astype(np.int32)
    bounds = np.append(starts, np.int32(rows * width))
    ink = strip.ravel()[starts]
    root = _join(begins, bounds, ink)
    is_root = root == np.arange(root.size, dtype=np.int32)
    owner = (np.cumsum(is_root, dtype=np.int32) - 1)[root]
    lengths = np.diff(bounds)
    area = np.bincount(owner, lengths).astype(np.int64)
    column = starts % width
    at_border = (column == 0) | (column + lengths == width)
    if beyond is not None:
        before = np.append(0, np.cumsum(beyond.ravel()))
        at_border |= before[bounds[1:]] > before[bounds[:-1]]
    cut = np.zeros(area.size, np.bool_)
    cut[owner[at_border]] = True
    return LabeledStrip(rows, bounds, owner, ink[is_root], area, cut)


def _join(begins: BoolArray, bounds: Int32Array, ink: BoolArray) -> Int32Array:
    """The first run of each run's component.

    ``begins`` is True where a run begins; ``bounds`` is as in :class:`LabeledStrip`, and so is
    ``ink``, but by run.
    """
    rows, width = begins.shape
    count = ink.size
    parent = np.arange(count, dtype=np.int32)
    second_row = int(np.searchsorted(bounds, width))
    if second_row >= count:
        return parent
    # The run above the first pixel of each run; and, as the runs of a row follow one another, the
    # run above its last pixel from the next run's answer.
    wanted = bounds[second_row:] - np.int32(width)
    if begins.size < _FEW_PIXELS_A_RUN * count:
        above = np.cumsum(begins.ravel(), dtype=np.int32)[wanted] - 1
    else:  # runs are long: searching for them is as fast and takes no array of the strip's size
        above = np.searchsorted(bounds, wanted, side="right").astype(np.int32) - 1
    last = above[1:] - (bounds[above[1:]] == wanted[1:])
    runs = np.arange(second_row, count)
    first = above[:-1] + (ink[above[:-1]] != ink[runs])
    linked = first <= last
    parent[second_row:][linked] = first[linked]
    for _ in range((rows - 1).bit_length()):
        parent = parent.take(parent, mode="clip")  # all lie within; this mode spares the check
    several = np.flatnonzero(first + 1 < last)
    if several.size:
        extra = (last[several] - first[several]) // 2
        below = np.repeat(runs[several], extra)
        offset = np.arange(below.size) - np.repeat(np.cumsum(extra) - extra, extra) + 1
        beside = np.repeat(first[several], extra) + 2 * offset
        # Few runs are roots; the unions need only those.
        is_root = parent == np.arange(count, dtype=np.int32)
        number = np.cumsum(is_root, dtype=np.int32) - 1
        roots = np.flatnonzero(is_root).astype(np.int32)
        joined = joined_sets(roots.size, number[parent[below]], number[parent[beside]])
        parent = roots[joined][number[parent]]
    return parent


def joined_sets(count: int, a: Int32Array, b: Int32Array) -> Int32Array:
    """(count,) int32: the lowest number of each set after joining a[k] with b[k], for every k."""
    parent = np.arange(count, dtype=np.int32)
    while True:
        one, other = parent[a], parent[b]
        apart = one != other
        if not apart.any():
            return parent
        a, b = a[apart], b[apart]
        low, high = np.minimum(one[apart], other[apart]), np.maximum(one[apart], other[apart])
        np.minimum.at(parent, high, low)
        # Parents point at themselves or lower, so jumping settles.
        while True:
            further = parent[parent]
            if np.array_equal(further, parent):
                break
            parent = further

"""Soft edges of drawings, with of each ink what the flats to either side have, and no other ink.

Between black and beige lies brown. A table of mixtures prints the smoothed pixels of such an edge
with whatever ink is brown: dashes along the outlines, on the film of an ink that has no part in
them. Here such pixels get blends of the inks of the two flats.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from filmhand.arrays import Int64Array, UInt16Array
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.wide_places import EVEN, even_places

SOFT_REACH = 2
"""Pixels to either side within which a soft edge has its two flats."""
_WAYS = ((0, 1), (1, 0), (1, 1), (1, -1))
_STEPS = sorted(product(range(1, SOFT_REACH + 1), repeat=2), key=sum)
_BLENDED = 3 / 255  # of codes 0..1: by so much rounding, also of opacities, moves a blend


def blend_soft_edges(planes: UInt16Array, codes: SrgbCodes) -> None:
    """Give the pixels of soft edges blends of what the flats to either side have, in place.

    An edge is what lies, within :data:`SOFT_REACH`, between two places that are even over two by
    two pixels, and whose codes are a blend of theirs. What lies farther in art of which this is a
    part changes nothing beyond that reach.

    Parameters
    ----------
    planes : (n, H, W) uint16, the coverage of each ink
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the same pixels
    """
    height, width = codes.shape[:2]
    largest = float(np.iinfo(codes.dtype).max)
    even = even_places(codes, EVEN * largest)
    y, x = (place.astype(np.int64) for place in np.nonzero(~even))
    for (before, after), (down, across) in product(_STEPS, _WAYS):
        one = y - before * down, x - before * across
        other = y + after * down, x + after * across
        inside = (one[0] >= 0) & (other[0] < height)
        for _, column in (one, other):
            inside &= (column >= 0) & (column < width)
        at = np.flatnonzero(inside)
        at = at[even[one[0][at], one[1][at]] & even[other[0][at], other[1][at]]]
        start, end, there = (
            codes[rows[at], columns[at]].astype(np.float64) / largest
            for rows, columns in (one, other, (y, x))
        )
        way = end - start
        length = np.maximum((way**2).sum(axis=1), 1e-9)
        part = np.clip(((there - start) * way).sum(axis=1) / length, 0, 1)
        fits = np.abs(start + part[:, None] * way - there).max(axis=1) <= _BLENDED
        at, part = at[fits], part[fits]
        planes[:, y[at], x[at]] = _mean(planes, one, other, at, part)
        y, x = np.delete(y, at), np.delete(x, at)


def _mean(
    planes: UInt16Array,
    one: tuple[Int64Array, Int64Array],
    other: tuple[Int64Array, Int64Array],
    at: Int64Array,
    part: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> UInt16Array:
    """(n, m) the blends of what two places have, of which the second has the parts given."""
    first, second = (planes[:, rows[at], columns[at]] for rows, columns in (one, other))
    blend: UInt16Array = np.rint(first + part * (second.astype(np.float64) - first)).astype(
        np.uint16
    )
    return blend

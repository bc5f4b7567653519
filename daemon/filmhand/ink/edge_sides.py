"""What lies to either side of the pixels of edges, and which blend of two colors a pixel has."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, Int64Array
from filmhand.tone import linear_to_srgb, srgb_to_linear

Places = tuple[Int64Array, Int64Array]
"""Rows and columns of pixels."""
WAYS = ((0, 1), (1, 0), (1, 1), (1, -1))
"""Across, down and along both diagonals, as rows and columns of a step."""
_BLENDED = 3 / 255  # of codes 0..1: by so much rounding, also of opacities, moves a blend


def either_side(
    pixels: Places, shape: tuple[int, ...], steps: tuple[int, int], way: tuple[int, int]
) -> tuple[Int64Array, Places, Places]:
    """Which pixels have places so many steps before and after them, and these.

    Parameters
    ----------
    pixels : (m,) rows and columns
    shape : height and width of the art
    steps : along the way, to the one side and to the other
    way : one of :data:`WAYS`
    """
    (y, x), (height, width) = pixels, shape
    (before, after), (down, across) = steps, way
    one = y - before * down, x - before * across
    other = y + after * down, x + after * across
    inside = (one[0] >= 0) & (other[0] < height)
    for _, column in (one, other):
        inside &= (column >= 0) & (column < width)
    at = np.flatnonzero(inside)
    return at, (one[0][at], one[1][at]), (other[0][at], other[1][at])


def part_of_blend(
    codes: Float64Array, one: Float64Array, other: Float64Array, *, in_light: bool = False
) -> tuple[Float64Array, BoolArray]:
    """(m,) the part that the other has of a blend of both, and whether it is the color.

    Parameters
    ----------
    codes, one, other : (m, 3) float64, sRGB codes 0..1
    in_light : whether blends are of light, else of codes
    """
    start, end, there = (srgb_to_linear(c) if in_light else c for c in (one, other, codes))
    way = end - start
    length = np.maximum((way**2).sum(axis=1), 1e-9)
    part = np.clip(((there - start) * way).sum(axis=1) / length, 0, 1)
    blend = start + part[:, None] * way
    seen = linear_to_srgb(blend) if in_light else blend
    return part, np.abs(seen - codes).max(axis=1) <= _BLENDED

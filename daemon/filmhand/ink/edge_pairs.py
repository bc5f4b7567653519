"""Soft edges between two flats, with none of a third ink whose color they pass on their way.

Between red and white lies pink. Where art has both, and shades of them that are a little off those
that were taken for the inks' own, a pixel of an edge may look more like an ink than like the blend.
Here such pixels are held against the very flats that they lie between, which have no part in an
ink beyond the two.

A line that somebody drew stays: it has pixels of its own color side by side, or is off the way from
the one flat to the other, or is even over two by two pixels. But where a line of one pixel is too
thin to be printed, one with the two flats right beside it is their edge: along a straight one all
pixels have the same blend, which may be the very color of an ink.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int32Array, Int64Array
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.blends import LEAST_SHARE, without_rests
from filmhand.ink.edge_sides import WAYS, either_side, part_of_blend
from filmhand.ink.wide_places import EVEN, even_places

PAIR_REACH = 3
"""Rows above and below that decide about a pixel."""
_SOFT = 2  # pixels to either side within which an edge has its two flats
# What is farther away is less likely to be of the edge itself.
_STEPS = [(2, 2), (2, 1), (1, 2), (1, 1)]
_BESIDE = [(1, 1)]
_ROUNDED = 1.5 / 255  # by so much rounding moves a code 0..1
_LINE = 3  # pixels of an ink's own color among five by five that are no chance

_Labels = NDArray[np.int8]


def share_pairs(
    shares: Float32Array,
    codes: SrgbCodes,
    distinct: tuple[Float64Array, Int32Array],
    flats: _Labels,
    labels: _Labels,
    asked: BoolArray,
    *,
    found: Float64Array,
    in_light: bool,
    fine: bool = False,
) -> None:
    """Share edges between two flats among these alone, in place.

    Parameters
    ----------
    shares : (H, W, k) float32, 0..1. Of a part of the art, :data:`PAIR_REACH` rows and columns at
        the inner ends are context
    codes : (H, W, 3) uint8 or uint16, sRGB codes
    distinct : (d, 3) the different codes, 0..1, and (H, W) which of them each pixel has
    flats : (H, W) int8, the place of the color whose flat each pixel is in, or -1
    labels : (H, W) int8, the place of the color that each pixel looks like, or -1
    asked : (H, W) which pixels may be of edges
    found : (k, 3) float64, sRGB codes 0..1 that the art has for each color
    in_light : whether edges are blends of light, else of codes
    fine : whether a line of one pixel is too thin to be printed
    """
    own = _own(*distinct, found)
    # A line too thin for a flat has an edge, too; what lies between is of one color by its look.
    ends = np.where(flats < 0, _in_runs(own), flats).astype(np.int8)
    alone = (labels >= 0) & (flats < 0) & (own < 0)
    looks = [(flats, asked & (flats < 0), _BESIDE, True)] if fine else []
    looks += [(flats, asked, _STEPS, False), (ends, alone, _STEPS, False)]
    even = even_places(codes, EVEN * float(np.iinfo(codes.dtype).max))
    for sides, pixels, steps, thin in looks:
        y, x = np.nonzero(pixels)
        bits = (shares[y, x] > 0) @ (1 << np.arange(shares.shape[-1]))
        y, x, pair, part = _between(y, x, bits, sides, *distinct, steps=steps, in_light=in_light)
        if not len(y):
            continue
        stray = shares[y, x] > 0
        np.put_along_axis(stray, pair, False, axis=1)
        drawn = even[y, x]
        if not thin:
            drawn |= _drawn(y, x, stray, own)
        y, x, pair, part = y[~drawn], x[~drawn], pair[~drawn], part[~drawn]
        part = without_rests(part, LEAST_SHARE)
        shares[y, x] = 0
        shares[y, x, pair[:, 0]] = 1 - part
        shares[y, x, pair[:, 1]] = part


def _own(kinds: Float64Array, place: Int32Array, found: Float64Array) -> _Labels:
    """(H, W) int8, the place of the color whose very code each pixel has, or -1."""
    own = np.full(len(kinds), -1, np.int8)
    for k, code in enumerate(found):
        own[np.abs(kinds - code).max(axis=1) <= _ROUNDED] = k
    return own[place]


def _in_runs(own: _Labels) -> _Labels:
    """(H, W) the same where a pixel beside it, or above or below, has the code as well, or -1."""
    runs = np.full_like(own, -1)
    for first, second in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
        alike = own[first] == own[second]
        runs[first] = np.where(alike, own[first], runs[first])
        runs[second] = np.where(alike, own[second], runs[second])
    return runs


def _between(
    y: Int64Array,
    x: Int64Array,
    bits: Int64Array,
    flats: _Labels,
    kinds: Float64Array,
    place: Int32Array,
    *,
    steps: Sequence[tuple[int, int]],
    in_light: bool,
) -> tuple[Int64Array, Int64Array, Int64Array, Float64Array]:
    """The pixels with parts of a third color that two flats to either side blend to.

    bits : (m,) bit k set where a pixel has a part of the color k
    steps : so many pixels to the one side and to the other the flats are looked for

    Returns the rows and columns of the pixels, (m, 2) the places of the two flats of each, and
    (m,) the part that the second has.
    """
    left = np.arange(len(y))
    pixels: list[Int64Array] = []
    ends: list[Int64Array] = []
    parts: list[Float64Array] = []
    for of_steps, way in product(steps, WAYS):
        at, *sides = either_side((y[left], x[left]), flats.shape, of_steps, way)
        one, other = (flats[side].astype(np.int64) for side in sides)
        two = np.flatnonzero((one >= 0) & (other >= 0) & (one != other))
        third = bits[left[at[two]]] & ~((1 << one[two]) | (1 << other[two])) != 0
        two = two[third]
        at, one, other = at[two], one[two], other[two]
        part, fits = part_of_blend(
            kinds[place[y[left[at]], x[left[at]]]],
            *(kinds[place[side][two]] for side in sides),
            in_light=in_light,
        )
        pixels.append(left[at[fits]])
        ends.append(np.stack([one[fits], other[fits]], axis=1))
        parts.append(part[fits])
        left = np.delete(left, at[fits])
    which = np.concatenate(pixels)
    return y[which], x[which], np.concatenate(ends), np.concatenate(parts)


def _drawn(y: Int64Array, x: Int64Array, stray: BoolArray, own: _Labels) -> BoolArray:
    """(m,) which pixels have a color beyond the two that has pixels of its own code around.

    stray : (m, k) which colors beyond the two each has
    """
    height, width = own.shape
    count = np.zeros(len(y), np.int64)
    for down in range(-_SOFT, _SOFT + 1):
        for across in range(-_SOFT, _SOFT + 1):
            near = own[np.clip(y + down, 0, height - 1), np.clip(x + across, 0, width - 1)]
            count += (near >= 0) & stray[np.arange(len(y)), near]
    return count >= _LINE

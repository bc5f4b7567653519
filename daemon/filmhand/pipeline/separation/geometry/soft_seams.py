"""Seams where soft edges of two inks meet, without the cloth that drawing programs leave in them.

A program that draws one shape up to another softens the edge of each by itself. Where the second
covers the part a of a pixel, the first covers 1 - a, and is itself covered to a: the ground shows
through by a (1 - a), a quarter at most (T. Porter, T. Duff, Compositing digital images, Computer
Graphics 18(3), 1984, the operator "over" with coverages that are taken to be independent). Nobody
drew that. On film it would be a gap of cloth between inks that meet, and an underbase would be
drawn back from it to both sides.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array, UInt16Array
from filmhand.art.raster import grown
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.blends import blend_shares
from filmhand.ink.fading import InksThatFade
from filmhand.ink.flat_colors import FlatColors
from filmhand.ink.wide_places import EVEN, even_places, places_of
from filmhand.tone import linear_to_srgb, srgb_to_linear

_SOFT = 2  # pixels to either side within which a seam has its two inks
SEAM_REACH = _SOFT + 1
"""Rows above and below whose shares decide about those of a row."""
# A quarter, and what coverages add that are found too small: drawn with 2400 pixels, edges of the
# flag that tests/unit/pipeline/separation/test_soft_seams.py draws let 0.37 of the ground through.
_PARTS_OF_GROUND = np.arange(9) / 20
_WIDE = 6  # pixels to a side of what is no seam, but a slope of tone


def without_seams(
    codes: SrgbCodes,
    shares: Float32Array,
    colors: FlatColors,
    *,
    fading: InksThatFade | None = None,
) -> Float32Array:
    """The shares of pixels, with no cloth where the soft edges of two inks meet.

    A line of cloth that somebody drew has more of it, and stays.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the art
    shares : (H, W, n + 1) float32, 0..1, by ink and last for the cloth; as given where nothing is
        to be changed. Of a part of the art, :data:`SEAM_REACH` rows and columns are context
    colors : of the whole art
    fading : (H, W) int8, the places of inks that fade to the cloth, -1 for none
    """
    cloth = shares[..., colors.cloth]
    partly = (cloth > 0) & (cloth < 1)
    if fading is not None:
        partly &= fading < 0
    if not partly.any():
        return shares
    near = np.zeros(cloth.shape, np.uint16)
    for k in range(colors.cloth):
        near |= grown(shares[..., k] == 1, _SOFT).astype(np.uint16) << np.uint16(k)
    asked = partly & (np.bitwise_count(near) > 1) & ~_tints(codes, partly)
    if not asked.any():
        return shares
    found = _of_inks_alone(codes[asked] / np.iinfo(codes.dtype).max, near[asked], colors)
    explained = np.zeros_like(asked)
    explained[asked] = found.any(axis=1)
    # Beside what is drawn in the cloth's color an edge has its share of it.
    drawn = (cloth > _PARTS_OF_GROUND[-1]) & ~explained
    mended = explained & ~grown(drawn, 1)
    result = shares.copy()
    result[mended] = found[mended[asked]]
    return result


def _tints(codes: SrgbCodes, partly: BoolArray) -> BoolArray:
    """(H, W) what is even, or wide, and no edge."""
    even = even_places(codes, EVEN * float(np.iinfo(codes.dtype).max)) & places_of(partly, 2)
    return even | places_of(partly, _WIDE)


def _of_inks_alone(codes: Float64Array, near: UInt16Array, colors: FlatColors) -> Float32Array:
    """(m, n + 1) the shares that inks have of what is not ground; 0 where too much would be ground.

    codes : (m, 3) float64, 0..1
    near : (m,) uint16, bit k set where the ink k is near
    """
    kinds, kind = _kinds(codes, near)
    ground = colors.found[colors.cloth]
    shares = np.zeros((len(kinds), len(colors.palette)), np.float32)
    left = np.arange(len(kinds))
    for part in _PARTS_OF_GROUND:
        if not len(left):
            break
        inks = _without(codes[kinds[left]], ground, part, in_light=colors.in_light)
        found, off = blend_shares(
            inks, colors.found, near[kinds[left]], of=2, in_light=colors.in_light
        )
        fits: BoolArray = off <= colors.tolerance
        shares[left[fits]] = found[fits]
        left = left[~fits]
    return shares[kind]


def _kinds(codes: Float64Array, near: UInt16Array) -> tuple[Int64Array, Int64Array]:
    """The first pixel of each color between the same inks, and (m,) which of these each is."""
    keys = np.column_stack([codes, near])
    _, kinds, kind = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    return kinds, kind.ravel()


def _without(
    codes: Float64Array, ground: Float64Array, part: float, *, in_light: bool
) -> Float64Array:
    """Codes of what is left of colors when so much of each is the ground's."""
    if part == 0:
        return codes
    light, below = (srgb_to_linear(c) if in_light else c for c in (codes, ground))
    rest = np.clip((light - part * below) / (1 - part), 0, 1)
    left: Float64Array = linear_to_srgb(rest) if in_light else rest
    return left

"""The tone of an ink that fades to the cloth, by colors of the fade."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int32Array
from filmhand.ink.blends import blend_shares, without_rests
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference

if TYPE_CHECKING:
    from filmhand.ink.flat_colors import FlatColors

InksThatFade = NDArray[np.int8]
"""For each pixel the place of the ink that fades to the cloth there, or -1.

At edges one of these is added: only what counts as the ink, or as the cloth, may be a tone there.
"""
ONLY_INK, ONLY_CLOTH = 16, 32
_LEAST = 1 / 256  # a tone this near to nothing or all is taken for that


def fading_shares(
    distinct: Float64Array, ink: int, colors: FlatColors
) -> tuple[Float64Array, Float64Array]:
    """What an ink that fades to the cloth has of colors.

    Parameters
    ----------
    distinct : (m, 3) float64, sRGB codes 0..1

    Returns
    -------
    share : (m,) float64, 0..1
    difference : (m,) float64, CIEDE2000 from the color to that of the fade
    """
    sets = np.full(len(distinct), 1 << ink | 1 << colors.cloth, np.uint16)
    shares, difference = blend_shares(distinct, colors.found, sets, of=2, in_light=colors.in_light)
    return shares[:, ink], difference


def share_fades(
    shares: Float32Array,
    fading: InksThatFade,
    distinct: Float64Array,
    place: Int32Array,
    colors: FlatColors,
) -> None:
    """Give the pixels of fades the tones of their colors, in place.

    A pixel of another color than the fade's, as of a letter on it, stays as it is.

    Parameters
    ----------
    shares : (H, W, n + 1) float32, by ink and last for the cloth
    fading : (H, W) int8
    distinct : (d, 3) float64, sRGB codes 0..1
    place : (H, W) int32, which of them each pixel has
    """
    found = srgb_to_lab(colors.found)
    for value in np.unique(fading[fading >= 0]).tolist():
        ink = value % ONLY_INK
        own = fading == value
        if value >= ONLY_INK:
            own &= shares[..., ink if value < ONLY_CLOTH else -1] == 1
        kinds, kind = np.unique(place[own], return_inverse=True)
        tone, off = fading_shares(distinct[kinds], ink, colors)
        tone = without_rests(tone, _LEAST)
        # A fade may pass through the colors of other inks, of which it then has no part.
        _, beside = fading_shares(colors.found, ink, colors)
        now = shares[own]
        fits: BoolArray = (off <= colors.tolerance)[kind]
        lab = srgb_to_lab(distinct[kinds])
        for other in np.flatnonzero(beside > colors.tolerance / 2).tolist():
            there = now[:, other] > 0
            if there.any():
                nearer = (off < color_difference(lab, found[other])) & (off <= colors.tolerance / 2)
                fits &= ~there | nearer[kind]
        now[fits] = 0
        now[fits, ink] = tone[kind][fits]
        now[fits, -1] = 1 - now[fits, ink]
        shares[own] = now

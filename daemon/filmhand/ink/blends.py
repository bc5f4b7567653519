"""Colors as blends of a few others, as the soft edges of a drawing are.

Drawing programs blend codes or light, each in its own way. The shares that are found are the areas
that the drawing had there, so they belong to films as they are.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.ink.cielab import light_to_lab, srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.tone import srgb_to_linear

MOST_COLORS = 16  # that a blend may be of, by the bits of the sets
LEAST_SHARE = 1 / 32
"""A share this near to nothing or all is taken for that, as noise would be dots."""


def blend_shares(
    codes: Float64Array, palette: Float64Array, sets: UInt16Array, *, of: int, in_light: bool
) -> tuple[Float64Array, Float64Array]:
    """The shares of ``of`` colors of a set that blend to each color most nearly.

    Parameters
    ----------
    codes : (m, 3) float64, sRGB codes 0..1
    palette : (k, 3) float64, sRGB codes 0..1 of at most :data:`MOST_COLORS` colors
    sets : (m,) uint16, bit j set where the color j of the palette may be in the blend
    of : of how many colors, 2 or 3
    in_light : whether light is blended, else codes

    Returns
    -------
    shares : (m, k) float64, 0..1, at most ``of`` in a row above 0; a row adds up to 1, or to 0
        where its set has too few colors or none of its blends fits without less than nothing of one
    difference : (m,) float64, CIEDE2000 from the blend to the color; infinite where there is none
    """
    shares = np.zeros((len(codes), len(palette)))
    least = np.full(len(codes), np.inf)
    lab = srgb_to_lab(codes)
    for members in combinations(range(len(palette)), of):
        wanted = np.uint16(sum(1 << member for member in members))
        rows = np.flatnonzero(sets & wanted == wanted)
        if not len(rows):
            continue
        found, difference = _fitted(
            codes[rows], lab[rows], palette[list(members)], in_light=in_light
        )
        nearer = difference < least[rows]
        taken = rows[nearer]
        least[taken] = difference[nearer]
        shares[taken] = 0
        shares[taken[:, None], np.array(members)] = found[nearer]
    return shares, least


def without_rests(parts: Float64Array, least: float) -> Float64Array:
    """Parts 0..1 of which those within so little of nothing or all are taken for that."""
    return np.where(parts < least, 0, np.where(parts > 1 - least, 1, parts))


def _fitted(
    codes: Float64Array, lab: Float64Array, ends: Float64Array, *, in_light: bool
) -> tuple[Float64Array, Float64Array]:
    """(m, of) shares of the ends that come nearest, and (m,) how far they are off."""
    place, corners = (srgb_to_linear(part) if in_light else part for part in (codes, ends))
    sides = corners[1:] - corners[0]
    inverse = np.linalg.pinv(sides)
    rest = (place - corners[0]) @ inverse
    if len(ends) == 2:
        rest = np.clip(rest, 0, 1)
    shares = np.column_stack([1 - rest.sum(axis=1), rest])
    blend = shares @ corners
    seen = light_to_lab(blend) if in_light else srgb_to_lab(blend)
    difference = np.where(shares.min(axis=1) < -1e-9, np.inf, color_difference(seen, lab))
    return np.clip(shares, 0, 1), difference

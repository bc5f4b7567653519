"""How far apart two colors look."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, Int64Array

_25_TO_7 = 25.0**7
# Hues that lie opposite each other differ by half a turn, whatever the arc tangent rounds to.
_ROUNDING = 1e-9


def color_difference(one: Float64Array, other: Float64Array) -> Float64Array:
    """CIEDE2000 of two arrays of colors, with all three weights 1.

    ISO/CIE 11664-6:2014; the cases of hues that the standard leaves to the reader as in G. Sharma,
    W. Wu, E. N. Dalal, The CIEDE2000 color-difference formula, Color Research and Application
    30(1), 2005.

    Parameters
    ----------
    one, other : (..., 3) float64, L*, a*, b*; their shapes are broadcast

    Returns
    -------
    (...) float64, 0 for the same color; about 1 is just seen side by side

    >>> color_difference(np.array([50, 2.6772, -79.7751]), np.array([50, 0, -82.7485])).round(4)
    np.float64(2.0425)
    """
    (L1, a1, b1), (L2, a2, b2) = (np.moveaxis(np.asarray(lab), -1, 0) for lab in (one, other))
    chroma = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    G = 0.5 * (1 - _saturation(chroma))
    a1, a2 = a1 * (1 + G), a2 * (1 + G)
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = (np.degrees(np.arctan2(b, a)) % 360 for a, b in ((a1, b1), (a2, b2)))

    # A gray has no hue, so it takes that of the other color.
    hueless = C1 * C2 == 0
    turn = np.where(hueless, 0.0, (h2 - h1 + 180) % 360 - 180)
    dL, dC = L2 - L1, C2 - C1
    dH = 2 * np.sqrt(C1 * C2) * np.sin(np.radians(turn / 2))

    L, C = (L1 + L2) / 2, (C1 + C2) / 2
    h = np.where(hueless, h1 + h2, _mean_hue(h1, h2))
    T = (
        1
        - 0.17 * np.cos(np.radians(h - 30))
        + 0.24 * np.cos(np.radians(2 * h))
        + 0.32 * np.cos(np.radians(3 * h + 6))
        - 0.20 * np.cos(np.radians(4 * h - 63))
    )
    SL = 1 + 0.015 * (L - 50) ** 2 / np.sqrt(20 + (L - 50) ** 2)
    SC = 1 + 0.045 * C
    SH = 1 + 0.015 * C * T
    rotation = 60 * np.exp(-(((h - 275) / 25) ** 2))
    RT = -2 * _saturation(C) * np.sin(np.radians(rotation))
    lightness, chroma_part, hue = dL / SL, dC / SC, dH / SH
    squares = lightness**2 + chroma_part**2 + hue**2 + RT * chroma_part * hue
    # Rounding may leave a hair less than nothing.
    difference: Float64Array = np.sqrt(np.maximum(squares, 0))
    return difference


def nearest_color(colors: Float64Array, among: Float64Array) -> tuple[Int64Array, Float64Array]:
    """Which color of a list each color is nearest to by CIEDE2000, and how far from it.

    Parameters
    ----------
    colors : (..., 3) float64, L*, a*, b*
    among : (k, 3) float64, L*, a*, b*

    Returns
    -------
    (...) int64 place in the list, the first of equals; (...) float64 difference
    """
    nearest = np.zeros(colors.shape[:-1], np.int64)
    least = np.full(colors.shape[:-1], np.inf)
    for place, color in enumerate(among):
        difference = color_difference(colors, color)
        nearer = difference < least
        nearest[nearer], least[nearer] = place, difference[nearer]
    return nearest, least


def _saturation(chroma: Float64Array) -> Float64Array:
    """0 for gray to 1 for the most colorful, by the seventh powers of the standard."""
    saturation: Float64Array = np.sqrt(chroma**7 / (chroma**7 + _25_TO_7))
    return saturation


def _mean_hue(h1: Float64Array, h2: Float64Array) -> Float64Array:
    """The middle of two hues in degrees, across 0 where they are more than half a turn apart."""
    total = h1 + h2
    across = np.where(total < 360, total + 360, total - 360)
    return np.where(np.abs(h1 - h2) > 180 + _ROUNDING, across, total) / 2

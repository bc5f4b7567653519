"""A plain name for a color, for people and for file names."""

from __future__ import annotations

from functools import cache

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_words import ColorWord

# sRGB of typical colors of each name, from memory: the basic terms of B. Berlin and P. Kay, Basic
# Color Terms, 1969, with light and dark, and a few that printers and people use beside them.
_TYPICAL = {
    ColorWord.BLACK: (0x000000, 0x141414, 0x1C1A1A, 0x14161C),
    ColorWord.DARK_GRAY: (0x3C3C3C, 0x505050, 0x5C5C5C, 0x484C50, 0x2F4F4F),
    ColorWord.GRAY: (0x787878, 0x8C8C8C, 0xA0A0A0, 0x708090, 0x8A8580),
    ColorWord.LIGHT_GRAY: (0xB4B4B4, 0xC8C8C8, 0xD8D8D8, 0xB8BCC4),
    ColorWord.WHITE: (0xFFFFFF, 0xF5F5F5, 0xFFFAF0, 0xF0F8FF, 0xECECEC, 0xF0FFF0),
    ColorWord.RED: (0xFF0000, 0xE01B24, 0xD02020, 0xC81E28, 0xB3261E, 0xDC143C, 0xE34234, 0xFF5040),
    ColorWord.DARK_RED: (0x8B0000, 0x800020, 0x7A1018, 0x5C0A10, 0xA01020),
    ColorWord.PINK: (
        0xFF69B4,
        0xFF1493,
        0xFF82A0,
        0xF06292,
        0xFA8072,
        0xE8708C,
        0xFF6F61,
        0xC06080,
    ),
    ColorWord.LIGHT_PINK: (0xFFC0CB, 0xFFB6C1, 0xF8C8DC, 0xF4B0B0, 0xFFE4E1),
    ColorWord.ORANGE: (0xFF8C00, 0xFF7518, 0xF26522, 0xFFA500, 0xFF4F00, 0xE07020),
    ColorWord.LIGHT_ORANGE: (0xFFB875, 0xFFC890, 0xFAC8A0, 0xFFDAB9),
    ColorWord.BROWN: (0x8B4513, 0x7A4A20, 0x80502C, 0x964B00, 0xA0522D, 0x6B4226),
    ColorWord.DARK_BROWN: (0x4A2810, 0x3B2414, 0x402018, 0x2E1A10),
    ColorWord.LIGHT_BROWN: (0xC08850, 0xB08D57, 0xD2B48C, 0xB5835A, 0xCD853F),
    ColorWord.BEIGE: (0xF5F5DC, 0xE8D8B8, 0xF5DEB3, 0xE0D0B0),
    ColorWord.YELLOW: (0xFFFF00, 0xFFD700, 0xF2C418, 0xFFEB3B, 0xFFDD00),
    ColorWord.LIGHT_YELLOW: (0xFFF8A0, 0xFFF59D, 0xFFFFE0, 0xFFFACD),
    ColorWord.DARK_YELLOW: (0xC8A400, 0xB8860B, 0xD4A017, 0xBFA000, 0xBDB76B),
    ColorWord.OLIVE: (0x808000, 0x556B2F, 0x6B6B20, 0x4B5320),
    ColorWord.YELLOW_GREEN: (0x9ACD32, 0xB4D820, 0xA4C639, 0xADFF2F),
    ColorWord.GREEN: (
        0x008000,
        0x20A040,
        0x3CB043,
        0x00C800,
        0x00FF00,
        0x2E8B57,
        0x228B22,
        0x32CD32,
        0x00FA9A,
        0x00FF7F,
    ),
    ColorWord.LIGHT_GREEN: (0x90EE90, 0xA8E0A0, 0x98FB98, 0xC8E6C9, 0x8FBC8F),
    ColorWord.DARK_GREEN: (0x004D00, 0x1E4D2B, 0x003820, 0x006400, 0x0B3D1E),
    ColorWord.TURQUOISE: (0x40E0D0, 0x00CED1, 0x00FFFF, 0x20B2AA, 0x1ABC9C),
    ColorWord.LIGHT_TURQUOISE: (0xAFEEEE, 0xB2DFDB, 0xE0FFFF, 0x7FFFD4),
    ColorWord.DARK_TURQUOISE: (0x008080, 0x006D6F, 0x004D4D, 0x00796B),
    ColorWord.BLUE: (0x0000FF, 0x1D3F9C, 0x2060D0, 0x4169E1, 0x0F4C9F, 0x1E88E5, 0x3050C0),
    ColorWord.LIGHT_BLUE: (0x00AEEF, 0x87CEEB, 0xADD8E6, 0x87CEFA, 0x6AB0E8, 0x90B8E0),
    ColorWord.DARK_BLUE: (0x00008B, 0x101848, 0x1C2A5C, 0x000080, 0x191970, 0x0A1A3A),
    ColorWord.PURPLE: (
        0x800080,
        0x7B2D9B,
        0x6A3FB0,
        0x9932CC,
        0x8A2BE2,
        0x6A1B9A,
        0x9370DB,
        0xBA55D3,
    ),
    ColorWord.LIGHT_PURPLE: (0xC8A2DC, 0xB39DDB, 0xDDA0DD, 0xD8BFD8, 0xE6E6FA, 0xCE93D8),
    ColorWord.DARK_PURPLE: (0x3C1053, 0x4B0060, 0x4B0082, 0x2E0A3C),
    ColorWord.MAGENTA: (0xFF00FF, 0xD000A0, 0xC71585, 0xEC008C, 0xB0007C),
}


@cache
def _typical() -> tuple[tuple[ColorWord, ...], Float64Array]:
    """The names, one for each color, and (k, 3) the colors as L*, a*, b*."""
    names = tuple(word for word, colors in _TYPICAL.items() for _ in colors)
    packed = np.array([color for colors in _TYPICAL.values() for color in colors])
    codes = packed[:, None] >> np.array([16, 8, 0]) & 0xFF
    return names, srgb_to_lab(codes / 255)


def color_name(color: Float64Array) -> ColorWord:
    """The plain name of a color: that of the typical color nearest to it by CIEDE2000.

    Parameters
    ----------
    color : (3,) float64, L*, a*, b*

    >>> color_name(np.array([30.0, 50, 35])).value
    'dark red'
    """
    names, colors = _typical()
    return names[int(color_difference(colors, color).argmin())]


def ink_names(colors: Float64Array) -> list[str]:
    """A word for each ink that a file's name can end in; of equal names the later are numbered.

    They are English everywhere, so that a set has the same names whatever is spoken.

    Parameters
    ----------
    colors : (n, 3) float64, L*, a*, b*

    >>> ink_names(np.array([[30.0, 50, 35], [31, 50, 35], [95, 0, 0]]))
    ['dark-red', 'dark-red-2', 'white']
    """
    names: list[str] = []
    counts: dict[str, int] = {}
    for color in colors:
        name = color_name(color).value.replace(" ", "-")
        counts[name] = counts.get(name, 0) + 1
        names.append(name if counts[name] == 1 else f"{name}-{counts[name]}")
    return names

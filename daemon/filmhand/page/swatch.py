"""The color of an ink as screens show it, for whom no array library is loaded."""

from __future__ import annotations

from collections.abc import Sequence

# White under D50 (CIE 15: x 0.3457, y 0.3585), and light of sRGB's primaries from XYZ under D50:
# the inverse of IEC 61966-2-1's matrix after the linear Bradford transform of ICC.1, as
# :mod:`filmhand.ink.cielab` works it out.
_WHITE = (0.9642956764, 1.0, 0.8251046025)
_LIGHT_OF_XYZ = (
    (3.1341358529, -1.6173859980, -0.4906622179),
    (-0.9787954766, 1.9162543774, 0.0334428734),
    (0.0719553926, -0.2289767598, 1.4053860351),
)


def swatch_color(lab: Sequence[float]) -> tuple[int, int, int]:
    """Red, green and blue of sRGB, 0..255, for L*, a*, b* under D50; clipped beyond sRGB.

    CIE S 014-4/E:2007 and IEC 61966-2-1:1999.

    >>> swatch_color((100, 0, 0))
    (255, 255, 255)
    """
    lightness, a, b = lab
    middle = (lightness + 16) / 116
    ratios = (middle + a / 500, middle, middle - b / 200)
    xyz = [white * _of_cube_root(ratio) for white, ratio in zip(_WHITE, ratios, strict=True)]
    light = [sum(w * part for w, part in zip(row, xyz, strict=True)) for row in _LIGHT_OF_XYZ]
    red, green, blue = map(_code, light)
    return red, green, blue


def _of_cube_root(f: float) -> float:
    return float(f**3) if f > 6 / 29 else 3 * (6 / 29) ** 2 * (f - 4 / 29)


def _code(light: float) -> int:
    light = min(1.0, max(0.0, light))
    coded = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    return round(255 * coded)

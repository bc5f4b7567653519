"""sRGB, XYZ and CIELAB, for arrays of colors.

XYZ and CIELAB stand under D50 here: that is the light under which prints are looked at (ISO 3664),
which color profiles connect colors by (ICC.1), and which instruments and ink makers give their
CIELAB under. Colors of sRGB, whose white is D65, are adapted by the linear Bradford transform, as
ICC.1 has it. All matrices come from the chromaticities of their standards in full precision, so
white is exactly L* 100 and gray has no hue.

All functions take and give arrays of float64 whose last axis holds the three numbers of a color.
Y is 1 for white, L* is 100.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.tone import linear_to_srgb, srgb_to_linear

D65 = (0.3127, 0.3290)  # IEC 61966-2-1:1999
D50 = (0.3457, 0.3585)  # CIE 15
SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # ITU-R BT.709, IEC 61966-2-1
# Cone responses that white is divided in (K. M. Lam, Metamerism and colour constancy, thesis,
# University of Bradford, 1985; ICC.1:2022, annex E).
_BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
# CIE 15 with the fractions of CIE S 014-4/E:2007.
_EPSILON = (6 / 29) ** 3
_SLOPE = (29 / 6) ** 2 / 3


def white_of(chromaticity: tuple[float, float]) -> Float64Array:
    """(3,) XYZ of the white of a chromaticity x, y, with Y = 1."""
    x, y = chromaticity
    return np.array([x / y, 1.0, (1 - x - y) / y])


def xyz_matrix(
    primaries: tuple[tuple[float, float], ...], white: tuple[float, float] = D65
) -> Float64Array:
    """(3, 3) matrix from light of three primaries, 1 1 1 for white, to XYZ under D50.

    The primaries are scaled to add up to the white (SMPTE RP 177:1993), which then is adapted.

    Parameters
    ----------
    primaries : the chromaticities x, y of red, green and blue
    white : the chromaticity of the white that they add up to
    """
    columns = np.stack([white_of(primary) for primary in primaries], axis=1)
    own = columns * np.linalg.solve(columns, white_of(white))
    cones = (_BRADFORD @ white_of(D50)) / (_BRADFORD @ white_of(white))
    return np.linalg.solve(_BRADFORD, cones[:, None] * (_BRADFORD @ own))


_WHITE = white_of(D50)
_XYZ_OF_LIGHT = xyz_matrix(SRGB_PRIMARIES)
_LIGHT_OF_XYZ = np.linalg.inv(_XYZ_OF_LIGHT)


def light_to_xyz(light: Float64Array) -> Float64Array:
    """(..., 3) XYZ of linear light of sRGB's red, green and blue; 0..1 within sRGB."""
    return light @ _XYZ_OF_LIGHT.T


def xyz_to_light(xyz: Float64Array) -> Float64Array:
    """(..., 3) linear light of sRGB's primaries; below 0 or above 1 for colors beyond sRGB."""
    return xyz @ _LIGHT_OF_XYZ.T


def xyz_to_lab(xyz: Float64Array) -> Float64Array:
    """(..., 3) L*, a*, b* of XYZ (CIE S 014-4/E:2007)."""
    ratio = xyz / _WHITE
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), _SLOPE * ratio + 4 / 29)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def xyz_to_lab_slopes(xyz: Float64Array) -> Float64Array:
    """(..., 3) the derivatives of :func:`xyz_to_lab`.

    What L* / 116, a* / 500 and b* / 200 gain or lose with X, Y and Z.
    """
    ratio = np.maximum(xyz / _WHITE, _EPSILON)
    return 1 / (3 * np.cbrt(ratio) ** 2 * _WHITE)


def lab_to_xyz(lab: Float64Array) -> Float64Array:
    """(..., 3) XYZ of L*, a*, b* (CIE S 014-4/E:2007)."""
    lightness, a, b = np.moveaxis(lab, -1, 0)
    y = (lightness + 16) / 116
    f = np.stack([y + a / 500, y, y - b / 200], axis=-1)
    return _WHITE * np.where(f > 6 / 29, f**3, (f - 4 / 29) / _SLOPE)


def with_black_at(lab: Float64Array, black: Float64Array | float) -> Float64Array:
    """(..., 3) L*, a*, b* of colors whose shadows are compressed to a lighter black.

    Black point compensation (ISO 18619:2015): light is scaled so that none becomes ``black``,
    0..1 of white's, and white stays. ``black`` may be (..., 1), by how dark a color is.

    >>> with_black_at(np.array([[100.0, 0, 0], [0, 0, 0]]), 0.1842).round(1) + 0.0
    array([[100.,   0.,   0.],
           [ 50.,   0.,   0.]])
    """
    return xyz_to_lab(black * _WHITE + (1 - black) * lab_to_xyz(lab))


def light_to_lab(light: Float64Array) -> Float64Array:
    """(..., 3) L*, a*, b* of linear light of sRGB's primaries."""
    return xyz_to_lab(light_to_xyz(light))


def lab_to_light(lab: Float64Array) -> Float64Array:
    """(..., 3) linear light of sRGB's primaries; below 0 or above 1 for colors beyond sRGB."""
    return xyz_to_light(lab_to_xyz(lab))


def srgb_to_lab(code: Float64Array) -> Float64Array:
    """(..., 3) L*, a*, b* of sRGB codes 0..1 (IEC 61966-2-1:1999).

    >>> srgb_to_lab(np.array([[1.0, 1.0, 1.0], [1.0, 0.0, 0.0]])).round(2) + 0.0
    array([[100.  ,   0.  ,   0.  ],
           [ 54.29,  80.8 ,  69.89]])
    """
    return light_to_lab(srgb_to_linear(code))


def lab_to_srgb(lab: Float64Array) -> Float64Array:
    """(..., 3) sRGB codes 0..1 of L*, a*, b*; what lies beyond sRGB is clipped in its light."""
    return linear_to_srgb(lab_to_light(lab))

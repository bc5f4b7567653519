"""How well an eye sees a weak band of a given period.

R. Näsänen, Visibility of halftone dot textures, IEEE Trans. SMC 14(6), 920-924, 1984, in the form
of S. H. Kim, J. P. Allebach, Impact of HVS models on model-based halftoning, IEEE Trans. Image
Processing 11(3), 258-269, 2002: the contrast sensitivity is a L^b exp(-f / (c ln L + d)) at f
cycles a degree and L candela a square meter. It was measured on dot textures, and it falls from the
longest bands on. Functions of single gratings on an even ground (J. L. Mannos, D. J. Sakrison, IEEE
Trans. Information Theory 20(4), 525-536, 1974, from memory) give bands of a millimeter or two
several times the weight; by them most of what mesh makers advise would show.
"""

from __future__ import annotations

from math import exp, log, pi

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.values import dataclass

# c and d stand in published code of it; a and b, on which no verdict depends, are from memory.
_A, _B, _C, _D = 131.6, 0.3188, 0.525, 3.91
WHITE_SHEET = 100.0
"""Candela a square meter: a white sheet under 400 lx, an ordinary bright room."""


@dataclass(frozen=True, slots=True)
class Sight:
    """From where bands are looked at, and the longest that the art has room for, both in mm."""

    longest_mm: float
    distance_mm: float = 1000.0

    def visible_share(self, period_mm: Float64Array) -> Float64Array:
        """How well bands are seen against the longest there can be, 0..1."""
        degrees = np.maximum(period_mm, 1e-9) / self.distance_mm * 180 / pi
        found: Float64Array = np.exp(-1 / (degrees * _falls_by()))
        return found


def contrast_sensitivity(cycles_per_degree: float, *, luminance: float = WHITE_SHEET) -> float:
    """One over the contrast that is just seen, ``luminance`` in candela a square meter."""
    return float(_A * luminance**_B * exp(-cycles_per_degree / _falls_by(luminance)))


def _falls_by(luminance: float = WHITE_SHEET) -> float:
    """The cycles a degree over which the sensitivity falls to 1 / e."""
    return _C * log(luminance) + _D

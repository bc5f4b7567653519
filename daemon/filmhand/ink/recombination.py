"""How far a print is from the art that it was separated from."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.ink.color_difference import color_difference
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class Recombination:
    """CIEDE2000 from the pixels of art to what is printed there.

    Attributes
    ----------
    mean : of all pixels
    p95 : what 95 of 100 pixels are not above
    """

    mean: float
    p95: float


def recombination(art: Float64Array, printed: Float64Array) -> Recombination:
    """How far the expected print is from the art.

    Parameters
    ----------
    art, printed : (..., 3) float64, L*, a*, b* of the same pixels
    """
    differences = color_difference(art, printed)
    return Recombination(float(differences.mean()), float(np.quantile(differences, 0.95)))

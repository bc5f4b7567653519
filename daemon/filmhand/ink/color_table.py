"""Values of any kind by color, kept on a grid of colors and interpolated between.

The grid divides the cube of codes into smaller ones, and each of those into six tetrahedra around
its diagonal of grays; a color's value is the mean of the four corners of its tetrahedron, weighted
by their nearness (J. M. Kasson, W. Plouffe, S. I. Nin, A tetrahedral interpolation technique for
color space conversion, Proc. SPIE 1909, 1993). Grays so depend on the grays of the grid only.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.values import dataclass

GRID = 17
"""Colors to each side of the usual table."""


def grid_codes(size: int = GRID) -> Float64Array:
    """(size ** 3, 3) the codes 0..1 of a grid, blue running fastest."""
    steps = np.linspace(0, 1, size)
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)


@dataclass(frozen=True, slots=True, eq=False)
class ColorTable:
    """Values on a grid of codes.

    Attributes
    ----------
    values : (size, size, size, k) float64, by red, green and blue
    """

    values: Float64Array

    @classmethod
    def of(cls, values: Float64Array) -> ColorTable:
        """The table of (size ** 3, k) values of :func:`grid_codes`."""
        size = round(len(values) ** (1 / 3))
        return cls(values.reshape(size, size, size, -1))

    def at(self, codes: Float64Array) -> Float64Array:
        """(..., k) the values of (..., 3) codes 0..1; codes beyond are taken for the ends."""
        size = len(self.values)
        place = np.clip(codes.reshape(-1, 3), 0, 1) * (size - 1)
        corner = np.minimum(place.astype(np.int64), size - 2)
        within = place - corner
        # From the dark corner the steps go along the farthest axis first, up to the light corner.
        order = np.argsort(-within, axis=1, kind="stable")
        farthest = np.take_along_axis(within, order, axis=1)
        flat = self.values.reshape(size**3, -1)
        strides = np.array([size * size, size, 1])
        at = corner @ strides
        weights = -np.diff(farthest, axis=1, prepend=1, append=0)
        found: Float64Array = weights[:, :1] * flat[at]
        for step in range(3):
            at = at + strides[order[:, step]]
            found += weights[:, step + 1, None] * flat[at]
        return found.reshape(*codes.shape[:-1], -1)

"""How strong the Fourier orders of a screen are: from the shape of its dots, or from its tile.

An order (i, j, k, l) is the wave of i times the first and j times the second frequency vector of
the screen, moved by k times the pixels per inch across and l times those up: what is drawn in
pixels has them all. A line screen has i = 0. Strengths are the sizes of the coefficients relative
to the mean ink, at the worst of :data:`TONES_OF_ORDERS`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.screen.dot_shapes import DotFunction
from filmhand.screen.lattice import Lattice
from filmhand.screen.tile import FULL_TONE, ThresholdTile, cell_coordinates

TONES_OF_ORDERS = (0.3, 0.5, 0.7)
"""The tones at which a screen is looked at; an order is as strong as at the worst of them."""

OrderStrength = Callable[[Int64Array], Float64Array]
"""(n, 4) whole orders to (n,) strengths."""

_CELL = 256  # samples along a side of the cell


def strength_of_shape(spot: DotFunction, per_pixel: Float64Array | None = None) -> OrderStrength:
    """The strengths of ideal dots of a shape.

    Parameters
    ----------
    per_pixel : (2, 2) float64, the frequency vectors in cycles a pixel across and up, of dots that
        are drawn in pixels
    """
    place = (2 * np.arange(_CELL) + 1) / _CELL - 1
    x, y = np.meshgrid(place, place)
    value = np.round(spot.value(np, x, y), 9)
    levels = np.sort(value, axis=None)[::-1]
    by_tone = []
    for tone in TONES_OF_ORDERS:
        # Places of one value share the ink that is left, so that a symmetric shape stays symmetric.
        wanted = round(tone * value.size)
        last = levels[wanted - 1]
        black, edge = value > last, value == last
        cell = black + edge * ((wanted - black.sum()) / edge.sum())
        by_tone.append(np.abs(np.fft.fft2(cell)) / wanted)
    strongest = np.max(by_tone, axis=0)

    def strength(orders: Int64Array) -> Float64Array:
        found: Float64Array = strongest[orders[:, 1] % _CELL, orders[:, 0] % _CELL]
        return found if per_pixel is None else found * _of_pixels(per_pixel, orders)

    return strength


def strength_of_tile(lattice: Lattice, tile: ThresholdTile) -> OrderStrength:
    """The strengths of a screen's dots as they are made, pixel by pixel."""
    u, v = cell_coordinates(lattice)
    thresholds = tile.thresholds.ravel()
    inks = np.stack([thresholds <= round(tone * FULL_TONE) for tone in TONES_OF_ORDERS]).astype(
        np.float64
    )
    inks /= inks.sum(axis=1, keepdims=True)
    per_pixel = lattice.frequencies() / [lattice.resolution.x, lattice.resolution.y]

    def strength(orders: Int64Array) -> Float64Array:
        found: Float64Array = np.empty(len(orders))
        for place, (i, j) in enumerate(orders[:, :2].tolist()):
            turn = 2 * np.pi * (i * u + j * v)
            parts = inks @ np.stack([np.cos(turn), np.sin(turn)], axis=1)
            found[place] = np.hypot(*parts.T).max()
        return found * _of_pixels(per_pixel, orders)

    return strength


def _of_pixels(per_pixel: Float64Array, orders: Int64Array) -> Float64Array:
    """What is left of waves where a pixel is a rectangle, and not a point."""
    waves = orders[:, :2] @ per_pixel + orders[:, 2:]
    found: Float64Array = np.abs(np.sinc(waves)).prod(axis=1)
    return found

"""Which print tone goes with which film tone, read off the even places of a film."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np

from filmhand.arrays import Float32Array

# A place is this many cells of the screen wide, so that a cell more or less matters little, and
# even where its four quarters are within this share of each other.
_CELLS, _EVEN = 6, 0.06
_LEAST_PLACES = 4


def tones_of_film(
    film: Float32Array, printed: Float32Array, cell: float, tones: Sequence[float]
) -> list[tuple[float, float]]:
    """Pairs of film tone and print tone, in percent, near the tones that are asked for.

    Parameters
    ----------
    film, printed : (h, w) shares of ink 0..1, box by box
    cell : side of a screen's cell in boxes
    tones : in percent; one that fewer than four even places of the film have is left out

    Returns
    -------
    list
        the mean film tone of the places near a tone, and their mean print tone
    """
    half = max(1, ceil(_CELLS * cell / 2))
    rows, columns = film.shape[0] // (2 * half), film.shape[1] // (2 * half)
    if not rows or not columns:
        return []
    quarters = _means(film, half, rows, columns)
    even = quarters.max(axis=(1, 3)) - quarters.min(axis=(1, 3)) <= _EVEN
    on_film = 100 * quarters.mean(axis=(1, 3))[even]
    on_print = 100 * _means(printed, half, rows, columns).mean(axis=(1, 3))[even]
    pairs = []
    for tone in tones:
        near = np.abs(on_film - tone) <= (1.0 if tone <= 10 or tone >= 90 else 2.5)
        if near.sum() >= _LEAST_PLACES:
            pairs.append((float(on_film[near].mean()), float(on_print[near].mean())))
    return pairs


def _means(picture: Float32Array, half: int, rows: int, columns: int) -> Float32Array:
    """(rows, 2, columns, 2): the mean of each quarter of each place."""
    kept = picture[: rows * 2 * half, : columns * 2 * half]
    means: Float32Array = kept.reshape(rows, 2, half, columns, 2, half).mean(axis=(2, 5))
    return means

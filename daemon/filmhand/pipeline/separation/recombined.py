"""The films of a set printed over each other by the model, and held against the art.

Of finished bits it is known pixel by pixel which inks lie over each other, so the part that each
combination of them has of a place is counted, and no dots are taken to meet as by chance. Places
are blocks that hold whole dots, and the art's light is averaged over the very same blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filmhand.arrays import Float64Array, Int64Array, UInt16Array
from filmhand.ink.cielab import light_to_lab
from filmhand.ink.mixing import PrintModel
from filmhand.ink.recombination import Recombination, recombination
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.tone import linear_table


@dataclass(frozen=True, slots=True, eq=False)
class RecombinedFilms:
    """What the films of a set print.

    Attributes
    ----------
    printed, art : (rows, columns, 3) float64, L*, a*, b* of each block
    difference : how far the one is from the other
    areas : (n,) float64, the part of the art's area that each film has ink on, 0..1
    """

    printed: Float64Array
    art: Float64Array
    difference: Recombination
    areas: Float64Array


def recombined_films(
    films: Sequence[AreaOfSheet], model: PrintModel, codes: UInt16Array, *, block: int
) -> RecombinedFilms:
    """The expected print of finished films, and its distance from the art.

    Parameters
    ----------
    films : where the art lies on each, in print order; all of one size
    model : the same inks on their cloth
    codes : (H, W, 3) uint16, sRGB, the art as it lies on the films, of whatever resolution
    block : device pixels to a side of a block, about; those of two dots at least where there are
        dots, as less holds a part of one

    Raises
    ------
    ValueError
        Where films and inks are not as many, or films are not of one size.
    """
    if len(films) != model.ink_count:
        raise ValueError(f"{len(films)} films are not those of {model.ink_count} inks")
    sizes = {(film.area.width, film.area.height) for film in films}
    if len(sizes) != 1:
        raise ValueError(f"films of one set have one size, found {sorted(sizes)}")
    width, height = sizes.pop()
    across, down = _edges(width, block), _edges(height, block)
    printed, art = (np.empty((len(down) - 1, len(across) - 1, 3)) for _ in range(2))
    counted = np.zeros(len(model.primaries), np.int64)
    light = linear_table()
    for row, (first, stop) in enumerate(zip(down[:-1].tolist(), down[1:].tolist(), strict=True)):
        counts = _overlaps(films, first, stop, across)
        counted += counts.sum(axis=0)
        printed[row] = model.of_parts(counts / counts.sum(axis=1, keepdims=True))
        scale = len(codes) / height
        art[row] = light_to_lab(
            _mean_light(codes, light, (first * scale, stop * scale), across / width)
        )
    combination = np.arange(len(counted))
    with_ink = np.array([counted[combination >> k & 1 == 1].sum() for k in range(len(films))])
    return RecombinedFilms(printed, art, recombination(art, printed), with_ink / (width * height))


def _edges(length: int, block: int) -> Int64Array:
    """Where blocks begin and the last one ends: whole pixels, as equal as can be."""
    count = max(1, round(length / block))
    edges: Int64Array = np.rint(np.linspace(0, length, count + 1)).astype(np.int64)
    return edges


def _overlaps(
    films: Sequence[AreaOfSheet], first: int, stop: int, across: Int64Array
) -> Int64Array:
    """(columns, 2 ** n) how many pixels of each block have each combination of inks."""
    combination = np.zeros((stop - first, int(across[-1])), np.int64)
    for k, film in enumerate(films):
        combination |= film.read(first, stop).astype(np.int64) << k
    combinations = 2 ** len(films)
    columns = len(across) - 1
    combination += np.repeat(np.arange(columns) * combinations, np.diff(across))
    counts = np.bincount(combination.ravel(), minlength=columns * combinations)
    return counts.reshape(columns, combinations)


def _mean_light(
    codes: UInt16Array, light: Float64Array, rows: tuple[float, float], across: Float64Array
) -> Float64Array:
    """(columns, 3) linear light of the art's part in blocks, pixels by their part in each.

    rows : from where to where, in rows of the art
    across : (columns + 1,) float64, edges of the blocks as shares of the width
    """
    first, stop = int(np.floor(rows[0])), min(len(codes), int(np.ceil(rows[1])))
    places = np.arange(first, stop)
    weights = np.minimum(places + 1, rows[1]) - np.maximum(places, rows[0])
    line = np.tensordot(weights / weights.sum(), light[codes[first:stop]], axes=1)
    sums = np.concatenate([np.zeros((1, 3)), np.cumsum(line, axis=0)])
    at = across * len(line)
    until = np.stack([np.interp(at, np.arange(len(sums)), sums[:, k]) for k in range(3)], axis=1)
    mean: Float64Array = np.diff(until, axis=0) / np.diff(at)[:, None]
    return mean

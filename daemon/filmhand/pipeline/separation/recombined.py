"""The films of a set printed over each other by the model, and held against the art.

Of finished bits it is known pixel by pixel which inks lie over each other, so the part that each
combination of them has of a cell is counted, and no dots are taken to meet as by chance. Light
spreads among the dots of a cell; over the cells of a place it is averaged, as an eye does that sees
no dots, and so is the art's light over the very same place.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from filmhand.arrays import Float64Array, Int64Array, UInt16Array
from filmhand.ink.cielab import lab_to_xyz, light_to_lab, xyz_to_lab
from filmhand.ink.mixing import PrintModel
from filmhand.ink.recombination import Recombination, recombination
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.tone import linear_table
from filmhand.values import dataclass

CELLS_TO_A_PLACE = 4
"""Two millimeters and a quarter of a screen of 45 lines per inch; one cell alone never holds just
one dot (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class RecombinedFilms:
    """What the films of a set print.

    Attributes
    ----------
    printed, art : (rows, columns, 3) float64, L*, a*, b* of each place
    difference : how far the one is from the other
    combined : (2 ** n,) float64, the part of the art's area that has each combination of inks, in
        the order of the model's primaries
    """

    printed: Float64Array
    art: Float64Array
    difference: Recombination
    combined: Float64Array

    @property
    def areas(self) -> Float64Array:
        """(n,) float64, the part of the art's area that each film has ink on, 0..1."""
        combination = np.arange(len(self.combined))
        count = len(self.combined).bit_length() - 1
        return np.array([self.combined[combination >> k & 1 == 1].sum() for k in range(count)])


def recombined_films(
    films: Sequence[AreaOfSheet],
    model: PrintModel,
    codes: UInt16Array,
    *,
    cell: int,
    cells: int = CELLS_TO_A_PLACE,
) -> RecombinedFilms:
    """The expected print of finished films, and its distance from the art.

    Parameters
    ----------
    films : where the art lies on each, in print order; all of one size
    model : the same inks on their cloth
    codes : (H, W, 3) uint16, sRGB, the art as it lies on the films, of whatever resolution
    cell : device pixels to a side of a cell, about: those of a dot where there are dots
    cells : to a side of a place, about

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
    across, down = _Division.of(width, cell, cells), _Division.of(height, cell, cells)
    printed, art = (np.empty((len(down.places), len(across.places), 3)) for _ in range(2))
    counted = np.zeros(len(model.primaries), np.int64)
    light, scale = linear_table(), len(codes) / height
    borders = np.append(across.edges[across.places], width) / width
    for row, edges in enumerate(down.edges_of_places()):
        printed[row], counts = _printed(films, model, edges, across)
        counted += counts
        rows = edges[0] * scale, edges[-1] * scale
        art[row] = light_to_lab(_mean_light(codes, light, rows, borders))
    return RecombinedFilms(printed, art, recombination(art, printed), counted / (width * height))


@dataclass(frozen=True, slots=True, eq=False)
class _Division:
    """One side of the art in cells and places, each as equal to the others as can be.

    edges : (cells + 1,) the first pixel of each cell, and the one past the last
    places : the first cell of each place
    """

    edges: Int64Array
    places: Int64Array

    @classmethod
    def of(cls, length: int, cell: int, cells: int) -> _Division:
        """The division of so many pixels."""
        count = max(1, round(length / cell))
        edges = np.rint(np.linspace(0, length, count + 1)).astype(np.int64)
        places = np.rint(np.linspace(0, count, max(1, round(count / cells)) + 1))
        return cls(edges, places[:-1].astype(np.int64))

    def edges_of_places(self) -> list[list[int]]:
        """The edges of the cells of each place."""
        edges, ends = self.edges.tolist(), [*self.places.tolist()[1:], len(self.edges) - 1]
        return [edges[a : b + 1] for a, b in zip(self.places.tolist(), ends, strict=True)]


def _printed(
    films: Sequence[AreaOfSheet], model: PrintModel, edges: list[int], across: _Division
) -> tuple[Float64Array, Int64Array]:
    """(columns, 3) L*, a*, b* of a row of places, and (2 ** n,) its pixels by combination.

    edges : the rows where its cells begin, and where the last one ends
    """
    light = np.zeros((len(across.places), 3))
    counted = np.zeros(len(model.primaries), np.int64)
    for first, stop in pairwise(edges):
        counts = _overlaps(films, first, stop, across.edges)
        counted += counts.sum(axis=0)
        pixels = counts.sum(axis=1, keepdims=True)
        of_cells = lab_to_xyz(model.of_parts(counts / pixels)) * pixels
        light += np.add.reduceat(of_cells, across.places, axis=0)
    pixels = np.add.reduceat(np.diff(across.edges), across.places) * (edges[-1] - edges[0])
    return xyz_to_lab(light / pixels[:, None]), counted


def _overlaps(
    films: Sequence[AreaOfSheet], first: int, stop: int, across: Int64Array
) -> Int64Array:
    """(columns, 2 ** n) how many pixels of each cell have each combination of inks."""
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
    """(columns, 3) linear light of the art in a row of places, pixels by their part in each.

    rows : from where to where, in rows of the art
    across : (columns + 1,) float64, edges of the places as shares of the width
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

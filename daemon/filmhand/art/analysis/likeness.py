"""How far a film, seen from afar, is its art: what of the art's darkness came through, what was
added, and which shapes are gone.

Art and film are compared as maps of tone (0 bare, 1 solid) over the same cells, which are about as
large as two dots, so that the dots themselves do not count. Tone is taken as CIE lightness (CIE 15)
of a print that shows it, since that is about how the eye weighs dark and pale.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from filmhand.arrays import BoolArray, Float32Array
from filmhand.art.analysis.page_marks import find_marks
from filmhand.art.files.gray import lightness
from filmhand.art.raster import median_of, smooth
from filmhand.tone import FULL, linear_table
from filmhand.values import dataclass

# A shape is gone where the art is darker than bare film by so much lightness, which nobody
# overlooks (from memory: a step of 2 to 3 is just seen), and the film has less than this of it. Of
# long thin lines, which are blurred when seen from afar, less is asked. On paper there are smudges
# and folds too, which are paler than these shares of the ink.
_SEEN, _SEEN_LINE, _LEFT, _SMUDGE, _FOLD = 8.0, 3.0, 0.3, 0.4, 0.15
_LINE_WIDTH = 5  # cells of a line, blurred
# Differences up to this are the unevenness of dots, not of the picture.
_JUST_SEEN = 2.5
# Darkness of a cell that is mostly or all ink, and the least of the art's own ink.
_INKED, _ALL_INK, _PALEST_INK = 50.0, 90.0, 4.0
_FLAT = 0.5  # standard deviation of lightness below which a map has no pattern to compare


@dataclass(frozen=True, slots=True)
class GoneShape:
    """A shape of the art that does not show on the film: a box of cells, the last two exclusive.

    ``cells`` are those that it has, ``weight`` is its share 0..1 of all of the art's darkness.
    """

    left: int
    top: int
    right: int
    bottom: int
    cells: int
    weight: float

    def is_line(self, least: int) -> bool:
        """Whether it is thin, and at least so many cells long."""
        length = max(self.right - self.left, self.bottom - self.top)
        return length >= least and self.cells <= _LINE_WIDTH * length

    def meets(self, others: list[GoneShape]) -> bool:
        """Whether its box has cells in common with that of another."""
        return any(
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
            for other in others
        )


@dataclass(frozen=True, slots=True)
class Likeness:
    """Of a film to its art.

    Attributes
    ----------
    correlation : of their lightness over all cells, -1..1; 1 where both are one flat
    lost, added : shares of the art's darkness that are not on the film, or on the film alone; the
        darkness of a cell is 100 less its lightness
    gone : shapes that are lost as a whole, the weightiest first
    """

    correlation: float
    lost: float
    added: float
    gone: tuple[GoneShape, ...]


def darkness(tone: Float32Array) -> Float32Array:
    """100 - L* of a print with this tone: 0 for bare, 100 for solid.

    >>> [round(float(one)) for one in darkness(np.array([0, 0.5, 1], np.float32))]
    [0, 47, 100]
    """
    codes = (1 - np.clip(tone, 0, 1)) * np.float32(FULL) + np.float32(0.5)
    return _darkness_of_codes().take(codes.astype(np.uint16))


@lru_cache(maxsize=1)
def _darkness_of_codes() -> Float32Array:
    """(65536,) float32: of every gray code, since many maps are looked at."""
    return (100 - lightness(linear_table())).astype(np.float32)


def likeness_of(
    asked: Float32Array,
    film: Float32Array,
    *,
    least_cells: int,
    least_line: int,
    beyond: BoolArray | None = None,
    on_paper: bool = False,
) -> Likeness:
    """Compare the tone that is asked of a film with what is on it.

    Parameters
    ----------
    asked, film : (h, w) float32 tone 0..1 by cells
    least_cells, least_line : shapes of fewer cells, and lines shorter than so many, are not missed
    beyond : (h, w) bool, cells that are bare on purpose
    on_paper : the art is a scan of paper, whose own light was taken off
    """
    wanted, found = (darkness(_from_afar(one)) for one in (asked, film))
    if beyond is not None:
        wanted[beyond] = found[beyond] = 0
    total = max(1e-6, float(wanted.sum(dtype=np.float64)))
    gap = wanted - found
    lost, added = (
        float(np.where(some > _JUST_SEEN, some, 0).sum(dtype=np.float64)) / total
        for some in (gap, -gap)
    )
    ink = 0.0
    if on_paper and (found > _INKED).any():
        ink = median_of(wanted[found > _INKED])
    gone = _gone(wanted, found, max(_SEEN, _SMUDGE * ink), total)
    gone = [shape for shape in gone if shape.cells >= least_cells]
    lines = _gone(wanted, found, max(_SEEN_LINE, _FOLD * ink), total)
    gone += [line for line in lines if line.is_line(least_line) and not line.meets(gone)]
    gone.sort(key=lambda shape: -shape.weight)
    return Likeness(_correlation(wanted, found), min(1.0, lost), added, tuple(gone))


def filled_shapes(
    asked: Float32Array, film: Float32Array, *, least_cells: int, least_line: int
) -> tuple[GoneShape, ...]:
    """Light shapes in the art's ink that the film does not show; their weight is by all light.

    The art's own ink counts as full: art in one pale ink is not light. Parameters are those of
    :func:`likeness_of`.
    """
    light = 1 - np.clip(asked * np.float32(100 / darkness_of_ink(asked, film)), 0, 1)
    return likeness_of(light, 1 - film, least_cells=least_cells, least_line=least_line).gone


def darkness_of_ink(asked: Float32Array, film: Float32Array) -> float:
    """The median darkness, up to 100, that the art has where the film is all ink."""
    inked = darkness(asked)[darkness(film) > _ALL_INK]
    return max(_PALEST_INK, median_of(inked)) if inked.size else 100.0


def _from_afar(tone: Float32Array) -> Float32Array:
    return smooth(smooth(tone))


def _gone(wanted: Float32Array, found: Float32Array, seen: float, total: float) -> list[GoneShape]:
    """What is at least ``seen`` dark in the art and hardly there on the film."""
    missing = (wanted >= seen) & (found < _LEFT * wanted)
    if not missing.any():
        return []
    marks = find_marks(missing)
    row, first, stop, mark = marks.runs.T
    # Each row is added up by itself, and only those that have something.
    rows, row = np.unique(row, return_inverse=True)
    dark = np.where(missing[rows], wanted[rows], 0).cumsum(axis=1, dtype=np.float64)
    dark = np.pad(dark, ((0, 0), (1, 0)))
    weight = np.bincount(mark, dark[row, stop] - dark[row, first], len(marks.area)) / total
    columns = (marks.left, marks.top, marks.right, marks.bottom, marks.area)
    return [
        GoneShape(left, top, right, bottom, cells, share)
        for left, top, right, bottom, cells, share in zip(
            *(column.tolist() for column in columns), weight.tolist(), strict=True
        )
    ]


def _correlation(one: Float32Array, other: Float32Array) -> float:
    """Pearson's, of two maps."""
    spread = float(one.std()), float(other.std())
    if max(spread) < _FLAT:
        return 1.0
    if min(spread) < 1e-6:
        return 0.0
    return float(np.mean((one - one.mean()) * (other - other.mean())) / (spread[0] * spread[1]))

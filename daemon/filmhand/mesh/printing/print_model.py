"""What a stencil on a mesh prints of a film: light, stencil, threads and ink, as geometry.

1. Light that falls in at an angle gets in under the edges of the film's black, by
   ``undercut = gap x tan(angle)`` at every edge, so the opening in the stencil is smaller than the
   black and the post of stencil larger than the clear film. (Geometry of a shadow.)
2. A post that touches no thread washes away, and its shadow dot fills with ink. (Geometry;
   :func:`washes_away`.)
3. Ink passes where the stencil's opening and the weave's openings overlap (geometry), but not
   where what is left between thread and stencil is narrower than ``passage``: an opening has to
   be some times as wide as the ink's largest particle (Micrasem, Screen Selection, asks for three
   times), and a sliver lets none through. (How narrow: fitted, see the guide's page ``print``.)
4. Under the threads, ink runs half a thread's width from every opening it came through, as far as
   the stencil's walls: where there is ink on both sides it meets in the middle. Of what then
   stays bare inside the opening, spots that ink shuts in, as at crossings, close as well. That is
   why a solid shows no weave, while a dot that has a thread along its edge is smaller than one that
   has not. (Common practice, no source.)
5. From every edge that the ink then has, it runs ``spread`` further. (A setting.)

All of it is done on a grid of cells of a few micrometers. What is left out: the height of the
ink, what the cloth or paper does, wear, and everything that the person at the press does.
"""

from __future__ import annotations

from functools import cached_property
from math import ceil, cos, radians, sin, sqrt, tan

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, Int64Array, UInt16Array, UInt64Array
from filmhand.mesh.bitmap.packed_morphology import WORD, PackedMorphology, octagon
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.table import Mesh
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# A cell no larger than this keeps the rounding of every edge, at most a quarter of a cell, within
# what the settings are known to.
_LARGEST_CELL_UM = 6.4
_MOST_CELLS = 32  # in a device pixel, each way
_PHASES_A_CELL = 4
# Along a thread its edge is moved by these shares of a cell in turn, so that the edge is where it
# should be on the mean; else the weave would beat with the cells.
_MOVES = np.array([-0.375, 0.125, -0.125, 0.375])
# What of a crossing is still bare once ink has come half a thread from its corners is narrower
# than this many threads; four cells more allow for the grid.
_CLOSES = sqrt(2) - 1
_TILE = (4096, 640)  # cells across and down that are worked on at once: they stay in the cache


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintConditions:
    """What turns a film into a print: mesh, light and ink.

    Attributes
    ----------
    mesh : the fabric; its ``stretch_percent`` opens the weave where it is known
    mesh_angle : degrees, counter-clockwise, of the threads against the film
    gap_um : between film and emulsion
    light_deg : how far from upright light falls in
    spread_um : how far ink runs beyond its edge
    passage_um : the width of the narrowest opening that ink comes through; at most half an
        opening of the mesh is asked for, as whatever is printed comes through those
    """

    mesh: Mesh
    mesh_angle: float = 0.0
    gap_um: float = 20.0
    light_deg: float = 10.0
    spread_um: float = 5.0
    passage_um: float = 15.0

    @property
    def undercut_um(self) -> float:
        """What light takes off every edge of black: gap x tan(angle).

        >>> from filmhand.mesh.table import read_mesh
        >>> round(PrintConditions(mesh=read_mesh("43-80"), gap_um=100, light_deg=10).undercut_um, 1)
        17.6
        """
        return self.gap_um * tan(radians(self.light_deg))

    @property
    def pitch_um(self) -> float:
        """From thread to thread on the stretched mesh."""
        return self.mesh.pitch_um / (1 - (self.mesh.stretch_percent or 0.0) / 100)

    @property
    def narrowest_um(self) -> float:
        """What ink comes through on this mesh, see ``passage_um``."""
        return min(self.passage_um, (self.pitch_um - self.thread_um) / 2)

    @property
    def thread_um(self) -> float:
        """What a thread covers: pitch less opening; more than its diameter if it is flat."""
        return self.mesh.pitch_um - self.mesh.opening_um


@dataclass(frozen=True, slots=True)
class _Threads:
    """The openings between threads of one direction, as lines of cells.

    Attributes
    ----------
    lines : (phases, words), the line for each place of the threads against it
    down : how far a row is from the one above, across the threads, in pitches
    moves : (k,) what row after row is moved by, in pitches
    """

    lines: UInt64Array
    down: float
    moves: Float64Array

    def rows(self, row: Int64Array) -> UInt64Array:
        """(n, words) the given rows of cells."""
        phases = len(self.lines)
        place = (row + 0.5) * self.down + self.moves[row % len(self.moves)]
        return self.lines[np.rint(place * phases).astype(np.int64) % phases]


class PrintedStrips:
    """What prints of a film, or of some columns of it.

    Parameters
    ----------
    conditions : of mesh, light and ink
    resolution : device pixels per inch of the film
    left, width : the columns of the film that will be asked for
    """

    def __init__(
        self, conditions: PrintConditions, resolution: PixelsPerInch, *, left: int, width: int
    ) -> None:
        self.conditions = conditions
        self.resolution = resolution
        pixel = resolution.pixel_um()
        self.cells = _cells(pixel[0]), _cells(pixel[1])
        self.cell_um = pixel[0] / self.cells[0], pixel[1] / self.cells[1]
        reach = self._reach_um()
        # Whole words, so that a tile begins with one.
        unit = max(1, WORD // self.cells[0])
        self.halo = (ceil(ceil(reach / pixel[0]) / unit) * unit, ceil(reach / pixel[1]))
        self._unit = unit
        self._left = left
        self._width = ceil(width / unit) * unit
        self._weave = [self._threads(angle) for angle in (0.0, 90.0)]

    def _reach_um(self) -> float:
        """How far away something on the film can matter, all roundings included."""
        now = self.conditions
        steps = now.undercut_um + now.narrowest_um + now.spread_um
        steps += now.thread_um * (0.5 + _CLOSES)
        return steps + 10 * max(self.cell_um)

    @cached_property
    def _phases(self) -> int:
        """How finely the place of a thread is told: to a quarter of a cell."""
        return ceil(_PHASES_A_CELL * self.conditions.pitch_um / min(self.cell_um))

    def _threads(self, angle: float) -> _Threads:
        """The openings between the threads of one direction."""
        now = self.conditions
        direction = radians(now.mesh_angle + angle)
        columns = self._width + 2 * self.halo[0]
        first = (self._left - self.halo[0]) * self.cells[0]
        column = np.arange(first, first + columns * self.cells[0])
        across = -(column + 0.5) * self.cell_um[0] * sin(direction) / now.pitch_um
        moves = _MOVES * min(self.cell_um) / now.pitch_um
        by_row = abs(sin(direction)) > abs(cos(direction))
        if not by_row:
            across += moves[column % len(moves)]
        across %= 1
        cover = now.thread_um / now.pitch_um
        lines = []
        for phase in range(self._phases):
            # Threads cover 0 .. cover of every pitch; the sum reaches into the next pitch at most.
            moved = across + phase / self._phases
            opened = (moved >= cover) & ((moved < 1) | (moved >= 1 + cover))
            lines.append(np.packbits(opened, bitorder="little"))
        down = -cos(direction) * self.cell_um[1] / now.pitch_um
        return _Threads(np.stack(lines).view(np.uint64), down, moves if by_row else 0 * moves)

    def _openings(self, row: int, rows: int, word: int, words: int) -> UInt64Array:
        """(rows * words,) the openings of the weave; rows and words are of cells."""
        first, second = (
            threads.rows(np.arange(row, row + rows))[:, word : word + words]
            for threads in self._weave
        )
        return (first & second).ravel()

    def of(
        self, film: BoolArray, *, row: int, reduce: tuple[int, int] | None = None
    ) -> tuple[UInt16Array, UInt16Array]:
        """How much of each block of the film prints, and how much ink passes the mesh there.

        Parameters
        ----------
        film : (h + 2 halo[1], width + 2 halo[0]) bool, True = black, the columns as given at the
            start with the halo around them; beyond the sheet it is False
        row : the row of the film below the upper halo
        reduce : cells of a block, across and down; one device pixel unless given. Across, a power
            of two that divides 64; down, a divisor of the cells in the rows

        Returns
        -------
        (printed, passed), each uint16, cells of the block that are inked
        """
        height = film.shape[0] - 2 * self.halo[1]
        width = film.shape[1] - 2 * self.halo[0]
        block = reduce or self.cells
        shape = (height * self.cells[1] // block[1], width * self.cells[0] // block[0])
        printed, passed = np.zeros(shape, np.uint16), np.zeros(shape, np.uint16)
        step_x = max(self._unit, _TILE[0] // self.cells[0] // self._unit * self._unit)
        lines = max(1, _TILE[1] // self.cells[1])
        while lines > 1 and lines * self.cells[1] % block[1]:
            lines -= 1
        for top in range(0, height, lines):
            stop = min(height, top + lines)
            for left in range(0, width, step_x):
                right = min(width, left + step_x)
                part = film[top : stop + 2 * self.halo[1], left : right + 2 * self.halo[0]]
                to = (
                    slice(top * self.cells[1] // block[1], stop * self.cells[1] // block[1]),
                    slice(left * self.cells[0] // block[0], right * self.cells[0] // block[0]),
                )
                if part.all():
                    printed[to] = passed[to] = block[0] * block[1]
                elif part.any():
                    printed[to], passed[to] = self._tile(part, row + top, left, block)
        return printed, passed

    def _tile(
        self, film: BoolArray, row: int, left: int, block: tuple[int, int]
    ) -> tuple[UInt16Array, UInt16Array]:
        """The same for a part of the film, ``left`` columns from where it was said to begin."""
        over = (-film.shape[1]) % self._unit
        if over:
            film = np.pad(film, ((0, 0), (0, over)))
        (across, down), (halo_x, halo_y) = self.cells, self.halo
        words = film.shape[1] * across // WORD
        rows = film.shape[0] * down
        line = np.packbits(np.repeat(film, across, axis=1), axis=1, bitorder="little")
        stencil = np.repeat(line.view(np.uint64), down, axis=0).ravel()
        sweeper = PackedMorphology(stencil.size)
        sweeper.shrink(stencil, self._octagon(words, 2 * self.conditions.undercut_um))
        openings = self._openings((row - halo_y) * down, rows, left * across // WORD, words)
        passed = openings
        passed &= stencil
        self._without_slivers(sweeper, passed, words)
        printed = self._inked(sweeper, passed.copy(), stencil, words)
        core = slice(halo_y * down, rows - halo_y * down)
        inside = slice(halo_x * across // WORD, words - halo_x * across // WORD)
        keep = (film.shape[1] - over - 2 * halo_x) * across // block[0]
        first, second = (
            _counted(grid.reshape(rows, words)[core, inside], block)[:, :keep]
            for grid in (printed, passed)
        )
        return first, second

    def _without_slivers(self, sweeper: PackedMorphology, passed: UInt64Array, words: int) -> None:
        """Take away where openings are too narrow for ink; in place.

        What is wide enough comes back with its corners and the steps of its edges.
        """
        narrowest = self.conditions.narrowest_um
        wide = sweeper.shrink(passed.copy(), self._octagon(words, narrowest))
        passed &= sweeper.grow(wide, self._octagon(words, narrowest + 4 * max(self.cell_um)))

    def _inked(
        self, sweeper: PackedMorphology, ink: UInt64Array, stencil: UInt64Array, words: int
    ) -> UInt64Array:
        """Where ink ends up that came through the openings at ``ink``."""
        thread = self.conditions.thread_um
        sweeper.grow(ink, self._octagon(words, thread))
        ink &= stencil
        closing = self._octagon(words, _CLOSES * thread + 4 * max(self.cell_um))
        sweeper.shrink(sweeper.grow(ink, closing), closing)
        ink &= stencil
        return sweeper.grow(ink, self._octagon(words, 2 * self.conditions.spread_um))

    def _octagon(self, words: int, size_um: float) -> tuple[int, ...]:
        return octagon(words * WORD, *(round(size_um / side) for side in self.cell_um))


def _cells(pixel_um: float) -> int:
    """The power of two into which a device pixel's side is divided."""
    cells = 1
    while cells < _MOST_CELLS and pixel_um / cells > _LARGEST_CELL_UM:
        cells *= 2
    return cells


def _counted(grid: UInt64Array, block: tuple[int, int]) -> UInt16Array:
    """Set cells of each block: (rows // down, words x 64 // across) uint16."""
    across, down = block
    rows = np.ascontiguousarray(grid).view(np.uint8)
    some = min(8, across)
    # In as few bytes as hold the sum of a column: that is where the time goes.
    enough = np.min_scalar_type(some * down)
    height, parts = len(rows) // down, 8 // some
    summed = np.empty((height, rows.shape[1] * parts), enough)
    for part in range(parts):
        cells = rows & np.uint8((0xFF >> (8 - some)) << (part * some))
        each = np.bitwise_count(cells).reshape(height, down, -1)
        each.sum(axis=1, dtype=enough, out=summed[:, part::parts])
    beside = across // some
    counted: UInt16Array = summed[:, ::beside].astype(np.uint16)
    for column in range(1, beside):
        counted += summed[:, column::beside]
    return counted


def washes_away(
    posts: SmallRuns, count: int, conditions: PrintConditions, resolution: PixelsPerInch
) -> BoolArray:
    """The posts of stencil that touch no thread, so that their shadow dots fill with ink.

    Parameters
    ----------
    posts : the pixels of bare spots, as runs numbered 0 .. count-1 by spot

    Returns
    -------
    (count,) bool

    Notes
    -----
    Each run is a rectangle, made larger by the undercut. Against the threads of one direction it
    covers an interval; it touches one where the interval holds a thread's edge or lies in it.
    """
    width, height = resolution.pixel_um()
    grow = conditions.undercut_um
    left, right = posts.start * width - grow, posts.stop * width + grow
    top, bottom = posts.row * height - grow, (posts.row + 1) * height + grow
    touches = np.zeros(len(posts.row), np.bool_)
    pitch, thread = conditions.pitch_um, conditions.thread_um
    for angle in (0.0, 90.0):
        direction = radians(conditions.mesh_angle + angle)
        middle = -(left + right) / 2 * sin(direction) - (top + bottom) / 2 * cos(direction)
        half = (right - left) / 2 * abs(sin(direction)) + (bottom - top) / 2 * abs(cos(direction))
        # Threads cover 0 .. thread of every pitch.
        low = (middle - half) % pitch
        touches |= (low < thread) | (low + 2 * half > pitch)
    stands = np.bincount(posts.component, touches, minlength=count) > 0
    return ~stands

"""Which dots a mesh loses and which shadow dots fill, of a whole film or of a piece of it.

A dot is lost where so little of it lies in openings of the weave, once light has got in under its
edge, that no ink comes through.
A shadow dot fills where its post of stencil touches no thread. Only components that could be that
small are looked at, so a stroke as thin as a thread that lies along one is not counted here.
"""

from __future__ import annotations

from math import ceil

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, Int64Array, UInt16Array, distinct
from filmhand.mesh.bitmap.components import count_components
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.limits import pixels_of_circle
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips, washes_away
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# A dot of the area of a circle this many threads wide can still lie on a crossing if it is long.
_LONGEST_THREADS = 2.5
_ROWS_AT_ONCE = 256


@dataclass(frozen=True, slots=True)
class AtRisk:
    """Pixels below which a dot may be lost, and a shadow dot may fill."""

    dot: int
    shadow_dot: int

    @classmethod
    def of(cls, conditions: PrintConditions, resolution: PixelsPerInch) -> AtRisk:
        """The sizes that follow from thread, opening, undercut and what ink comes through."""
        width, height = resolution.pixel_um()
        beside = conditions.undercut_um + conditions.narrowest_um
        widest = _LONGEST_THREADS * conditions.thread_um + 2 * beside
        opening = conditions.pitch_um - conditions.thread_um
        return cls(
            pixels_of_circle(widest, resolution) + 1, ceil(opening**2 / (width * height)) + 1
        )


def count_of(runs: SmallRuns) -> int:
    """How many components the runs belong to."""
    return int(runs.component.max()) + 1 if runs.component.size else 0


def passes(runs: SmallRuns, passed: NDArray[np.generic], *, row: int) -> BoolArray:
    """The runs on which some ink comes through the mesh.

    Parameters
    ----------
    runs : all within ``passed``
    passed : (h, w), anything but 0 where ink comes through; its first pixel is (row, 0)

    Returns
    -------
    (k,) bool, one for each run
    """
    line = runs.row - row
    shown = np.zeros(line.size, np.bool_)
    for top in range(0, passed.shape[0], _ROWS_AT_ONCE):
        band = passed[top : top + _ROWS_AT_ONCE] != 0
        some = np.flatnonzero((line >= top) & (line < top + len(band)))
        sums = np.zeros((len(band), band.shape[1] + 1), np.int32)
        np.cumsum(band, axis=1, out=sums[:, 1:])
        here = line[some] - top
        shown[some] = sums[here, runs.stop[some]] > sums[here, runs.start[some]]
    return shown


def blacken_runs(film: BoolArray, runs: SmallRuns, which: BoolArray, *, row: int) -> BoolArray:
    """Blacken the runs of the chosen components in place; True where pixels were blackened.

    Parameters
    ----------
    film : (h, w) bool; its first pixel is (row, 0)
    which : by component; runs beyond the film are left out
    """
    changed = np.zeros_like(film)
    height, width = film.shape
    inside = which[runs.component] & (runs.row >= row) & (runs.row < row + height)
    for k in np.flatnonzero(inside):
        start, stop = max(0, runs.start[k]), min(width, runs.stop[k])
        if stop > start:
            changed[runs.row[k] - row, start:stop] = True
    film |= changed
    return changed


@dataclass(frozen=True, slots=True)
class PrintedPiece:
    """What prints of a piece of film, and what is lost on it.

    Attributes
    ----------
    share : (h, w) float32, 0..1 printed, by block
    lost, filled : (H, W) bool, by device pixel: dots that do not print, shadow dots that fill
    lost_count, filled_count : how many
    """

    share: Float32Array
    lost: BoolArray
    filled: BoolArray
    lost_count: int
    filled_count: int


def print_piece(
    impression: PrintedStrips, film: BoolArray, *, row: int, column: int, block: tuple[int, int]
) -> PrintedPiece:
    """What prints of a piece of film.

    Parameters
    ----------
    film : the piece with the impression's halo around it, as in :meth:`PrintedStrips.of`; not
        changed
    row, column : of the sheet, of the piece's first pixel
    block : cells of a block
    """
    film = film.copy()
    halo_x, halo_y = impression.halo
    core = slice(halo_y, film.shape[0] - halo_y), slice(halo_x, film.shape[1] - halo_x)
    conditions, resolution = impression.conditions, impression.resolution
    least = AtRisk.of(conditions, resolution)
    dots, shadow_dots = count_components(
        lambda a, b: np.packbits(film[a:b], axis=1),
        (film.shape[1], film.shape[0]),
        small_dot=least.dot,
        small_shadow_dot=least.shadow_dot,
    )
    small = shadow_dots.small
    across, down = column - halo_x, row - halo_y
    posts = SmallRuns(small.component, small.row + down, small.start + across, small.stop + across)
    washed = washes_away(posts, count_of(posts), conditions, resolution)
    filled = blacken_runs(film, shadow_dots.small, washed, row=0)
    fine = tuple(min(pair) for pair in zip(block, impression.cells, strict=True))
    printed, passed = impression.of(film, row=row, reduce=(fine[0], fine[1]))
    share = _summed(printed, block, fine).astype(np.float32) / np.float32(block[0] * block[1])
    del printed  # as large as the piece in device pixels
    through = np.zeros(film.shape, np.bool_)
    through[core] = _summed(passed, impression.cells, fine) != 0
    del passed
    # What lies in the halo is not printed here, so it counts as if it passed.
    through[: core[0].start] = through[core[0].stop :] = True
    through[:, : core[1].start] = through[:, core[1].stop :] = True
    shown = passes(dots.small, through, row=0)
    count = count_of(dots.small)
    gone = np.bincount(dots.small.component, shown, minlength=count) == 0
    lost = blacken_runs(np.zeros_like(film), dots.small, gone, row=0)
    return PrintedPiece(
        share,
        lost[core],
        filled[core],
        int(gone.sum()),
        len(distinct(_within(shadow_dots.small, washed, core))),
    )


def _summed(counts: UInt16Array, block: tuple[int, int], fine: tuple[int, ...]) -> UInt16Array:
    """The counts of larger blocks; sides are powers of two."""
    across, down = block[0] // fine[0], block[1] // fine[1]
    if across == down == 1:
        return counts
    # Block after block would be slower: their sides are short.
    for _ in range(down.bit_length() - 1):
        counts = counts[0::2] + counts[1::2]
    for _ in range(across.bit_length() - 1):
        counts = counts[:, 0::2] + counts[:, 1::2]
    return counts


def _within(runs: SmallRuns, which: BoolArray, core: tuple[slice, slice]) -> Int64Array:
    """The chosen components of which something lies in the core."""
    inside = which[runs.component] & (runs.row >= core[0].start) & (runs.row < core[0].stop)
    inside &= (runs.stop > core[1].start) & (runs.start < core[1].stop)
    found: Int64Array = runs.component[inside]
    return found

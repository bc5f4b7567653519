"""Mending stray bits: components that the mesh cannot hold, where few pixels put it right.

Where the edges of the art cut through dots, crumbs of dots and slivers of holes are left. A crumb
is either taken away or grown around its middle until the mesh holds it (or until it has joined a
neighbour), whichever changes fewer pixels; growing and removing so balance, and the tone stays.
Changes are made from the smallest up until the allowance is used; what is left stays for the
checks to report.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from filmhand.mesh.components import SmallRuns

Ints = NDArray[np.int64]
Bits = NDArray[np.bool_]
_BAND = 256


@dataclass(frozen=True, slots=True)
class Crumbs:
    """The small components of one colour, one entry of each array a component.

    Attributes
    ----------
    area : pixels
    top, bottom : the rows it lies in are top .. bottom-1
    row, column : the pixel at its middle
    runs : its pixels, sorted by component
    first_run : index of the first run of each component; one more entry than components
    """

    area: Ints
    top: Ints
    bottom: Ints
    row: Ints
    column: Ints
    runs: SmallRuns
    first_run: Ints

    @classmethod
    def of(cls, runs: SmallRuns) -> Crumbs:
        """Gather the runs of small components into crumbs."""
        order = np.argsort(runs.component, kind="stable")
        component = runs.component[order]
        row, start, stop = runs.row[order], runs.start[order], runs.stop[order]
        begins = np.ones(order.size, np.bool_)
        begins[1:] = component[1:] != component[:-1]
        first = np.flatnonzero(begins)
        bounds = np.append(first, order.size)
        gathered = SmallRuns(component, row, start, stop)
        if not order.size:
            none = np.empty(0, np.int64)
            return cls(none, none, none, none, none, gathered, bounds)
        length = stop - start
        area = np.add.reduceat(length, first)
        middle_row = np.add.reduceat(length * row, first) / area
        middle_column = np.add.reduceat(length * (start + stop - 1), first) / (2 * area)
        return cls(
            area,
            np.minimum.reduceat(row, first),
            np.maximum.reduceat(row, first) + 1,
            np.rint(middle_row).astype(np.int64),
            np.rint(middle_column).astype(np.int64),
            gathered,
            bounds,
        )


@dataclass(slots=True)
class Mending:
    """What was mended: counts, changed pixels, where (column, row), and the changed rows."""

    removed: int = 0
    filled: int = 0
    grown: int = 0
    pixels: int = 0
    places: list[tuple[int, int]] = field(default_factory=list)
    rows: set[int] = field(default_factory=set)

    @property
    def count(self) -> int:
        """Number of places mended."""
        return self.removed + self.filled + self.grown

    def add(self, other: Mending) -> None:
        """Add the counts of another round."""
        self.removed += other.removed
        self.filled += other.filled
        self.grown += other.grown
        self.pixels += other.pixels
        self.places += other.places
        self.rows |= other.rows


def mend(
    read: Callable[[int, int], Bits],
    write: Callable[[int, Bits], None],
    size: tuple[int, int],
    *,
    dots: Crumbs,
    holes: Crumbs,
    smallest_dot: int,
    smallest_hole: int,
    allowance: int,
    barred: Callable[[int, int], Bits] | None = None,
) -> Mending:
    """Mend what the allowance covers, the least change first.

    Parameters
    ----------
    read, write : rows a .. b of the area as (b - a, width) bool, True = ink; and back from row a
    size : (width, height) of the area
    dots, holes : the components that are too small
    smallest_dot, smallest_hole : pixels that the mesh holds
    allowance : pixels that may change
    barred : rows a .. b as bool, True where nothing may be inked
    """
    done = Mending()
    least = np.concatenate(
        [np.minimum(c.area, s - c.area) for c, s in ((dots, smallest_dot), (holes, smallest_hole))]
    )
    order = np.argsort(least, kind="stable")
    chosen = np.zeros(least.size, np.bool_)
    chosen[order[np.cumsum(least[order]) <= allowance]] = True
    parts = (
        (dots, chosen[: dots.area.size], True, smallest_dot),
        (holes, chosen[dots.area.size :], False, smallest_hole),
    )
    reach = ceil(sqrt(2 * max(smallest_dot, smallest_hole) / pi)) + 2
    spare = allowance - int(least[chosen].sum())
    for first in range(0, size[1], _BAND):
        here = [
            (crumbs, which & (crumbs.top >= first) & (crumbs.top < first + _BAND), ink, smallest)
            for crumbs, which, ink, smallest in parts
        ]
        if not any(which.any() for _, which, _, _ in here):
            continue
        top = max(0, first - reach)
        last = max(
            (int(crumbs.bottom[which].max()) for crumbs, which, _, _ in here if which.any()),
        )
        bottom = min(size[1], max(last, first + _BAND) + reach)
        bits = np.ascontiguousarray(read(top, bottom))
        band = _Band(bits, top, reach, barred(top, bottom) if barred else None, spare)
        for crumbs, which, ink, smallest in here:
            band.mend(crumbs, np.flatnonzero(which), ink=ink, smallest=smallest, done=done)
        write(top, band.bits)
        spare = band.spare
    return done


@dataclass(slots=True)
class _Band:
    """Some rows of the area, contiguous, so that they can be changed through a flat view."""

    bits: Bits
    top: int
    reach: int
    barred: Bits | None
    spare: int  # pixels of the allowance that no crumb has been promised

    def mend(
        self, crumbs: Crumbs, chosen: Ints, *, ink: bool, smallest: int, done: Mending
    ) -> None:
        missing = smallest - crumbs.area[chosen]
        grow = missing < crumbs.area[chosen]
        able = self._grow(crumbs, chosen[grow], missing[grow], ink=ink, done=done)
        grown, unable = chosen[grow][able], chosen[grow][~able]
        # What cannot grow is taken away instead, as far as the allowance covers the difference.
        dearer = np.cumsum(crumbs.area[unable] - missing[grow][~able])
        covered = dearer <= self.spare
        if covered.any():
            self.spare -= int(dearer[covered][-1])
        rest = np.sort(np.concatenate([chosen[~grow], unable[covered]]))
        turned = rest[self._turn(crumbs, rest, ink=ink, done=done)]
        done.grown += grown.size
        if ink:
            done.removed += turned.size
        else:
            done.filled += turned.size
        mended = np.append(grown, turned)
        done.places += list(
            zip(crumbs.column[mended].tolist(), crumbs.row[mended].tolist(), strict=True)
        )

    def _turn(self, crumbs: Crumbs, which: Ints, *, ink: bool, done: Mending) -> Bits:
        """Exchange the colour of crumbs, unless that inks a barred pixel; True for those done."""
        if not which.size:
            return np.empty(0, np.bool_)
        runs_of_each = np.diff(crumbs.first_run)[which]
        run = _ranges(crumbs.first_run[which], runs_of_each)
        runs = crumbs.runs
        first = (runs.row[run] - self.top) * self.bits.shape[1] + runs.start[run]
        length = runs.stop[run] - runs.start[run]
        pixels = _ranges(first, length)
        crumb = np.repeat(np.repeat(np.arange(which.size), runs_of_each), length)
        able = np.ones(which.size, np.bool_)
        if not ink and self.barred is not None:
            able[crumb[self.barred.ravel()[pixels]]] = False
        pixels = pixels[able[crumb]]
        self.bits.ravel()[pixels] = not ink
        done.pixels += pixels.size
        done.rows.update((np.unique(pixels // self.bits.shape[1]) + self.top).tolist())
        return able

    def _grow(
        self, crumbs: Crumbs, which: Ints, missing: Ints, *, ink: bool, done: Mending
    ) -> Bits:
        """Grow crumbs by the free pixels nearest to their middles; True for those that could."""
        if not which.size:
            return np.empty(0, np.bool_)
        reach = self.reach
        height, width = self.bits.shape
        free = np.zeros((height + 2 * reach, width + 2 * reach), np.bool_)
        inside = free[reach:-reach, reach:-reach]
        np.not_equal(self.bits, ink, out=inside)
        if ink and self.barred is not None:
            inside &= ~self.barred
        row = crumbs.row[which] - self.top + reach
        column = crumbs.column[which] + reach
        # A crooked crumb need not hold its own middle; growing there would make another crumb.
        whole = self.bits[row - reach, column - reach] == ink
        down, across = _from_the_middle(reach)
        places = (row[:, None] + down) * free.shape[1] + column[:, None] + across
        takes = free.ravel()[places]
        so_far = np.cumsum(takes, axis=1)
        able: Bits = whole & (so_far[:, -1] >= missing)
        takes &= (so_far <= missing[:, None]) & able[:, None]
        taken = np.unique(places[takes])
        y, x = np.divmod(taken, free.shape[1])
        self.bits[y - reach, x - reach] = ink
        done.pixels += taken.size
        done.rows.update((np.unique(y) - reach + self.top).tolist())
        return able


def _ranges(first: Ints, length: Ints) -> Ints:
    """first[0], first[0] + 1, … for length[0] numbers, then the same for the next."""
    before = np.cumsum(length) - length
    return np.repeat(first - before, length) + np.arange(int(length.sum()))


def _from_the_middle(reach: int) -> tuple[Ints, Ints]:
    """Offsets (down, across) of all pixels within ``reach``, nearest first."""
    down, across = (axis.ravel() for axis in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    distance = down * down + across * across
    order = np.argsort(distance, kind="stable")
    order = order[distance[order] <= reach * reach]
    return down[order], across[order]

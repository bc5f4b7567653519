"""Every dot and every shadow dot of a bitmap, counted and measured strip by strip.

A component is a set of pixels of one color joined edge to edge (4-connected). That is the
stricter choice for both colors: pixels that touch at a corner only are two dots, as they are for
the stencil.

Strips are labeled on their own (:mod:`filmhand.mesh.bitmap.labeling`), in any thread, and then
joined in order along their seams: memory follows the width of the sheet and the number of small
components, not the sheet's height.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Int32Array, Int64Array
from filmhand.mesh.bitmap.labeling import LabeledStrip, joined_sets, label_strip, with_neighbors

STRIP = 128
T = TypeVar("T")


class SmallRuns(NamedTuple):
    """The pixels of the small components, as runs.

    Attributes
    ----------
    component : (k,) int64, number of the component, 0 .. n-1
    row, start, stop : (k,) int64, pixels start .. stop-1 of the row
    """

    component: Int64Array
    row: Int64Array
    start: Int64Array
    stop: Int64Array

    @classmethod
    def joined(cls, parts: list[SmallRuns]) -> SmallRuns:
        """Several lists as one, which is empty without any."""
        if not parts:
            return cls(*(np.empty(0, np.int64) for _ in cls._fields))
        return cls(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))

    def picked(self, which: NDArray[Any] | slice) -> SmallRuns:
        """Some of the runs, by mask, index or slice."""
        return SmallRuns(*(column[which] for column in self))

    def chosen(self, which: BoolArray, component: Int64Array) -> SmallRuns:
        """Some of the runs, under new component numbers given for all of them."""
        return self._replace(component=component).picked(which)


@dataclass(frozen=True, slots=True)
class Components:
    """What one color of a bitmap consists of.

    Attributes
    ----------
    areas : (n,) int64, pixels of every component that no border cuts
    cut : number of components that the border of the area, or what lies outside it, cuts
    pixels : pixels of this color
    small : the pixels of the uncut components below the size asked for
    """

    areas: Int64Array
    cut: int
    pixels: int
    small: SmallRuns


def count_components(
    read: Callable[[int, int], BoolArray],
    size: tuple[int, int],
    *,
    small_dot: int = 0,
    small_shadow_dot: int = 0,
    threads: int = 1,
) -> tuple[Components, Components]:
    """All dots and all shadow dots of an area; see :class:`Census` for the parameters.

    Parameters
    ----------
    read : rows a .. b of the area as (b - a, width) bool, True = ink
    threads : how many strips are labeled at once

    Returns
    -------
    (dots, shadow dots)
    """
    census = Census(size, small_dot=small_dot, small_shadow_dot=small_shadow_dot)
    census.take(read, census.strips, threads=threads)
    return census.result()


class Census:
    """The components of an area, strip by strip, in any order; changed strips are taken again.

    Parameters
    ----------
    size : (width, height)
    small_dot, small_shadow_dot : components with fewer pixels are kept as runs
    outside : rows a .. b as bool; components that lie on such a pixel, or touch one edge to edge,
        count as cut by a border
    strip : rows of a strip; the result does not depend on it, but for the order of components
    """

    def __init__(
        self,
        size: tuple[int, int],
        *,
        small_dot: int = 0,
        small_shadow_dot: int = 0,
        outside: Callable[[int, int], BoolArray] | None = None,
        strip: int = STRIP,
    ) -> None:
        self._width, self._height = size
        self._keep = (small_shadow_dot, small_dot)
        self._outside = outside
        self._strip = strip
        self._sealed: dict[int, _Sealed] = {}
        self.strips = range(0, self._height, strip)

    def rows_of(self, top: int) -> tuple[int, int]:
        """First row and the row past the last of the strip that begins at ``top``."""
        return top, min(self._height, top + self._strip)

    def holding(self, rows: Iterable[int]) -> list[int]:
        """The strips that hold these rows."""
        return sorted({row // self._strip * self._strip for row in rows})

    def count(self, top: int, bits: BoolArray) -> None:
        """Label the strip that begins at ``top``; strips may be counted in several threads."""
        first, stop = self.rows_of(top)
        beyond = None
        if self._outside is not None:
            above, below = max(0, first - 1), min(self._height, stop + 1)
            beyond = with_neighbors(self._outside(above, below))[first - above : stop - above]
        self._sealed[top] = _seal(label_strip(bits, beyond), top, self._width, self._keep)

    def take(
        self, read: Callable[[int, int], BoolArray], tops: Iterable[int], *, threads: int = 1
    ) -> None:
        """Label strips anew from what ``read`` gives."""
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(lambda top: self.count(top, read(*self.rows_of(top))), tops))

    def result(self) -> tuple[Components, Components]:
        """(dots, shadow dots) of the whole area, once every strip has been counted."""
        joiner = _Joiner(self._width, self._keep)
        for top in self.strips:
            joiner.add(self._sealed[top])
        return joiner.finish()


@dataclass(frozen=True, slots=True)
class _Seam:
    """The runs of one row: the columns where they begin, and whose component each is."""

    columns: Int32Array
    owner: Int32Array


@dataclass(frozen=True, slots=True)
class _Sealed:
    """What joining strips needs of one: the whole of what is closed, and the edges of the rest.

    Pairs are by color, bare film first. The open components are those on the strip's first or
    last row; ``ink``, ``area`` and ``cut`` describe them, ``runs`` holds the small ones' pixels.
    """

    pixels: tuple[int, int]
    cut_inside: tuple[int, int]
    areas: tuple[Int64Array, Int64Array]
    small: tuple[SmallRuns, SmallRuns]
    first: _Seam
    last: _Seam
    ink: BoolArray
    area: Int64Array
    cut: BoolArray
    runs: SmallRuns


def _seal(strip: LabeledStrip, top: int, width: int, keep: tuple[int, int]) -> _Sealed:
    """Reduce a labeled strip to what joining needs."""
    in_first = slice(0, int(np.searchsorted(strip.bounds, np.int32(width))))
    in_last = slice(
        int(np.searchsorted(strip.bounds, np.int32((strip.rows - 1) * width))), len(strip.owner)
    )
    is_open = np.zeros(strip.area.size, np.bool_)
    is_open[strip.owner[in_first]] = True
    is_open[strip.owner[in_last]] = True
    cut = strip.cut
    if top == 0:
        cut = cut.copy()
        cut[strip.owner[in_first]] = True
    number = np.cumsum(is_open, dtype=np.int32) - 1
    closed = ~is_open
    mine = tuple(closed & (strip.ink == color) for color in (False, True))
    small = (strip.area < np.array(keep, np.int64)[strip.ink.astype(np.intp)]) & ~cut
    runs = _runs_of(strip, small, top, width)
    return _Sealed(
        pixels=_by_color(lambda color: int(strip.area[strip.ink == color].sum())),
        cut_inside=_by_color(lambda color: int((mine[color] & cut).sum())),
        areas=_by_color(lambda color: strip.area[mine[color] & ~cut]),
        small=_by_color(lambda color: _numbered(runs, mine[color] & small)),
        # A copy: a view would keep the bounds of the whole strip.
        first=_Seam(strip.bounds[in_first].copy(), number[strip.owner[in_first]]),
        last=_Seam(
            strip.bounds[in_last] - np.int32((strip.rows - 1) * width), number[strip.owner[in_last]]
        ),
        ink=strip.ink[is_open],
        area=strip.area[is_open],
        cut=cut[is_open],
        runs=_numbered(runs, is_open & small, number),
    )


def _by_color(of: Callable[[int], T]) -> tuple[T, T]:
    return of(0), of(1)


def _runs_of(strip: LabeledStrip, wanted: BoolArray, top: int, width: int) -> SmallRuns:
    """The runs of the wanted components, under the strip's component numbers."""
    kept = np.flatnonzero(wanted[strip.owner]) if wanted.any() else np.empty(0, np.intp)
    row, start = np.divmod(strip.bounds[kept].astype(np.int64), width)
    stop = start + strip.bounds[kept + 1] - strip.bounds[kept]
    return SmallRuns(strip.owner[kept].astype(np.int64), row + top, start, stop)


def _numbered(runs: SmallRuns, which: BoolArray, number: Int32Array | None = None) -> SmallRuns:
    """The runs of some components, renumbered from 0 or as ``number`` says."""
    if not runs.row.size:
        return runs
    if number is None:
        number = np.cumsum(which, dtype=np.int32) - 1
    return runs.chosen(which[runs.component], number[runs.component].astype(np.int64))


class _Joiner:
    """Joins sealed strips along their seams, in order."""

    def __init__(self, width: int, keep: tuple[int, int]) -> None:
        self._width = width
        self._keep = np.array(keep, np.int64)
        self._pixels = [0, 0]
        self._cut = [0, 0]
        self._areas: tuple[list[Int64Array], list[Int64Array]] = ([], [])
        self._small: tuple[list[SmallRuns], list[SmallRuns]] = ([], [])
        self._small_count = [0, 0]
        # What is open at the last row so far: its runs, and per component its color, area,
        # whether a border cuts it, and its pixels while it is still small.
        empty = np.empty(0, np.int32)
        self._last = _Seam(empty, empty)
        self._ink = np.empty(0, np.bool_)
        self._area = np.empty(0, np.int64)
        self._is_cut = np.empty(0, np.bool_)
        self._runs = SmallRuns.joined([])

    def add(self, strip: _Sealed) -> None:
        """Take the next strip."""
        for color in (0, 1):
            self._pixels[color] += strip.pixels[color]
            self._cut[color] += strip.cut_inside[color]
            self._areas[color].append(strip.areas[color])
            self._add_small(color, strip.small[color])
        # The components that were open come first, then those open in the strip.
        opened = self._area.size
        root = self._seam(strip)
        is_root = root == np.arange(root.size)
        number = np.cumsum(is_root) - 1
        new = number[root]
        count = int(is_root.sum())
        area = np.bincount(new, np.append(self._area, strip.area), minlength=count)
        area = area.astype(np.int64)
        cut = np.zeros(count, np.bool_)
        cut[new[np.append(self._is_cut, strip.cut)]] = True
        ink = np.append(self._ink, strip.ink)[is_root]
        is_open = np.zeros(count, np.bool_)
        is_open[new[opened:][strip.last.owner]] = True
        small = (area < self._keep[ink.astype(np.intp)]) & ~cut
        before, after = new[self._runs.component], new[opened:][strip.runs.component]
        runs = SmallRuns.joined(
            [self._runs.chosen(small[before], before), strip.runs.chosen(small[after], after)]
        )
        for color in (0, 1):
            closed = ~is_open & (ink == color)
            self._cut[color] += int((closed & cut).sum())
            self._areas[color].append(area[closed & ~cut])
            self._add_small(color, _numbered(runs, closed & small))
        renumber = np.cumsum(is_open, dtype=np.int32) - 1
        self._runs = _numbered(runs, is_open & small, renumber)
        self._last = _Seam(strip.last.columns, renumber[new[opened:][strip.last.owner]])
        self._ink, self._area, self._is_cut = ink[is_open], area[is_open], cut[is_open]

    def finish(self) -> tuple[Components, Components]:
        """(dots, shadow dots); components that touch the last row are cut by the border."""
        for color in (0, 1):
            self._cut[color] += int((self._ink == color).sum())
        shadow_dots, dots = (
            Components(
                np.concatenate(self._areas[color]),
                self._cut[color],
                self._pixels[color],
                SmallRuns.joined(self._small[color]),
            )
            for color in (0, 1)
        )
        return dots, shadow_dots

    def _add_small(self, color: int, runs: SmallRuns) -> None:
        if not runs.row.size:
            return
        number = runs.component + self._small_count[color]
        self._small_count[color] = int(number.max()) + 1
        self._small[color].append(runs._replace(component=number))

    def _seam(self, strip: _Sealed) -> Int32Array:
        """First component of each joined set, over the open components and the strip's."""
        opened = self._area.size
        count = opened + strip.area.size
        if not opened:
            return np.arange(count, dtype=np.int32)
        upper, lower = self._last, strip.first
        # Every pair of an upper and a lower run that share a column does so where the later of the
        # two begins.
        columns = np.concatenate([upper.columns, lower.columns])
        above = np.searchsorted(upper.columns, columns, side="right") - 1
        below = np.searchsorted(lower.columns, columns, side="right") - 1
        one, other = upper.owner[above], lower.owner[below]
        same = self._ink[one] == strip.ink[other]
        return joined_sets(count, one[same], other[same] + np.int32(opened))

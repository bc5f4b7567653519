"""One strip of a bitmap, counted and reduced to what joining it to its neighbors takes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np

from filmhand.arrays import BoolArray, Int32Array, Int64Array, UInt8Array
from filmhand.kernels.loops import CompiledLoops, compiled
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.labeling import LabeledStrip, label_strip
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.values import dataclass

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Seam:
    """The runs of one row: the columns where they begin, and whose component each is."""

    columns: Int32Array
    owner: Int32Array


@dataclass(frozen=True, slots=True)
class SealedStrip:
    """What joining strips needs of one: the whole of what is closed, and the edges of the rest.

    Pairs are by color, bare film first. The open components are those on the strip's first or
    last row; ``ink``, ``area`` and ``cut`` describe them, ``runs`` holds the small ones' pixels.

    Attributes
    ----------
    pixels : of each color
    cut_inside : closed components that are cut
    areas : of the closed components that are not
    small : the runs of those among them that are small; rows are the bitmap's
    first, last : the strip's outer rows
    ink, cut : (n,) bool, of the open components
    area : (n,) int64
    runs : the runs of the small open components
    """

    pixels: tuple[int, int]
    cut_inside: tuple[int, int]
    areas: tuple[AreaCounts, AreaCounts]
    small: tuple[SmallRuns, SmallRuns]
    first: Seam
    last: Seam
    ink: BoolArray
    area: Int64Array
    cut: BoolArray
    runs: SmallRuns


def seal_strip(
    rows: UInt8Array,
    *,
    skip: int,
    width: int,
    top: int,
    beyond: BoolArray | None,
    keep: tuple[int, int],
) -> SealedStrip:
    """Count the components of a strip.

    Parameters
    ----------
    rows : (h, n) uint8, packed most significant bit first, 1 = ink
    skip, width : pixels (0 .. 7) before the strip in the first byte of every row, and its own
    top : the first row's number; row 0 of the bitmap is a border
    beyond : (h, width) bool; components with a pixel where it is True count as cut, like those that
        touch the sides
    keep : of bare film and of ink, components with fewer pixels are small

    Raises
    ------
    ValueError
        where the rows are no packed bits, or shorter than skip and width
    """
    if rows.dtype != np.uint8 or 8 * rows.shape[1] < skip + width:
        raise ValueError(
            f"rows must be uint8 with {skip} + {width} packed bits, "
            f"found {rows.dtype} of shape {rows.shape}"
        )
    loops = compiled()
    if loops is not None:
        return _by_compiled(loops, rows, (skip, width), top, beyond, keep)
    bits = np.unpackbits(rows, axis=1, count=skip + width)[:, skip:].view(np.bool_)
    return _seal(label_strip(bits, beyond), top, width, keep)


def _by_compiled(
    loops: CompiledLoops,
    rows: UInt8Array,
    sides: tuple[int, int],
    top: int,
    beyond: BoolArray | None,
    keep: tuple[int, int],
) -> SealedStrip:
    rows = np.ascontiguousarray(rows)
    beside = None if beyond is None else np.ascontiguousarray(beyond)
    pixels, cut, areas, small, first, last, opened = loops.label_strip(
        rows, rows.shape[1], *sides, beside, top == 0, keep
    )
    ink, area, is_cut, runs = opened
    return SealedStrip(
        pixels=pixels,
        cut_inside=cut,
        areas=_by_color(lambda color: AreaCounts.of(np.frombuffer(areas[color], np.int32))),
        small=_by_color(lambda color: _runs_at(small[color], top)),
        first=Seam(*(np.frombuffer(some, np.int32) for some in first)),
        last=Seam(*(np.frombuffer(some, np.int32) for some in last)),
        ink=np.frombuffer(ink, np.bool_),
        area=np.frombuffer(area, np.int32).astype(np.int64),
        cut=np.frombuffer(is_cut, np.bool_),
        runs=_runs_at(runs, top),
    )


def _runs_at(runs: bytes, top: int) -> SmallRuns:
    """The runs that the compiled loop gives, whose rows are the strip's."""
    columns = np.frombuffer(runs, np.int32).reshape(-1, 4).T.astype(np.int64)
    columns[1] += top
    return SmallRuns(*columns)


def _seal(strip: LabeledStrip, top: int, width: int, keep: tuple[int, int]) -> SealedStrip:
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
    return SealedStrip(
        pixels=_by_color(lambda color: int(strip.area[strip.ink == color].sum())),
        cut_inside=_by_color(lambda color: int((mine[color] & cut).sum())),
        areas=_by_color(lambda color: AreaCounts.of(strip.area[mine[color] & ~cut])),
        small=_by_color(lambda color: runs.numbered(mine[color] & small)),
        # A copy: a view would keep the bounds of the whole strip.
        first=Seam(strip.bounds[in_first].copy(), number[strip.owner[in_first]]),
        last=Seam(
            strip.bounds[in_last] - np.int32((strip.rows - 1) * width), number[strip.owner[in_last]]
        ),
        ink=strip.ink[is_open],
        area=strip.area[is_open],
        cut=cut[is_open],
        runs=runs.numbered(is_open & small, number),
    )


def _by_color(of: Callable[[int], T]) -> tuple[T, T]:
    return of(0), of(1)


def _runs_of(strip: LabeledStrip, wanted: BoolArray, top: int, width: int) -> SmallRuns:
    """The runs of the wanted components, under the strip's component numbers."""
    kept = np.flatnonzero(wanted[strip.owner]) if wanted.any() else np.empty(0, np.intp)
    row, start = np.divmod(strip.bounds[kept].astype(np.int64), width)
    stop = start + strip.bounds[kept + 1] - strip.bounds[kept]
    return SmallRuns(strip.owner[kept].astype(np.int64), row + top, start, stop)

"""Mending and measuring the finished bits of the art."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.job.lay_down import AreaOfSheet
from filmhand.mesh.components import Census, Components
from filmhand.mesh.limits import MeshLimits, pixels_of_circle
from filmhand.mesh.mend import Crumbs, Mending, mend
from filmhand.mesh.strokes import Narrowness, narrowest
from filmhand.sheet.layout import Box
from filmhand.units import Resolution

Bits = NDArray[np.bool_]
CutRows = Callable[[int, int], Bits]
# A change can leave a crumb of its own beside it; a few rounds settle that.
_ROUNDS = 3
# Shares of the ink that may be mended in silence.
TONE_ALLOWANCE, LINE_ALLOWANCE = 0.01, 0.001


@dataclass(frozen=True, slots=True)
class Counted:
    """The dots and holes of the art, after mending, and what was mended."""

    dots: Components
    holes: Components
    mended: Mending

    @property
    def pixels(self) -> int:
        """Pixels of the art."""
        return self.dots.pixels + self.holes.pixels


@dataclass(frozen=True, slots=True)
class Smallest:
    """Pixels that a dot and a hole must have, or are mended to have."""

    dot: int
    hole: int

    @classmethod
    def to_pass(cls, limits: MeshLimits, resolution: Resolution) -> Smallest:
        """The smallest that do not fail: just above the fail limits."""
        return cls(
            pixels_of_circle(limits.dot_fail_um, resolution) + 1,
            pixels_of_circle(limits.hole_fail_um, resolution) + 1,
        )

    @classmethod
    def to_print_evenly(cls, limits: MeshLimits, resolution: Resolution) -> Smallest:
        """The smallest that do not even warn."""
        return cls(
            pixels_of_circle(limits.dot_warn_um, resolution),
            pixels_of_circle(limits.hole_warn_um, resolution),
        )


def census_of(area: Box, *, smallest: Smallest | None, barred: CutRows | None) -> Census:
    """A census of the art that keeps what is smaller than it should be.

    ``barred`` tells where nothing may be inked; its edge counts as a border.
    """
    return Census(
        (area.width, area.height),
        small_dot=smallest.dot if smallest else 0,
        small_hole=smallest.hole if smallest else 0,
        outside=_by_rows(barred),
    )


def mend_art(
    art: AreaOfSheet,
    census: Census,
    *,
    smallest: Smallest | None,
    allowance: float,
    barred: CutRows | None,
    threads: int,
) -> Counted:
    """Mend what is too small in the art, and count it again until nothing changes.

    Parameters
    ----------
    art : the finished bits
    census : has counted all of them
    smallest : sizes to mend to; None mends nothing
    allowance : share of the ink that may change in all
    """
    mended = Mending()
    dots, holes = census.result()
    if smallest is None:
        return Counted(dots, holes, mended)
    budget = int(allowance * dots.pixels)
    for _ in range(_ROUNDS):
        if not dots.small.row.size and not holes.small.row.size:
            break
        done = mend(
            art.read,
            art.write,
            (art.area.width, art.area.height),
            dots=Crumbs.of(dots.small),
            holes=Crumbs.of(holes.small),
            smallest_dot=smallest.dot,
            smallest_hole=smallest.hole,
            allowance=budget - mended.pixels,
            barred=_by_rows(barred),
        )
        if not done.count:
            break
        mended.add(done)
        census.take(art.read, census.holding(done.rows), threads=threads)
        dots, holes = census.result()
    return Counted(dots, holes, mended)


def _by_rows(barred: CutRows | None) -> Callable[[int, int], Bits] | None:
    """The same rows, asked for by first and last instead of by first and count."""
    return None if barred is None else lambda first, stop: barred(first, stop - first)


def measure_lines(
    art: AreaOfSheet, resolution: Resolution, limits: MeshLimits | None, *, threads: int
) -> tuple[Narrowness, Narrowness]:
    """The narrowest stroke and gap of line art."""
    # Without a mesh there is nothing to compare with, but the record still tells the widths.
    up_to = 2 * max(limits.dot_warn_um, limits.hole_warn_um) if limits else 600.0
    near = up_to / 2

    def one(ink: bool) -> Narrowness:
        return narrowest(
            art.read_packed,
            (art.area.width, art.area.height),
            resolution=resolution,
            ink=ink,
            up_to_um=up_to,
            near_um=near,
        )

    with ThreadPoolExecutor(min(2, threads)) as pool:
        strokes, gaps = pool.map(one, (True, False))
    return strokes, gaps

"""Tones that grow or shrink by so many device pixels, as traps and chokes do.

Growing by a disc gives each pixel the largest tone within reach, shrinking the smallest (J. Serra,
Image Analysis and Mathematical Morphology, Academic Press, 1982, ch. XII): a solid area gets wider
or narrower by the reach, and a tint keeps its tone.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from filmhand.arrays import BoolArray, UInt16Array
from filmhand.mesh.bitmap.disc_opening import Disc
from filmhand.tone import FULL
from filmhand.units import MM_PER_INCH, PixelsPerInch

_Combine = Callable[[UInt16Array, UInt16Array], UInt16Array]
# No film prints an open line as narrow as this (common practice, no source).
_BRIDGED_MM = 0.1


class DiscReach:
    """A distance in every direction, in whole device pixels.

    Parameters
    ----------
    across, down : the distance in pixels, 0 or more
    bridge : half the width of open lines from which nothing is drawn back

    Attributes
    ----------
    across, down : as given; what grows and shrinks depends on ``down`` rows above and below
    beyond : so many rows above and below are needed to draw back
    """

    def __init__(self, across: int, down: int, *, bridge: DiscReach | None = None) -> None:
        self.across, self.down = across, down
        self.beyond = down + (0 if bridge is None else 2 * bridge.down)
        self._bridge = bridge
        self._spans = Disc.of(2 * across + 1, 2 * down + 1).spans

    @classmethod
    def of(cls, distance_mm: float, resolution: PixelsPerInch) -> DiscReach:
        """The nearest whole pixels to a distance."""
        return cls(
            round(distance_mm * resolution.x / MM_PER_INCH),
            round(distance_mm * resolution.y / MM_PER_INCH),
        )

    @classmethod
    def of_choke(cls, distance_mm: float, resolution: PixelsPerInch) -> DiscReach:
        """The same to draw back by, which is not done from lines that are too narrow to print."""
        reach, half = cls.of(distance_mm, resolution), cls.of(_BRIDGED_MM / 2, resolution)
        bridge = cls(max(1, half.across), max(1, half.down))
        return cls(reach.across, reach.down, bridge=bridge)

    def grown(self, tones: UInt16Array) -> UInt16Array:
        """The largest tone within reach of each pixel.

        Parameters
        ----------
        tones : (down + h + down, w) uint16; beside its columns there is nothing

        Returns
        -------
        (h, w) uint16
        """
        return self._over_disc(tones, np.maximum)

    def shrunk(self, tones: UInt16Array) -> UInt16Array:
        """The smallest tone within reach of each pixel; shapes are as for :meth:`grown`."""
        return self._over_disc(tones, np.minimum)

    def well_inside(self, tones: UInt16Array) -> BoolArray:
        """Which pixels are farther than the reach from every place without ink.

        Parameters
        ----------
        tones : (n, beyond + h + beyond, w) uint16, of films that lie over each other; one percent
            and less is taken for none

        Returns
        -------
        (h, w) bool
        """
        inked = np.where((tones > FULL // 100).any(axis=0), np.uint16(1), np.uint16(0))
        found: BoolArray = self.shrunk(self.bridged(np.asarray(inked))) > 0
        return found

    def bridged(self, tones: UInt16Array) -> UInt16Array:
        """Tones with those of both sides across open lines that are too narrow to print.

        Parameters
        ----------
        tones : (beyond + h + beyond, w) uint16

        Returns
        -------
        (down + h + down, w) uint16
        """
        if self._bridge is None:
            return tones
        more = 2 * self._bridge.down
        own = tones[more : len(tones) - more]
        closed = self._bridge.shrunk(self._bridge.grown(tones))
        return np.where(own > FULL // 100, own, np.maximum(own, closed))

    def with_surroundings(
        self, rows: Callable[[int, int], UInt16Array], first: int, count: int, *, height: int
    ) -> UInt16Array:
        """Rows of films with as many above and below as they depend on, blank beyond the films.

        Parameters
        ----------
        rows : gives (n, count, w) uint16 from a first row on
        height : of the films

        Returns
        -------
        (n, beyond + count + beyond, w) uint16
        """
        top, bottom = max(0, first - self.beyond), min(height, first + count + self.beyond)
        missing = (top - (first - self.beyond), first + count + self.beyond - bottom)
        return np.pad(rows(top, bottom - top), ((0, 0), missing, (0, 0)))

    def choked_rows(
        self,
        rows: Callable[[int, int], UInt16Array],
        first: int,
        count: int,
        *,
        height: int,
        film: int | None,
    ) -> UInt16Array:
        """Rows of films of which one is drawn back; of none all are as they are given.

        Parameters
        ----------
        rows, height : as for :meth:`with_surroundings`
        """
        if film is None:
            return rows(first, count)
        return self.choked(self.with_surroundings(rows, first, count, height=height), film)

    def choked(self, around: UInt16Array, film: int) -> UInt16Array:
        """Films of which one is drawn back from where all printing ends.

        Parameters
        ----------
        around : (n, beyond + h + beyond, w) uint16
        film : which of them

        Returns
        -------
        (n, h, w) uint16
        """
        tones = around[:, self.beyond : around.shape[1] - self.beyond].copy()
        tones[film, ~self.well_inside(around)] = 0
        return tones

    def _over_disc(self, tones: UInt16Array, combine: _Combine) -> UInt16Array:
        width, height = tones.shape[1], len(tones) - 2 * self.down
        padded = np.pad(tones, ((0, 0), (self.across, self.across)))
        runs: dict[int, UInt16Array] = {}
        run, reached = padded, 1
        for length in sorted({length for _, length in self._spans}):
            # A run over so many columns, from the last in steps no longer than itself.
            while reached < length:
                step = min(reached, length - reached)
                run = combine(run[:, : run.shape[1] - step], run[:, step:])
                reached += step
            runs[length] = run
        result: UInt16Array | None = None
        for row, (first, length) in enumerate(self._spans):
            line = runs[length][row : row + height, first : first + width]
            result = line.copy() if result is None else combine(result, line)
        assert result is not None
        return result

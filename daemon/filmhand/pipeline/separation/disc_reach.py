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


class DiscReach:
    """A distance in every direction, in whole device pixels.

    Parameters
    ----------
    across, down : the distance in pixels, 0 or more

    Attributes
    ----------
    across, down : as given; rows depend on ``down`` rows above and below
    """

    def __init__(self, across: int, down: int) -> None:
        self.across, self.down = across, down
        self._spans = Disc.of(2 * across + 1, 2 * down + 1).spans

    @classmethod
    def of(cls, distance_mm: float, resolution: PixelsPerInch) -> DiscReach:
        """The nearest whole pixels to a distance."""
        return cls(
            round(distance_mm * resolution.x / MM_PER_INCH),
            round(distance_mm * resolution.y / MM_PER_INCH),
        )

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
        tones : (n, down + h + down, w) uint16, of films that lie over each other; one percent and
            less is taken for none

        Returns
        -------
        (h, w) bool
        """
        inked = np.where((tones > FULL // 100).any(axis=0), np.uint16(1), np.uint16(0))
        found: BoolArray = self.shrunk(np.asarray(inked)) > 0
        return found

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
        (n, down + count + down, w) uint16
        """
        top, bottom = max(0, first - self.down), min(height, first + count + self.down)
        missing = (top - (first - self.down), first + count + self.down - bottom)
        return np.pad(rows(top, bottom - top), ((0, 0), missing, (0, 0)))

    def choked(self, around: UInt16Array, film: int) -> UInt16Array:
        """Films of which one is drawn back from where all printing ends.

        Parameters
        ----------
        around : (n, down + h + down, w) uint16
        film : which of them

        Returns
        -------
        (n, h, w) uint16
        """
        tones = around[:, self.down : around.shape[1] - self.down].copy()
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

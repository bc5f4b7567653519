"""The regions of inks at device resolution, each pixel in one of them, with traps and chokes.

Each device pixel goes to one ink or to the cloth, as
:mod:`~filmhand.pipeline.separation.geometry.region_owners` says, so no gap and no double
can be, whatever the sizes of art and film. A trap grows an ink under the solid of another, so that
no cloth shows where films do not quite meet; a choke draws what lies under all inks back from their
edge.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image

from filmhand.arrays import BoolArray, Float64Array, UInt8Array, UInt16Array
from filmhand.art.raster import row_strips
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.geometry.ink_regions import InkRegions
from filmhand.pipeline.separation.geometry.region_owners import region_owners
from filmhand.sheet.resample import Resampled
from filmhand.tone import FULL
from filmhand.values import dataclass

_STRIP_PIXELS = 2**18


@dataclass(frozen=True, slots=True)
class Trap:
    """An ink that goes under another where they meet.

    Attributes
    ----------
    spread : the ink that grows, by its place in print order
    under : the ink whose solid it goes under; its own film stays as it is
    """

    spread: int
    under: int


class InkShapes:
    """The tone of each ink's film, given in strips; several threads may ask for them.

    Parameters
    ----------
    regions : of the art as it lies on the film, its inks in print order
    to : (width, height) that the art has on the film, in device pixels
    traps : each pair once
    reach : how far inks grow at traps
    over : inks that overprint: their areas count by themselves, and not among the others'
    """

    def __init__(
        self,
        regions: InkRegions,
        to: tuple[int, int],
        *,
        traps: Sequence[Trap] = (),
        reach: DiscReach | None = None,
        over: Sequence[int] = (),
    ) -> None:
        self._to = to
        self._traps = tuple(traps)
        self._reach = reach or DiscReach(0, 0)
        self._alike = [k for k in range(len(regions.areas)) if k not in over]
        areas = regions.areas[self._alike] if over else regions.areas
        self._owners = region_owners(areas, to)
        self._over = {
            k: region_owners(np.stack([area, np.uint16(FULL) - area]), to)
            for k, area in enumerate(regions.areas)
            if k in over
        }
        self._toned = [
            None if tone is None else _MeanTone(area, tone, to)
            for area, tone in zip(regions.areas[:-1], regions.tones, strict=True)
        ]

    @property
    def ink_count(self) -> int:
        """How many inks there are."""
        return len(self._toned)

    def owners(self, first: int, count: int) -> UInt8Array:
        """(count, width) uint8: whose each device pixel is, by place in print order.

        The cloth's place is the number of inks. Where several have as much of a pixel the first has
        it. Inks that overprint own none: they lie over others.
        """
        owners = self._owners.rows(first, count)
        return np.array(self._alike, np.uint8)[owners] if self._over else owners

    def tones(self, first: int, count: int) -> UInt16Array:
        """The tones of all films in rows first .. first + count - 1.

        Returns
        -------
        (n, count, width) uint16, 0 where the ink is not and 65535 where it is solid
        """
        if not self._traps:
            return self._alone(first, count)
        beyond = self._reach.down
        around = self._reach.with_surroundings(self._alone, first, count, height=self._to[1])
        alone = around[:, beyond : beyond + count]
        tones = alone.copy()
        for trap in self._traps:
            solid = alone[trap.under] == FULL
            if not solid.any() or not around[trap.spread].any():
                continue
            # Grown from where the ink is by itself, so one trap never carries another on.
            grown = self._reach.grown(around[trap.spread])
            spread = tones[trap.spread]
            np.maximum(spread, grown, out=spread, where=solid)
        return tones

    def underbase(
        self, first: int, count: int, choke: DiscReach, *, inks: Sequence[int]
    ) -> UInt16Array:
        """The tone of a film that lies under some inks and is choked.

        Parameters
        ----------
        choke : how far it is drawn back from the edges of all of them together
        inks : places in print order

        Returns
        -------
        (count, width) uint16
        """
        films = choke.with_surroundings(self._alone, first, count, height=self._to[1])
        around = films[list(inks)]
        inside = choke.well_inside(around)
        # Between a solid and a tint nothing is drawn back: the cloth would show through both.
        largest = choke.bridged(around.max(axis=0))[choke.down : choke.down + count]
        base: UInt16Array = np.where(inside, largest, np.uint16(0))
        return base

    def _alone(self, first: int, count: int) -> UInt16Array:
        """(n, count, width) the tones without traps."""
        owners = self.owners(first, count)
        tones = np.zeros((self.ink_count, *owners.shape), np.uint16)
        for k, toned in enumerate(self._toned):
            over = self._over.get(k)
            own = owners == k if over is None else over.rows(first, count) == 0
            if toned is None:
                tones[k, own] = FULL
            elif own.any():
                tones[k, own] = toned.of(own, first)
        return tones


class _MeanTone:
    """The mean tone of what an ink has of a device pixel, and not of what is beside it."""

    def __init__(self, area: UInt16Array, tone: UInt16Array, to: tuple[int, int]) -> None:
        parts = np.arange(FULL + 1) / FULL
        # As owners are found, so that an ink has a part of each pixel that is its own.
        reduced = to[0] < area.shape[1] or to[1] < area.shape[0]
        method = Image.Resampling.BOX if reduced else Image.Resampling.BILINEAR
        self._area = Resampled(area, parts, to, method=method)
        self._toned = Resampled(_product(area, tone), parts, to, method=method)

    def of(self, own: BoolArray, first: int) -> UInt16Array:
        """(m,) the tones of the pixels that are True in rows from ``first`` on."""
        count = len(own)
        share = self._toned.rows(first, count)[own].astype(np.float64)
        share /= self._area.rows(first, count)[own]
        tones: UInt16Array = np.rint(np.clip(share, 0, 1) * FULL).astype(np.uint16)
        return tones


def _product(area: UInt16Array, tone: UInt16Array) -> UInt16Array:
    """(H, W) uint16: the part of a pixel times the tone in it."""
    product = np.empty_like(area)
    for rows in row_strips(area.shape, _STRIP_PIXELS):
        exact: Float64Array = area[rows].astype(np.float64) * tone[rows] / FULL
        product[rows] = np.rint(exact)
    return product

"""What lies beneath inks that overprint.

A picture of pixels shows only what lies on top. Beneath the solid of an ink that overprints, each
place is therefore taken for what the nearest place has that shows the inks printed before it, or
the cloth: a line over two colors gets each of them to its middle, and a letter over one color has
no hole. A tint of the ink shows what is beneath it, which is the cloth, as the art's color tells.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from filmhand.arrays import BoolArray, UInt16Array
from filmhand.art.raster import in_threads, row_strips
from filmhand.pipeline.separation.geometry.ink_regions import InkRegions
from filmhand.pipeline.separation.geometry.nearest_places import NearestPlaces
from filmhand.tone import FULL

_STRIP_PIXELS = 2**19


def fill_beneath(regions: InkRegions, over: Sequence[int]) -> None:
    """Have what lies beneath overprinting inks go on beneath them, in place.

    Afterwards the areas of all other inks and of the cloth add up to 1, and those of each
    overprinting ink count by themselves. Done twice it changes nothing more.

    Parameters
    ----------
    regions : of the art, its inks in print order
    over : which of them overprint
    """
    # The last one first: what lies beneath it may be another that overprints.
    for ink in sorted(over, reverse=True):
        _fill_beneath(regions, ink, over)


def _fill_beneath(regions: InkRegions, ink: int, over: Sequence[int]) -> None:
    areas, tones = regions.areas, regions.tones
    cloth = len(areas) - 1
    later = [k for k in range(ink + 1, cloth) if k not in over]
    beneath = [*range(ink), cloth]
    shape = areas.shape[1:]
    strips = list(row_strips(shape, _STRIP_PIXELS))
    sources = np.empty(shape, np.bool_)

    def part_of(rows: slice) -> tuple[BoolArray, BoolArray]:
        """Where the ink is solid, and where it is a tint."""
        there = areas[ink, rows] > 0
        tone = tones[ink]
        tinted = np.zeros_like(there) if tone is None else there & (tone[rows] < FULL)
        return there & ~tinted, tinted

    def bare(rows: slice) -> None:
        solid, tinted = part_of(rows)
        others = [k for k in range(cloth) if k not in over]
        taken = areas[others, rows].sum(axis=0, dtype=np.uint32)[tinted]
        areas[cloth, rows][tinted] = FULL - np.minimum(taken, FULL)
        sources[rows] = ~solid & ~areas[ink + 1 : cloth, rows].any(axis=0)

    in_threads(bare, strips)
    nearest = NearestPlaces(sources) if sources.any() else None

    def fill(rows: slice) -> None:
        y, x = np.nonzero(part_of(rows)[0])
        y += rows.start
        above = sum((areas[k, y, x].astype(np.float64) for k in later), np.zeros(len(y)))
        free = np.maximum(FULL - above, 0)
        if nearest is None:
            areas[:ink, y, x], areas[cloth, y, x] = 0, np.rint(free)
            return
        place = nearest.of(y, x)
        for k in beneath:
            there: UInt16Array = areas[k].reshape(-1)[place]
            areas[k, y, x] = np.rint(there * (free / FULL))
            tone = None if k == cloth else tones[k]
            if tone is not None:
                tone[y, x] = tone.reshape(-1)[place]

    in_threads(fill, strips)

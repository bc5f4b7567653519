"""Tints of a few pixels are part of the ink's shape instead.

Compression and soft tips leave pale places beside edges. Dots there would be crumbs, and one such
place would make a screened film of line art.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from filmhand.arrays import BoolArray, UInt16Array
from filmhand.art.raster import grown, row_strips
from filmhand.ink.wide_places import places_of
from filmhand.pipeline.separation.geometry.ink_regions import InkRegions
from filmhand.tone import FULL

# Of drawings in three inks that were saved as JPEG of quality 30 to 95 no place of six by six was a
# tint by mistake, of five by five some at 30, of three by three some at 70 and below, but of middle
# tones hardly any. tests/unit/pipeline/separation/test_small_tints.py draws one.
LEAST_SIDE, LEAST_MIDDLE_SIDE = 6, 3
"""Pixels to a side of the smallest tint, and of the smallest of a middle tone."""
_PALE, _DEEP = FULL // 8, FULL * 3 // 4
# Soft edges beside a tint are parts of it.
_EDGE = 3
_REACH = LEAST_SIDE - 1 + _EDGE  # rows above and below that decide on a row
_STRIP_PIXELS = 2**18


def without_crumbs(regions: InkRegions) -> InkRegions:
    """The regions with pale and deep tints only where they are wide enough.

    Elsewhere an ink keeps its share of a pixel, as area that is solid. Middle tones are no
    accident: a thin line of a tint stays one.
    """
    areas, tones = regions.areas, list(regions.tones)
    for k, plane in enumerate(tones):
        if plane is None:
            continue
        crumbs, kept = _crumbs(areas[k], plane)
        tones[k] = np.where(crumbs, np.uint16(FULL), plane) if kept else None
        if crumbs.any():
            areas = areas.copy() if areas is regions.areas else areas
            _as_area(areas, k, plane, crumbs)
    return replace(regions, areas=areas, tones=tuple(tones))


def _crumbs(area: UInt16Array, tones: UInt16Array) -> tuple[BoolArray, bool]:
    """(H, W) which tints of an ink are too small, and whether any are wide enough."""
    crumbs = np.empty(area.shape, np.bool_)
    any_kept = False
    for rows in row_strips(area.shape, _STRIP_PIXELS):
        top = max(0, rows.start - _REACH)
        around, own = slice(top, rows.stop + _REACH), slice(rows.start - top, rows.stop - top)
        plane = tones[around]
        toned = (plane < FULL) & (area[around] > 0)
        wide = grown(places_of(toned, LEAST_SIDE), _EDGE)
        middle = toned & (plane > _PALE) & (plane < _DEEP)
        kept = toned & (wide | grown(places_of(middle, LEAST_MIDDLE_SIDE), _EDGE))
        crumbs[rows] = (toned & ~kept)[own]
        any_kept |= bool(kept[own].any())
    return crumbs, any_kept


def _as_area(areas: UInt16Array, k: int, tones: UInt16Array, where: BoolArray) -> None:
    """Make an ink solid on as much of each pixel as its dots would have covered."""
    whole = areas[k][where].astype(np.uint32)
    solid = (whole * tones[where] + FULL // 2) // FULL
    areas[k][where] = solid
    areas[-1][where] += (whole - solid).astype(np.uint16)

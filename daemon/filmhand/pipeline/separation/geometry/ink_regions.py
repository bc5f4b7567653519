"""Shares of inks to regions: where each ink is, and which tone it has there.

A share of a half may be the soft edge of a solid or a tint of its ink. On film the one is a border,
drawn with device pixels, and the other is dots. A tint is even or changes slowly, and is of one ink
only; whatever else has parts of a pixel is an edge. An edge has of each ink the area that gives its
share with the tone that the ink has beside it, so tints end as sharply as solids do.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, UInt16Array
from filmhand.art.raster import local_maximum
from filmhand.tone import FULL
from filmhand.values import dataclass

REGION_REACH = 3
"""Rows above and below that the regions of a row depend on."""
_SOFT = 2  # pixels to either side within which an edge has its two sides
# The most that tones differ among three by three pixels of a tint; edges differ by half and more,
# as drawing programs soften them over three pixels at most (common practice, no source).
_SLOW = 1 / 8


@dataclass(frozen=True, slots=True, eq=False)
class InkRegions:
    """Where inks are, at the art's own resolution.

    Attributes
    ----------
    areas : (n + 1, H, W) uint16, the part of each pixel that is in the region of each ink and,
        last, of the cloth; 65535 is all of it
    tones : for each ink (H, W) uint16, its tone in its region, 65535 for solid; None for an ink
        that is solid everywhere
    """

    areas: UInt16Array
    tones: tuple[UInt16Array | None, ...]


def ink_regions(shares: Float32Array) -> InkRegions:
    """The regions of inks.

    Parameters
    ----------
    shares : (H, W, n + 1) float32, 0..1, by ink and last for the cloth; those of a pixel add up to
        1. Of a part of the art, :data:`REGION_REACH` rows at the inner ends are context
    """
    planes = np.ascontiguousarray(np.moveaxis(shares, -1, 0))
    inks, cloth = planes[:-1], planes[-1]
    settled = _settled(inks)
    edge = ~settled
    areas = (planes > 0).astype(np.float32)
    # Of a tint the whole pixel is in the region, what shows of the cloth included.
    areas[-1, settled] = cloth[settled] == 1
    tones = np.where(settled, inks, 1).astype(np.float32)
    for k, ink in enumerate(inks):
        beside = _largest_around(np.where(settled, ink, 0), _SOFT)
        tone = np.where(beside > 0, beside, 1)
        tones[k, edge] = np.maximum(tone, ink)[edge]
        areas[k, edge] = ink[edge] / tones[k, edge]
    bare = _largest_around((settled & (cloth == 1)).astype(np.float32), _SOFT) > 0
    _share_edges(areas, tones, inks, edge, bare)
    # Where an ink is not, its tone says nothing.
    tones[areas[:-1] == 0] = 1
    whole = [np.rint(plane * FULL).astype(np.uint16) for plane in tones]
    return InkRegions(
        np.rint(areas * FULL).astype(np.uint16),
        tuple(plane if (plane < FULL).any() else None for plane in whole),
    )


def _settled(inks: Float32Array) -> BoolArray:
    """(H, W) whether a pixel is all of one thing, or in a tint."""
    count = np.count_nonzero(inks, axis=0)
    most = inks.max(axis=0, initial=0)
    # Cloth has no ink of its own: it may lie in the light end of any tint.
    which = np.where(count > 0, inks.argmax(axis=0), -1).astype(np.float32)
    other = np.where(count > 0, -which, np.float32(-len(inks)))
    one_ink = _largest_around(which, 1) + _largest_around(other, 1) <= 0
    slow = _largest_around(most, 1) + _largest_around(-most, 1) <= _SLOW
    single = _largest_around(count.astype(np.float32), 1) <= 1
    settled: BoolArray = (count == 0) | (most == 1) | (single & one_ink & slow)
    return settled


def _largest_around(plane: Float32Array, reach: int) -> Float32Array:
    """(H, W) the largest value within so many pixels across and down; none is beyond the art."""
    return local_maximum(plane, 2 * reach + 1)


def _share_edges(
    areas: Float32Array, tones: Float32Array, inks: Float32Array, edge: BoolArray, bare: BoolArray
) -> None:
    """Make the areas of edges add up to 1; what no ink takes is the cloth's, where there is any."""
    count = np.count_nonzero(inks, axis=0)
    taken = areas[:-1].sum(axis=0)
    # Between tones of one ink no cloth may show as a line: the tone changes, and not the region.
    within = edge & ~bare & (count == 1)
    areas[:-1, within] = inks[:, within] > 0
    tones[:, within] = np.where(inks[:, within] > 0, inks[:, within], tones[:, within])
    areas[-1, within] = 0
    shared = edge & ~within
    scale = np.where(bare, np.maximum(taken, 1), np.where(taken > 0, taken, 1))
    areas[:-1, shared] /= scale[shared]
    areas[-1, shared] = np.clip(1 - areas[:-1, shared].sum(axis=0), 0, 1)

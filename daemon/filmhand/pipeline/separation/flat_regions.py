"""Flat art to the regions of its inks, so many rows at a time."""

from __future__ import annotations

from dataclasses import replace
from threading import Lock

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.art.raster import in_threads, row_strips
from filmhand.ink.flat_colors import (
    EDGE_REACH,
    MOST_COLORS_TOLD,
    FlatColors,
    FlatShares,
    SrgbCodes,
    UnreachedColor,
    share_flats,
)
from filmhand.pipeline.separation.ink_regions import REGION_REACH, InkRegions, ink_regions
from filmhand.tone import FULL
from filmhand.values import dataclass

# Shares of some inks take tens of bytes a pixel while they are found.
_STRIP_PIXELS = 2**19


@dataclass(frozen=True, slots=True, eq=False)
class FlatRegions:
    """Where inks are in flat art, and what no ink comes near.

    Attributes
    ----------
    regions : at the art's own resolution
    unreached_pixels : how many pixels no ink, edge or tint comes near
    unreached : their most frequent colors, of those that are among the most frequent of a strip
    """

    regions: InkRegions
    unreached_pixels: int
    unreached: tuple[UnreachedColor, ...]


def regions_of_flats(
    codes: SrgbCodes, colors: FlatColors, *, strip_pixels: int = _STRIP_PIXELS
) -> FlatRegions:
    """The regions of the inks of flat art.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB, as the art lies on the film
    colors : of the same art, from :func:`filmhand.ink.flat_colors.flat_colors`
    strip_pixels : about so many are worked on at once
    """
    height, width = codes.shape[:2]
    areas = np.empty((len(colors.palette), height, width), np.uint16)
    tones: list[UInt16Array | None] = [None] * colors.cloth
    strips = list(row_strips((height, width), strip_pixels))
    shared: list[FlatShares | None] = [None] * len(strips)
    lock = Lock()

    def one(number: int) -> None:
        rows = strips[number]
        first = max(0, rows.start - EDGE_REACH - REGION_REACH)
        stop = min(height, rows.stop + EDGE_REACH + REGION_REACH)
        own = slice(rows.start - first, rows.stop - first)
        found = share_flats(codes[first:stop], colors, counted=own)
        part = ink_regions(found.shares)
        areas[:, rows] = part.areas[:, own]
        for k, toned in enumerate(part.tones):
            if toned is None or (toned[own] == FULL).all():
                continue
            with lock:
                plane = tones[k]
                if plane is None:
                    plane = tones[k] = np.full((height, width), FULL, np.uint16)
            plane[rows] = toned[own]
        shared[number] = replace(found, shares=found.shares[:0])

    in_threads(one, range(len(strips)))
    told = [each for each in shared if each is not None]
    return FlatRegions(
        InkRegions(areas, tuple(tones)),
        sum(each.unreached_pixels for each in told),
        _most_frequent([color for each in told for color in each.unreached]),
    )


def _most_frequent(colors: list[UnreachedColor]) -> tuple[UnreachedColor, ...]:
    """The colors of all strips together: each once, the most frequent first."""
    joined: dict[tuple[float, ...], UnreachedColor] = {}
    for color in colors:
        key = tuple(color.color.tolist())
        so_far = joined[key].pixels if key in joined else 0
        joined[key] = replace(color, pixels=so_far + color.pixels)
    return tuple(sorted(joined.values(), key=lambda color: -color.pixels)[:MOST_COLORS_TOLD])

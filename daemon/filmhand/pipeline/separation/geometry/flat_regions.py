"""Flat art to the regions of its inks, so many rows at a time."""

from __future__ import annotations

from dataclasses import replace
from threading import Lock

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.art.raster import in_threads
from filmhand.ink.art_pieces import STRIP_PIXELS, ArtPiece, SrgbCodes, art_pieces
from filmhand.ink.flat_colors import (
    COUNTED_REACH,
    EDGE_REACH,
    MOST_COLORS_TOLD,
    FlatColors,
    FlatShares,
    UnreachedColor,
    place_of_color,
    share_flats,
)
from filmhand.pipeline.separation.geometry.fades import Fades
from filmhand.pipeline.separation.geometry.ink_regions import REGION_REACH, InkRegions, ink_regions
from filmhand.pipeline.separation.geometry.soft_seams import SEAM_REACH, without_seams
from filmhand.tone import FULL
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True, eq=False)
class FlatRegions:
    """Where inks are in flat art, and what no ink comes near.

    Attributes
    ----------
    regions : at the art's own resolution
    unreached_pixels : how many pixels no ink, edge or tint comes near
    unreached : their most frequent colors, of those that are among the most frequent of a piece
    """

    regions: InkRegions
    unreached_pixels: int
    unreached: tuple[UnreachedColor, ...]


def regions_of_flats(
    codes: SrgbCodes,
    colors: FlatColors,
    *,
    fades: Fades | None = None,
    strip_pixels: int = STRIP_PIXELS,
) -> FlatRegions:
    """The regions of the inks of flat art.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB, as the art lies on the film
    colors : of the same art, from :func:`filmhand.ink.flat_colors.flat_colors`
    fades : where inks fade to the cloth, from
        :func:`filmhand.pipeline.separation.geometry.fades.fades_of`, if anywhere
    strip_pixels : about so many are worked on at once
    """
    height, width = codes.shape[:2]
    areas = np.empty((len(colors.palette), height, width), np.uint16)
    tones: list[UInt16Array | None] = [None] * colors.cloth
    shared: list[FlatShares] = []
    lock = Lock()

    def one(piece: ArtPiece) -> None:
        place = areas[:, piece.rows, piece.columns]
        fading = None if fades is None else fades.of(*piece.around)
        if piece.plain and (fading is None or (fading < 0).all()):
            label = place_of_color(codes[piece.rows.start, piece.columns.start], colors)
            if label >= 0:
                place[:], place[label] = 0, FULL
                return
        found = share_flats(codes[piece.around], colors, counted=piece.own, fading=fading)
        shares = without_seams(codes[piece.around], found.shares, colors, fading=fading)
        part = ink_regions(shares)
        place[:] = part.areas[:, *piece.own]
        with lock:
            shared.append(replace(found, shares=found.shares[:0]))
            for k, toned in enumerate(part.tones):
                if toned is None or (toned[piece.own] == FULL).all():
                    continue
                plane = tones[k]
                if plane is None:
                    plane = tones[k] = np.full((height, width), FULL, np.uint16)
                plane[piece.rows, piece.columns] = toned[piece.own]

    reach = max(EDGE_REACH + SEAM_REACH + REGION_REACH, COUNTED_REACH)
    in_threads(one, art_pieces(codes, reach, strip_pixels=strip_pixels))
    return FlatRegions(
        InkRegions(areas, tuple(tones)),
        sum(each.unreached_pixels for each in shared),
        _most_frequent([color for each in shared for color in each.unreached]),
    )


def _most_frequent(colors: list[UnreachedColor]) -> tuple[UnreachedColor, ...]:
    """The colors of all pieces together: each once, the most frequent first."""
    joined: dict[tuple[float, ...], UnreachedColor] = {}
    for color in colors:
        key = tuple(color.color.tolist())
        so_far = joined[key].pixels if key in joined else 0
        joined[key] = replace(color, pixels=so_far + color.pixels)
    order = sorted(joined, key=lambda key: (-joined[key].pixels, key))
    return tuple(joined[key] for key in order[:MOST_COLORS_TOLD])

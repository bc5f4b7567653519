"""The plates of art that is separated already to the tones of its films, at device resolution.

Plates of drawings have sharp edges: an edge is drawn with device pixels, and dots are only where a
plate has a tint. Plates of pictures are resampled as pictures are.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image

from filmhand.arrays import Float32Array, UInt16Array
from filmhand.art.raster import in_threads, row_strips
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.geometry.film_bits import ToneSource
from filmhand.pipeline.separation.geometry.ink_regions import REGION_REACH, InkRegions, ink_regions
from filmhand.pipeline.separation.geometry.ink_shapes import InkShapes
from filmhand.pipeline.separation.geometry.region_owners import region_owners
from filmhand.sheet.resample import Resampled
from filmhand.tone import FULL

_STRIP_PIXELS = 2**19
_PARTS = np.arange(FULL + 1) / FULL


class PlateTones:
    """The tone of each ink's film, given in strips; several threads may ask for them.

    Parameters
    ----------
    plates : (H, W) uint16 of each ink in print order, 65535 for a solid, as they lie on the films
    to : (width, height) that the art has on the films, in device pixels
    drawn : whether they are plates of a drawing
    underbase : which ink lies below all others and is choked, by its place; it has a plate
    choke : how far it is drawn back from where all printing ends
    """

    def __init__(
        self,
        plates: Sequence[UInt16Array],
        to: tuple[int, int],
        *,
        drawn: bool,
        underbase: int | None = None,
        choke: DiscReach | None = None,
    ) -> None:
        self._height = to[1]
        self._underbase = underbase
        self._choke = choke or DiscReach(0, 0)
        kind = _shape if drawn else _Picture
        self._plates: list[ToneSource] = [kind(plate, to) for plate in plates]
        self.screened = tuple(not isinstance(plate, _Solid) for plate in self._plates)
        """Of each film whether it has tones between none and a solid."""

    def tones(self, first: int, count: int) -> UInt16Array:
        """The tones of all films in rows first .. first + count - 1.

        Returns
        -------
        (n, count, width) uint16, 0 for none of the ink and 65535 for a solid
        """
        return self._choke.choked_rows(
            self._unchoked, first, count, height=self._height, film=self._underbase
        )

    def _unchoked(self, first: int, count: int) -> UInt16Array:
        return np.concatenate([plate.tones(first, count) for plate in self._plates])


class _Picture:
    """A plate of a picture."""

    def __init__(self, plate: UInt16Array, to: tuple[int, int]) -> None:
        self._plate = Resampled(plate, _PARTS, to, method=Image.Resampling.LANCZOS)

    def tones(self, first: int, count: int) -> UInt16Array:
        found: Float32Array = np.clip(self._plate.rows(first, count), 0, 1)
        tones: UInt16Array = np.rint(found * np.float32(FULL)).astype(np.uint16)
        return tones[None]


class _Solid:
    """A plate of a drawing without tints: a device pixel has its ink or has not."""

    def __init__(self, regions: InkRegions, to: tuple[int, int]) -> None:
        self._owners = region_owners(regions.areas, to)

    def tones(self, first: int, count: int) -> UInt16Array:
        owners = self._owners.rows(first, count)
        return np.where(owners == 0, np.uint16(FULL), np.uint16(0))[None]


def _shape(plate: UInt16Array, to: tuple[int, int]) -> ToneSource:
    """A plate of a drawing; where it has no tints, with less memory."""
    regions = _regions(plate)
    return _Solid(regions, to) if regions.tones[0] is None else InkShapes(regions, to)


def _regions(plate: UInt16Array) -> InkRegions:
    """Where a plate has ink, so many rows at a time, and which tone it has there."""
    height = plate.shape[0]
    areas = np.empty((2, *plate.shape), np.uint16)
    tones = np.full(plate.shape, FULL, np.uint16)

    def one(rows: slice) -> None:
        top = max(0, rows.start - REGION_REACH)
        bottom = min(height, rows.stop + REGION_REACH)
        if np.isin(plate[top:bottom], (0, FULL)).all():
            areas[0, rows], areas[1, rows] = plate[rows], FULL - plate[rows]
            return
        share = plate[top:bottom].astype(np.float32) / np.float32(FULL)
        part = ink_regions(np.stack([share, 1 - share], axis=-1))
        own = slice(rows.start - top, rows.stop - top)
        areas[:, rows] = part.areas[:, own]
        toned = part.tones[0]
        if toned is not None:
            tones[rows] = toned[own]

    in_threads(one, row_strips(plate.shape, _STRIP_PIXELS))
    return InkRegions(areas, (tones if (tones < FULL).any() else None,))

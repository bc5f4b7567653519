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
from filmhand.pipeline.separation.disc_reach import DiscReach
from filmhand.pipeline.separation.ink_regions import REGION_REACH, InkRegions, ink_regions
from filmhand.pipeline.separation.ink_shapes import InkShapes
from filmhand.sheet.resample import Resampled
from filmhand.tone import FULL

_STRIP_PIXELS = 2**19


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
        self._shapes: list[InkShapes] = []
        self._pictures: list[Resampled] = []
        regions = [_regions(plate) for plate in plates] if drawn else []
        self.screened = (
            tuple(one.tones[0] is not None for one in regions) if drawn else (True,) * len(plates)
        )
        """Of each film whether it has tones between none and a solid."""
        if drawn:
            self._shapes = [InkShapes(one, to) for one in regions]
        else:
            parts = np.arange(FULL + 1) / FULL
            self._pictures = [
                Resampled(plate, parts, to, method=Image.Resampling.LANCZOS) for plate in plates
            ]

    def tones(self, first: int, count: int) -> UInt16Array:
        """The tones of all films in rows first .. first + count - 1.

        Returns
        -------
        (n, count, width) uint16, 0 for none of the ink and 65535 for a solid
        """
        if self._underbase is None:
            return self._unchoked(first, count)
        beyond = self._choke.down
        top, bottom = max(0, first - beyond), min(self._height, first + count + beyond)
        missing = (top - (first - beyond), first + count + beyond - bottom)
        around = np.pad(self._unchoked(top, bottom - top), ((0, 0), missing, (0, 0)))
        tones = around[:, beyond : beyond + count].copy()
        tones[self._underbase, ~self._choke.well_inside(around)] = 0
        return tones

    def _unchoked(self, first: int, count: int) -> UInt16Array:
        if self._shapes:
            return np.concatenate([shapes.tones(first, count) for shapes in self._shapes])
        found: Float32Array = np.stack([plate.rows(first, count) for plate in self._pictures])
        np.clip(found, 0, 1, out=found)
        tones: UInt16Array = np.rint(found * np.float32(FULL)).astype(np.uint16)
        return tones


def _regions(plate: UInt16Array) -> InkRegions:
    """Where a plate has ink, so many rows at a time, and which tone it has there."""
    height = plate.shape[0]
    areas = np.empty((2, *plate.shape), np.uint16)
    tones = np.full(plate.shape, FULL, np.uint16)

    def one(rows: slice) -> None:
        top = max(0, rows.start - REGION_REACH)
        bottom = min(height, rows.stop + REGION_REACH)
        share = plate[top:bottom].astype(np.float32) / np.float32(FULL)
        part = ink_regions(np.stack([share, 1 - share], axis=-1))
        own = slice(rows.start - top, rows.stop - top)
        areas[:, rows] = part.areas[:, own]
        toned = part.tones[0]
        if toned is not None:
            tones[rows] = toned[own]

    in_threads(one, row_strips(plate.shape, _STRIP_PIXELS))
    return InkRegions(areas, (tones if (tones < FULL).any() else None,))

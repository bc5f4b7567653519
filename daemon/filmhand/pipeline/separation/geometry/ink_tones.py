"""Colors of art to the tone of each ink at device resolution, for inks that lie over each other.

Colors become coverages at the art's own resolution, and coverages are resampled: light goes by
areas, so what is mixed of two pixels is the mean of their areas. Where a filter overshoots at an
edge the tones are drawn back to what a place may have of all inks together.

An underbase is choked where all printing ends, so that it does not look out from below.
"""

from __future__ import annotations

import numpy as np
from PIL import Image

from filmhand.arrays import Float32Array, UInt16Array
from filmhand.art.raster import in_threads, row_strips
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.color_table import ColorTable
from filmhand.ink.soft_edges import CONTEXT, blend_soft_edges
from filmhand.ink.waves_of_jpeg import WAVES_REACH, Flats, calm_edges, common_flats
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.sheet.resample import Resampled
from filmhand.tone import FULL

_STRIP_PIXELS = 96_000


class InkTones:
    """The tone of each ink's film, given in strips; several threads may ask for them.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB, the art as it lies on the film
    table : from codes 0..1 to the coverage of each ink, 0..1, in print order
    to : (width, height) that the art has on the film, in device pixels
    total_ink : the most that the coverages of a place add up to, 3 for 300 %
    underbase : which ink lies below all others and is choked, by its place in print order
    choke : how far it is drawn back
    drawn : whether the art is a drawing, whose soft edges have no inks but those of its flats
    lossy : whether it was a JPEG or the like
    """

    def __init__(
        self,
        codes: SrgbCodes,
        table: ColorTable,
        to: tuple[int, int],
        *,
        total_ink: float = np.inf,
        underbase: int | None = None,
        choke: DiscReach | None = None,
        drawn: bool = False,
        lossy: bool = False,
    ) -> None:
        self._total_ink = total_ink
        self._height = to[1]
        self._underbase = underbase
        self._choke = choke or DiscReach(0, 0)
        parts = np.arange(FULL + 1) / FULL
        self._coverages = [
            Resampled(plane, parts, to, method=Image.Resampling.LANCZOS)
            for plane in _coverages(codes, table, drawn=drawn, lossy=lossy)
        ]

    @property
    def ink_count(self) -> int:
        """How many inks there are."""
        return len(self._coverages)

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
        """(n, count, width) the tones with the underbase as wide as all others."""
        found: Float32Array = np.stack([plane.rows(first, count) for plane in self._coverages])
        np.clip(found, 0, 1, out=found)
        if self._total_ink < self.ink_count:
            total = found.sum(axis=0)
            found *= self._total_ink / np.maximum(total, np.float32(self._total_ink))
        tones: UInt16Array = np.rint(found * np.float32(FULL)).astype(np.uint16)
        return tones


def _coverages(codes: SrgbCodes, table: ColorTable, *, drawn: bool, lossy: bool) -> UInt16Array:
    """(n, H, W) uint16 coverages of the art's own pixels, 65535 for all of one."""
    inks, height = table.values.shape[-1], len(codes)
    planes = np.empty((inks, *codes.shape[:2]), np.uint16)
    largest = np.iinfo(codes.dtype).max
    lossy &= drawn
    reach = WAVES_REACH if lossy else CONTEXT if drawn else 0

    def of_inks(colors: SrgbCodes) -> UInt16Array:
        found = np.clip(table.at(colors / largest), 0, 1)
        return np.moveaxis(np.rint(found * FULL).astype(np.uint16), -1, 0)

    common = common_flats(codes) if lossy else codes[:0, 0]
    flats = Flats(common, of_inks(common)) if len(common) else None

    def one(rows: slice) -> None:
        around = slice(max(0, rows.start - reach), min(height, rows.stop + reach))
        part = of_inks(codes[around])
        if flats is not None:
            calm_edges(part, codes[around], flats)
        elif drawn:
            blend_soft_edges(part, codes[around])
        planes[:, rows] = part[:, rows.start - around.start :][:, : rows.stop - rows.start]

    in_threads(one, row_strips(codes.shape[:2], _STRIP_PIXELS))
    return planes

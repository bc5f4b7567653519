"""Grey art to the bits of the sheet, strip by strip."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.mesh.components import STRIP, Census
from filmhand.screen.apply import Screener
from filmhand.sheet.layout import Box
from filmhand.sheet.resample import resample_rows
from filmhand.tone import FULL, LIGHT_STEPS, linear_table

Coded = NDArray[np.uint16]
Bits = NDArray[np.bool_]
CutRows = Callable[[int, int], Bits]


def oriented(picture: Coded, *, turned: int, mirror: bool) -> Coded:
    """The picture as it lies on the film: a quarter counter-clockwise, then left for right."""
    if turned:
        picture = np.rot90(picture)
    if mirror:
        picture = picture[:, ::-1]
    return np.ascontiguousarray(picture)


def tone_rows(coded: Coded, area: Box, table: Coded, *, drawn: bool) -> Callable[[int, int], Coded]:
    """Gives rows of film tone for the area, resampled in linear light.

    Parameters
    ----------
    coded : (H, W) uint16 sRGB-coded grey, as it lies on the film
    area : where it lies; width and height count
    table : film tone by the square root of light (:func:`filmhand.tone.light_table`)
    drawn : computer-drawn art, whose flats must not get halos when it is enlarged

    Returns
    -------
    rows(first, count) -> (count, area width) uint16, 0 = bare, 65535 = solid
    """
    height, width = coded.shape
    light_of = linear_table()
    if (width, height) == (area.width, area.height):
        by_code = table[np.rint(np.sqrt(light_of) * LIGHT_STEPS).astype(np.int32)]
        return lambda first, count: by_code[coded[first : first + count]]
    enlarged = area.width > width or area.height > height
    method = Image.Resampling.HAMMING if drawn and enlarged else Image.Resampling.LANCZOS

    def rows(first: int, count: int) -> Coded:
        light = resample_rows(
            lambda a, b: light_of[coded[a:b]],
            (width, height),
            (area.width, area.height),
            first=first,
            count=count,
            method=method,
        )
        # A few rows at a time, so that the passes find them in the processor's cache.
        tone = np.empty(light.shape, np.uint16)
        for top in range(0, count, 16):
            part = np.maximum(light[top : top + 16], 0)
            np.sqrt(part, out=part)
            part *= LIGHT_STEPS
            part += 0.5
            # Filters overshoot at hard edges; what is above white is clipped to the table's end.
            table.take(part.astype(np.intp), out=tone[top : top + 16], mode="clip")
        return tone

    return rows


def screened_rows(
    tone: Callable[[int, int], Coded], area: Box, screener: Screener, *, barred: CutRows | None
) -> CutRows:
    """Gives rows of dots for the area."""

    def rows(first: int, count: int) -> Bits:
        strip = tone(first, count)
        if barred is not None:
            strip[barred(first, count)] = 0
        return screener.cut(strip, row=area.top + first)

    return rows


def line_rows(
    share: Coded, area: Box, *, level: float, negative: bool, barred: CutRows | None
) -> CutRows:
    """Gives rows of line art for the area: solid where the ink share is above the level (0..1)."""
    height, width = share.shape
    same = (width, height) == (area.width, area.height)

    def rows(first: int, count: int) -> Bits:
        if same:
            ink = share[first : first + count] > level * FULL
        else:
            ink = (
                resample_rows(
                    lambda a, b: share[a:b].astype(np.float64),
                    (width, height),
                    (area.width, area.height),
                    first=first,
                    count=count,
                    method=Image.Resampling.BICUBIC,
                )
                > level * FULL
            )
        if negative:
            ink = ~ink
        if barred is not None:
            ink &= ~barred(first, count)
        return ink

    return rows


def mask_rows(coded: Coded, area: Box) -> CutRows:
    """Gives rows of the mask over the area: True where it is dark, so where film stays bare."""
    height, width = coded.shape

    def rows(first: int, count: int) -> Bits:
        grey = resample_rows(
            lambda a, b: coded[a:b].astype(np.float64),
            (width, height),
            (area.width, area.height),
            first=first,
            count=count,
            method=Image.Resampling.BILINEAR,
        )
        return grey < FULL / 2

    return rows


def fill(
    bits: BitSheet, area: Box, rows: CutRows, *, census: Census | None = None, threads: int = 1
) -> None:
    """Write all rows of the area to the sheet, several strips at once.

    ``census`` counts each strip while it is still at hand.
    """

    def one(first: int) -> None:
        count = min(STRIP, area.height - first)
        cut = rows(first, count)
        line = np.zeros((count, bits.width), np.bool_)
        line[:, area.left : area.right] = cut
        bits.write(area.top + first, np.packbits(line, axis=1))
        if census is not None:
            census.count(first, cut)

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(one, range(0, area.height, STRIP)))


@dataclass(frozen=True, slots=True)
class AreaOfSheet:
    """The part of a sheet where the art lies, read and written as rows of its own."""

    bits: BitSheet
    area: Box

    def read(self, first: int, stop: int) -> Bits:
        """Rows first .. stop-1 of the area, (stop - first, width) bool, True = ink."""
        packed = self.bits.read(self.area.top + first, stop - first)
        byte, offset = divmod(self.area.left, 8)
        some = np.unpackbits(packed[:, byte : (self.area.right + 7) // 8], axis=1)
        return some[:, offset : offset + self.area.width].view(np.bool_)

    def read_packed(self, first: int, stop: int) -> NDArray[np.uint8]:
        """The same rows packed, eight pixels a byte, most significant bit first."""
        if self.area.left % 8 == 0 and self.area.width % 8 == 0:
            packed = self.bits.read(self.area.top + first, stop - first)
            return packed[:, self.area.left // 8 : self.area.right // 8]
        return np.packbits(self.read(first, stop), axis=1)

    def write(self, first: int, rows: Bits) -> None:
        """Put rows back; what lies beside the area stays."""
        whole = np.unpackbits(self.bits.read(self.area.top + first, len(rows)), axis=1)
        whole[:, self.area.left : self.area.right] = rows
        self.bits.write(self.area.top + first, np.packbits(whole, axis=1))

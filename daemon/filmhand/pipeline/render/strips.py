"""Gray art to the bits of the sheet, strip by strip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.arrays import (
    BoolArray,
    Float32Array,
    Float64Array,
    Int64Array,
    UInt8Array,
    UInt16Array,
)
from filmhand.art.analysis.line_work import LineWork
from filmhand.film.bits import BitSheet
from filmhand.pipeline.render.copies import ArtCopies
from filmhand.screen.screener import Screener
from filmhand.sheet.layout import Box
from filmhand.sheet.resample import resample_rows
from filmhand.tone import FULL, linear_table

# Rows that are laid down at once.
STRIP = 128
CutRows = Callable[[int, int], BoolArray]
_T = TypeVar("_T", bound=np.generic)


def oriented(picture: NDArray[_T], *, turned: int, mirror: bool) -> NDArray[_T]:
    """The picture as it lies on the film: a quarter counter-clockwise, then left for right."""
    if turned:
        picture = np.rot90(picture)
    if mirror:
        picture = picture[:, ::-1]
    return np.ascontiguousarray(picture)


def light_rows(coded: UInt16Array, area: Box, *, drawn: bool) -> Callable[[int, int], Float32Array]:
    """Gives rows of light for the area, resampled in linear light.

    Parameters
    ----------
    coded : (H, W) uint16 sRGB-coded gray, as it lies on the film
    area : where it lies; width and height count
    drawn : computer-drawn art, whose flats must not get halos when it is enlarged

    Returns
    -------
    rows(first, count) -> (count, area width) float32, 0 = black, 1 = white, beyond both at edges
    """
    height, width = coded.shape
    light_of = linear_table()
    if (width, height) == (area.width, area.height):
        single = light_of.astype(np.float32)
        return lambda first, count: single[coded[first : first + count]]
    enlarged = area.width > width or area.height > height
    method = Image.Resampling.HAMMING if drawn and enlarged else Image.Resampling.LANCZOS
    return _resampled(coded, area, method, lambda codes: light_of[codes])


def _resampled(
    picture: UInt16Array,
    area: Box,
    method: Image.Resampling,
    value: Callable[[UInt16Array], Float64Array] = lambda codes: codes.astype(np.float64),
) -> Callable[[int, int], Float32Array]:
    """Gives rows of the area of what the codes of a picture stand for."""
    size = picture.shape[1], picture.shape[0]
    return lambda first, count: resample_rows(
        lambda a, b: value(picture[a:b]),
        size,
        (area.width, area.height),
        first=first,
        count=count,
        method=method,
    )


@dataclass(frozen=True, slots=True)
class EdgeStrips:
    """Cuts the line work inside a picture at one threshold instead of many.

    Attributes
    ----------
    work : where the picture is line work
    picture : (height, width) of the picture in its own pixels, as it lies on the film
    copies : where it lies on the film
    half : the light at which the film's tone is 50 %
    dark_inks : ink is where light <= half, not where it is >= half
    """

    work: LineWork
    picture: tuple[int, int]
    copies: ArtCopies
    half: np.float32
    dark_inks: bool

    def draw(self, light: Float32Array, ink: BoolArray, *, first: int) -> None:
        """Put the line work of the rows from ``first`` into their ink."""
        rows = self._blocks(first, len(ink), axis=0)
        if not self.work.blocks[rows.min() : rows.max() + 1].any():
            return
        cut = light <= self.half if self.dark_inks else light >= self.half
        np.copyto(ink, cut, where=self.where(first, len(ink)))

    def where(self, first: int, count: int) -> BoolArray:
        """The line work among rows of the area: (count, area width) bool."""
        columns = self._blocks(0, self.copies.area.width, axis=1)
        return self.work.blocks[self._blocks(first, count, axis=0)][:, columns]

    def _blocks(self, first: int, count: int, *, axis: int) -> Int64Array:
        """The block that each row (axis 0) or column (axis 1) of the film lies in."""
        copy, pitch = self.copies.copy, self.copies.pitch[1 - axis]
        whole = (copy.height, copy.width)[axis]
        pixel = ((first + np.arange(count)) % pitch).clip(max=whole - 1)
        place = (pixel + 0.5) * self.picture[axis] / whole
        block: Int64Array = (place / self.work.size[axis]).astype(np.int64)
        return block.clip(max=self.work.blocks.shape[axis] - 1)


def screened_rows(
    light: Callable[[int, int], Float32Array],
    area: Box,
    screener: Screener,
    edges: Sequence[EdgeStrips],
) -> CutRows:
    """Gives rows of dots for the area, but sharp edges where there is line work; the last wins."""

    def rows(first: int, count: int) -> BoolArray:
        strip = light(first, count)
        ink = screener.cut(strip, row=area.top + first)
        for some in edges:
            some.draw(strip, ink, first=first)
        return ink

    return rows


def line_rows(share: UInt16Array, area: Box, *, level: float, negative: bool) -> CutRows:
    """Gives rows of line art for the area: solid where the ink share is above the level (0..1)."""
    same = share.shape == (area.height, area.width)
    resampled = _resampled(share, area, Image.Resampling.BICUBIC)

    def rows(first: int, count: int) -> BoolArray:
        shown = share[first : first + count] if same else resampled(first, count)
        ink = shown > level * FULL
        return ~ink if negative else ink

    return rows


def not_barred(rows: CutRows, barred: CutRows | None) -> CutRows:
    """The same rows, bare where ``barred`` is True."""
    if barred is None:
        return rows
    return lambda first, count: rows(first, count) & ~barred(first, count)


def mask_rows(coded: UInt16Array, area: Box) -> CutRows:
    """Gives rows of the mask over the area: True where it is dark, so where film stays bare."""
    gray = _resampled(coded, area, Image.Resampling.BILINEAR)
    return lambda first, count: gray(first, count) < FULL / 2


def fill_rows_of_sheet(bits: BitSheet, area: Box, rows: CutRows, *, threads: int = 1) -> None:
    """Write all rows of the area to the sheet, several strips at once."""

    def one(first: int) -> None:
        count = min(STRIP, area.height - first)
        cut = rows(first, count)
        line = np.zeros((count, bits.width), np.bool_)
        line[:, area.left : area.right] = cut
        bits.write(area.top + first, np.packbits(line, axis=1))

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(one, range(0, area.height, STRIP)))


@dataclass(frozen=True, slots=True)
class AreaOfSheet:
    """The part of a sheet where the art lies, read and written as rows of its own."""

    bits: BitSheet
    area: Box

    @property
    def skip(self) -> int:
        """Pixels (0 .. 7) before the area in the first byte of its packed rows."""
        return self.area.left % 8

    def read_packed(self, first: int, stop: int) -> UInt8Array:
        """Rows first .. stop-1 of the area, packed as on the sheet, with what shares its bytes."""
        rows = self.bits.read(self.area.top + first, stop - first)
        return rows[:, self._bytes]

    def read(self, first: int, stop: int) -> BoolArray:
        """Rows first .. stop-1 of the area, (stop - first, width) bool, True = ink."""
        some = np.unpackbits(
            self.read_packed(first, stop), axis=1, count=self.skip + self.area.width
        )
        return some[:, self.skip :].view(np.bool_)

    def write(self, first: int, rows: BoolArray) -> None:
        """Put rows back; what lies beside the area stays."""
        whole = self.bits.read(self.area.top + first, len(rows))
        beside = np.unpackbits(whole[:, self._bytes], axis=1)
        beside[:, self.skip : self.skip + self.area.width] = rows
        whole[:, self._bytes] = np.packbits(beside, axis=1)
        self.bits.write(self.area.top + first, whole)

    @property
    def _bytes(self) -> slice:
        """The bytes of a row of the sheet that hold pixels of the area."""
        return slice(self.area.left // 8, (self.area.right + 7) // 8)

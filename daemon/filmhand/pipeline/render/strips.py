"""Gray art to the bits of the sheet, strip by strip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
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
from filmhand.kernels.loops import compiled
from filmhand.kernels.repeated_levels import COLUMNS_BESIDE, RepeatedLevels
from filmhand.pipeline.render.copies import ArtCopies
from filmhand.screen.screener import Screener
from filmhand.sheet.layout import Box
from filmhand.sheet.resample import Resampled
from filmhand.speaking_pool import SpeakingPool
from filmhand.tone import FULL, linear_table
from filmhand.values import dataclass

# Rows that are laid down at once, and of a wide sheet so many that they have about as many pixels.
STRIP, _PIXELS = 128, 5 * 2**19
# Rows that are resampled at once; strips of several times as many waste nothing.
_TOGETHER = 16
CutRows = Callable[[int, int], BoolArray]
_T = TypeVar("_T", bound=np.generic)


def oriented(picture: NDArray[_T], *, turned: int, mirror: bool) -> NDArray[_T]:
    """The picture as it lies on the film: a quarter counter-clockwise, then left for right."""
    if turned:
        picture = np.rot90(picture)
    if mirror:
        picture = picture[:, ::-1]
    return np.ascontiguousarray(picture)


class LightRows:
    """Rows of light of the art for the area, resampled in linear light.

    Parameters
    ----------
    coded : (H, W) uint16 sRGB-coded gray, as it lies on the film
    area : where it lies; width and height count
    drawn : computer-drawn art, whose flats must not get halos when it is enlarged

    Attributes
    ----------
    resampled : the art at its size on the film; None where it has that already
    """

    def __init__(self, coded: UInt16Array, area: Box, *, drawn: bool) -> None:
        height, width = coded.shape
        self._coded = coded
        self.resampled: Resampled | None = None
        if (width, height) == (area.width, area.height):
            self._light = linear_table().astype(np.float32)
            return
        enlarged = area.width > width or area.height > height
        method = Image.Resampling.HAMMING if drawn and enlarged else Image.Resampling.LANCZOS
        size = (area.width, area.height)
        self.resampled = Resampled(coded, linear_table(), size, method=method)

    def __call__(self, first: int, count: int) -> Float32Array:
        """(count, area width) float32, 0 = black, 1 = white, beyond both at edges."""
        if self.resampled is None:
            return self._light[self._coded[first : first + count]]
        return self.resampled.rows(first, count)


@lru_cache(maxsize=1)
def _shares() -> Float64Array:
    """(65536,) float64: every code as a share of 65536, which loses no bit of it."""
    return np.arange(FULL + 1) / (FULL + 1)


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
        if not self.any_in(first, len(ink)):
            return
        cut = light <= self.half if self.dark_inks else light >= self.half
        np.copyto(ink, cut, where=self.where(first, len(ink)))

    def any_in(self, first: int, count: int) -> bool:
        """Whether there is any among rows of the area."""
        rows = self._blocks(first, count, axis=0)
        return bool(self.work.blocks[rows.min() : rows.max() + 1].any())

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


class ScreenedRows:
    """Rows of dots for the area, but sharp edges where there is line work; the last wins.

    Parameters
    ----------
    light : gives rows of light for the area
    area : where it lies on the sheet
    screener : cuts light into dots
    edges : the line work
    """

    def __init__(
        self,
        light: Callable[[int, int], Float32Array],
        area: Box,
        screener: Screener,
        edges: Sequence[EdgeStrips],
    ) -> None:
        self._light = light
        self._area = area
        self._screener = screener
        self._edges = edges

    def __call__(self, first: int, count: int) -> BoolArray:
        """(count, area width) bool, True = ink."""
        strip = self._light(first, count)
        ink = self._screener.cut(strip, row=self._area.top + first)
        for some in self._edges:
            some.draw(strip, ink, first=first)
        return ink

    def packed(self, first: int, count: int) -> UInt8Array | None:
        """The same rows packed, from the byte on in which the area begins, by the loop in C.

        None where light must be at hand for line work, or comes without resampling.
        """
        if not isinstance(self._light, LightRows) or self._light.resampled is None:
            return None
        if any(some.any_in(first, count) for some in self._edges):
            return None
        levels = self._screener.repeated_levels(self._area.top + first, count)
        return self._light.resampled.bits(first, levels, lead=self._area.left % 8)


class LineRows:
    """Rows of line art for the area: solid where the ink share is above a level.

    Parameters
    ----------
    share : (H, W) uint16, 65535 = ink
    area : where it lies on the sheet
    level : 0 .. 1
    negative : ink is where the share is not above the level
    """

    def __init__(self, share: UInt16Array, area: Box, *, level: float, negative: bool) -> None:
        self._share = share
        self._area = area
        self._negative = negative
        self._resampled: Resampled | None = None
        self._code = level * FULL
        self._level = np.float32(self._code) / np.float32(FULL + 1)
        if share.shape != (area.height, area.width):
            size = (area.width, area.height)
            self._resampled = Resampled(share, _shares(), size, method=Image.Resampling.BICUBIC)

    def __call__(self, first: int, count: int) -> BoolArray:
        """(count, area width) bool, True = ink."""
        if self._resampled is None:
            ink = self._share[first : first + count] > self._code
        else:
            ink = self._resampled.rows(first, count) > self._level
        return ~ink if self._negative else ink

    def packed(self, first: int, count: int) -> UInt8Array | None:
        """The same rows packed, from the byte on in which the area begins, by the loop in C.

        None where the share comes without resampling.
        """
        if self._resampled is None:
            return None
        # Above a level is at or above the next number.
        level = self._level if self._negative else np.nextafter(self._level, np.float32(np.inf))
        levels = np.full((1, 1 + COLUMNS_BESIDE), level, np.float32)
        starts = np.zeros(count, np.int64)
        repeated = RepeatedLevels(levels, starts, 1, 1 + COLUMNS_BESIDE, self._negative)
        return self._resampled.bits(first, repeated, lead=self._area.left % 8)


def not_barred(rows: CutRows, barred: CutRows | None) -> CutRows:
    """The same rows, bare where ``barred`` is True."""
    if barred is None:
        return rows
    return lambda first, count: rows(first, count) & ~barred(first, count)


def mask_rows(coded: UInt16Array, area: Box) -> CutRows:
    """Gives rows of the mask over the area: True where it is dark, so where film stays bare."""
    size = (area.width, area.height)
    gray = Resampled(coded, _shares(), size, method=Image.Resampling.BILINEAR)
    return lambda first, count: gray.rows(first, count) < FULL / 2 / (FULL + 1)


def fill_rows_of_sheet(bits: BitSheet, area: Box, rows: CutRows, *, threads: int = 1) -> None:
    """Write all rows of the area to the sheet, several strips at once."""

    byte, lead = divmod(area.left, 8)
    packing = None
    if isinstance(rows, ScreenedRows | LineRows) and compiled() is not None:
        packing = rows.packed
    strip = min(STRIP, max(_TOGETHER, _PIXELS // area.width // _TOGETHER * _TOGETHER))

    def one(first: int) -> None:
        count = min(strip, area.height - first)
        packed = packing(first, count) if packing is not None else None
        if packed is None:
            cut = rows(first, count)
            packed = np.packbits(np.pad(cut, ((0, 0), (lead, 0))), axis=1)
        line = np.zeros((count, bits.row_bytes), np.uint8)
        line[:, byte : byte + packed.shape[1]] = packed
        bits.write(area.top + first, line)

    with SpeakingPool(threads) as pool:
        list(pool.map(one, range(0, area.height, strip)))


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
        packed = self.read_packed(first, stop)
        if self.skip:
            # Bits are moved while eight of them are a byte, and to the left by a product, which
            # takes NumPy a tenth of the time of a shift.
            moved = packed * np.uint8(1 << self.skip)
            moved[:, :-1] |= packed[:, 1:] >> (8 - self.skip)
            packed = moved
        return np.unpackbits(packed, axis=1, count=self.area.width).view(np.bool_)

    def write(self, first: int, rows: BoolArray) -> None:
        """Put rows back; what lies beside the area stays."""
        whole = self.bits.read(self.area.top + first, len(rows))
        here = whole[:, self._bytes]
        inside = np.zeros((1, self.skip + self.area.width), np.bool_)
        inside[:, self.skip :] = True
        here &= ~np.packbits(inside, axis=1)
        packed = np.packbits(rows, axis=1)
        count = packed.shape[1]
        here[:, :count] |= packed >> self.skip
        if self.skip:
            here[:, 1:] |= packed[:, : here.shape[1] - 1] * np.uint8(1 << (8 - self.skip))
        self.bits.write(self.area.top + first, whole)

    @property
    def _bytes(self) -> slice:
        """The bytes of a row of the sheet that hold pixels of the area."""
        return slice(self.area.left // 8, (self.area.right + 7) // 8)

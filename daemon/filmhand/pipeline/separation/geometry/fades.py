"""Where flat art fades from an ink to the cloth.

A color close to an ink counts as the ink, so that compression and scanners make no dots of solids.
In a fade that would be a step where none was drawn. A fade is told from all else by mean tones of
small squares: they slope steadily over several of them, through tones that are neither the ink nor
the cloth, and inside a square little changes. Edges change much within one, noise and compression
do not slope, and tints are even. Squares of several sizes are looked at, as a fade may be as long
as the art or as short as a button in it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, Float64Array
from filmhand.art.raster import grown, in_threads, local_maximum, row_strips
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import nearest_color
from filmhand.ink.fading import ONLY_CLOTH, ONLY_INK, InksThatFade, fading_shares
from filmhand.ink.flat_colors import FlatColors
from filmhand.ink.wide_places import places_of
from filmhand.values import dataclass

_SIDE = 4  # pixels of the smallest squares
_SIZES = 6  # of squares, each twice the one before
_STRIP_PIXELS = 2**18
# What follows is of an ink's tone, 0..1. Edges are parted from slow tones elsewhere by 1/16 a pixel
# (ink_regions.py); noise of 5 codes, as in a scan, stays below.
_CALM = 0.2  # the most that a square of the smallest size may hold
_SLOPE = 0.03  # what a fade changes over five squares, at least
# The parts of the whole change that lie between two of the five, at most and at least. An edge
# changes one or two.
_MOST_STEP, _LEAST_STEP = 0.6, 0.1
_END = 0.01  # nobody sees where a fade ends as near as this to the ink or the cloth
_APART = (1, 4)  # squares from one of the five to the next
_BESIDE = 4  # squares by which fades reach beyond all five
_EDGE = 2  # squares by which the edges around a fade are told
_FARTHEST = 256  # squares from where a fade is a tone for sure


@dataclass(frozen=True, slots=True, eq=False)
class Fades:
    """The fades of a picture.

    Attributes
    ----------
    inks : (h, w) int8, for each square of 4 by 4 pixels the place of the ink that fades to the
        cloth there, or -1; at edges within a fade with what
        :mod:`filmhand.ink.fading` adds to it
    """

    inks: InksThatFade

    def of(self, rows: slice, columns: slice) -> InksThatFade:
        """(rows, columns) int8, the same for pixels of the picture."""
        y, x = (np.arange(part.start, part.stop) // _SIDE for part in (rows, columns))
        found: InksThatFade = self.inks[y][:, x]
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _Squares:
    """Squares of one size.

    Attributes
    ----------
    codes : (h, w, 3) float32, 0..1, the mean of each
    spread : (h, w) float32, the most that any channel differs by in one of its smallest squares, or
        between it and one beside it
    """

    codes: Float32Array
    spread: Float32Array


def fades_of(codes: SrgbCodes, colors: FlatColors) -> Fades | None:
    """Where inks fade to the cloth, or None where they do nowhere.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the art
    colors : of the same art
    """
    squares = smallest = _smallest(codes)
    shape = squares.spread.shape
    masks = [np.zeros(shape, np.bool_) for _ in range(colors.cloth)]
    for number in range(_SIZES):
        if min(squares.spread.shape) < 2:
            break
        for ink, mask in enumerate(masks):
            found = _fading(squares, ink, colors)
            if found is not None:
                for axis in (0, 1):
                    found = found.repeat(2**number, axis=axis)
                there = mask[: found.shape[0], : found.shape[1]]
                there |= found[: there.shape[0], : there.shape[1]]
        squares = _doubled(squares)
    inks = np.full(shape, -1, np.int8)
    # Where two inks may fade it is the one that does so farther.
    for ink in sorted(range(len(masks)), key=lambda ink: int(np.count_nonzero(masks[ink]))):
        if masks[ink].any():
            _add_edges(inks, ink, *_tone_of(smallest, ink, colors), masks[ink])
            inks[masks[ink]] = ink
    return Fades(inks) if (inks >= 0).any() else None


def _tone_of(squares: _Squares, ink: int, colors: FlatColors) -> tuple[Float32Array, BoolArray]:
    """(h, w) the tone that an ink would have in squares, and which of them are calm."""
    cloth = colors.found[colors.cloth].astype(np.float32)
    way = colors.found[ink].astype(np.float32) - cloth
    tone: Float32Array = (squares.codes - cloth) @ (way / max(float(way @ way), 1e-9))
    return tone, squares.spread <= _CALM * np.abs(way).max()


def _add_edges(
    inks: InksThatFade, ink: int, tone: Float32Array, calm: BoolArray, fading: BoolArray
) -> None:
    """Tell the edges within and around a fade, which are not calm, to which end of it they lie."""
    known = fading & calm
    high = local_maximum(np.where(known, tone, np.float32(-1)), 2 * _EDGE + 1)
    edges = ~calm & (high >= 0)
    inks[edges] = np.where(high > 0.5, ink | ONLY_INK, ink | ONLY_CLOTH)[edges]
    fading &= ~edges


def _smallest(codes: SrgbCodes) -> _Squares:
    height, width = codes.shape[:2]
    down, across = -(-height // _SIDE), -(-width // _SIDE)
    means = np.empty((down, across, 3), np.float32)
    spread = np.empty((down, across), np.float32)
    largest = np.float32(np.iinfo(codes.dtype).max)

    def one(rows: slice) -> None:
        part: NDArray[Any] = codes[rows.start * _SIDE : rows.stop * _SIDE]
        beyond = len(means[rows]) * _SIDE - len(part), across * _SIDE - width
        if any(beyond):
            part = np.pad(part, ((0, beyond[0]), (0, beyond[1]), (0, 0)), mode="edge")
        lines = [part[k::_SIDE] for k in range(_SIDE)]
        total = sum((line.astype(np.uint32) for line in lines[1:]), lines[0].astype(np.uint32))
        high, low = np.maximum.reduce(lines), np.minimum.reduce(lines)
        columns = [np.s_[:, k::_SIDE] for k in range(_SIDE)]
        total = sum((total[column] for column in columns[1:]), total[columns[0]])
        high = np.maximum.reduce([high[column] for column in columns])
        low = np.minimum.reduce([low[column] for column in columns])
        means[rows] = total / (largest * _SIDE**2)
        spread[rows] = (high - low).max(axis=-1) / largest

    in_threads(one, row_strips((down, across), _STRIP_PIXELS // _SIDE**2))
    for axis in (0, 1):
        # An edge may lie just between two.
        step = np.abs(np.diff(means, axis=axis)).max(axis=-1)
        lines, steps = np.moveaxis(spread, axis, 0), np.moveaxis(step, axis, 0)
        np.maximum(lines[1:], steps, out=lines[1:])
        np.maximum(lines[:-1], steps, out=lines[:-1])
    return _Squares(means, spread)


def _doubled(squares: _Squares) -> _Squares:
    """Squares of twice the size, each as little calm as the least calm of its four."""
    height, width = (side // 2 * 2 for side in squares.spread.shape)
    quarters = [np.s_[y:height:2, x:width:2] for y in (0, 1) for x in (0, 1)]
    spread = np.stack([squares.spread[quarter] for quarter in quarters])
    codes = np.stack([squares.codes[quarter] for quarter in quarters])
    return _Squares(codes.mean(axis=0), spread.max(axis=0))


def _fading(squares: _Squares, ink: int, colors: FlatColors) -> BoolArray | None:
    """(h, w) whether an ink fades to the cloth in squares; None where it does in none."""
    tone, calm = _tone_of(squares, ink, colors)
    between = calm & (tone > _END) & (tone < 1 - _END)
    steady = np.zeros_like(calm)
    if np.count_nonzero(between) < 4:
        return None
    for axis in (0, 1):
        there = np.flatnonzero(between.any(axis=axis))
        place = (slice(None), there) if axis == 0 else (there,)
        for apart in _APART:
            steady[place] |= _steady(tone[place], calm[place], axis, apart)
    steady &= between
    if not steady.any():
        return None
    between &= grown(steady, 1 + _BESIDE)
    between[between] = _of_the_ink(squares.codes[between].astype(np.float64), ink, colors)
    steady &= between
    seeds = places_of(steady, 2)
    seeds[seeds] = _is_no_flat(squares.codes[seeds].astype(np.float64), colors)
    if not seeds.any():
        return None
    # Compression leaves steps, over which a fade goes on.
    steady |= grown(steady, 1) & between
    fading = seeds
    # The tones of each square lead to those beside it, but never into what is level.
    for _ in range(_FARTHEST):
        wider = grown(fading, 1) & steady
        if (wider == fading).all():
            break
        fading = wider
    for _ in range(_BESIDE):
        fading |= grown(fading, 1) & between
    return fading


def _of_the_ink(codes: Float64Array, ink: int, colors: FlatColors) -> BoolArray:
    """Which colors a fade has."""
    _, off = fading_shares(codes, ink, colors)
    fits: BoolArray = off <= colors.tolerance / 2
    return fits


def _is_no_flat(codes: Float64Array, colors: FlatColors) -> BoolArray:
    """Which colors are none of the inks and not the cloth."""
    _, apart = nearest_color(srgb_to_lab(codes), colors.palette)
    away: BoolArray = apart > colors.tolerance
    return away


def _steady(tone: Float32Array, calm: BoolArray, axis: int, apart: int) -> BoolArray:
    """(h, w) whether a square lies among five, so far apart, over which tone rises or falls."""
    lines = np.moveaxis(tone, axis, 0)
    found = np.zeros(tone.shape, np.bool_)
    count = len(lines) - 4 * apart
    if count < 1:
        return found
    steps = lines[apart:] - lines[:-apart]
    four = [steps[k * apart : k * apart + count] for k in range(4)]
    change = lines[4 * apart :] - lines[: -4 * apart]
    size = np.abs(change)
    least = np.minimum.reduce([step * np.sign(change) for step in four])
    most = np.maximum.reduce([np.abs(step) for step in four])
    unquiet = np.cumsum(~np.moveaxis(calm, axis, 0), axis=0, dtype=np.int32)
    unquiet = np.concatenate([np.zeros_like(unquiet[:1]), unquiet])
    first = (
        (unquiet[4 * apart + 1 :] == unquiet[:count])
        & (size >= _SLOPE)
        & (most <= _MOST_STEP * size)
        & (least >= _LEAST_STEP * size)
    )
    among = np.cumsum(np.pad(first, ((4 * apart + 1, 4 * apart), (0, 0))), axis=0, dtype=np.int32)
    np.moveaxis(found, axis, 0)[:] = among[4 * apart + 1 :] > among[: len(lines)]
    return found

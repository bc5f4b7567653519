"""Art that was screened before: finding its dots, and taking them out before it is screened again.

A printed picture that was scanned carries the dots of its own screen, which beat with the new
ones. In its spectrum they stand as sharp peaks at the corners of a square lattice (I. Amidror, The
Theory of the Moiré Phenomenon, 2nd ed., Springer 2009, chapter 2), which nothing grown or
photographed has: textures have one direction, or wide humps instead of peaks.

The limits were set on open pictures, screened and scanned on purpose, and on textures that must
not be taken for a screen (the tests hold them); they have no other source.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from contextlib import closing
from functools import cache
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array, distinct
from filmhand.art.files.gray import WHITE, Codes
from filmhand.art.raster import in_threads, median_of, quantiles_of
from filmhand.speaking_pool import SpeakingPool
from filmhand.values import dataclass

_WINDOW = 256
_LONGEST_PERIOD = 13.0
_LEAST_TURNS = 1 / _LONGEST_PERIOD  # cycles a pixel
_MOST_TURNS = 0.66  # along a diagonal; a pixel grid holds 0.5 along its axes, 0.707 across them
_PEAKS = 24
_LEAST_PROMINENCE = 40.0  # power of a peak against the median of its ring
_LEAST_AMPLITUDE = 0.012  # of a peak, as a share of white
_SAME_LENGTH, _SQUARE = 0.035, 2.5
_COARSER, _MOST_COARSER = 0.6, 2  # peaks of lower frequency tell of rows of things, not of dots
_LEAST_SHARE = 0.4  # of the windows with any picture in them
_STRONG, _SAME_TONE = 0.45, 0.012
_WEAK, _FEW_TONES = 0.15, 0.03
_TILE, _SKIRT = 512, 64
_BLUR = 0.28  # standard deviation of the blur that goes with the notches, in periods
# Standard deviations, as shares of the screen's frequency, of what is taken out around its ring
# and its corners beyond; corners folded to less than _FOLDED of it are let be.
_RING, _NOTCH, _FOLDED = 0.12, 0.08, 0.7


@dataclass(frozen=True, slots=True)
class ScreenedBefore:
    """A screen that was found in art.

    Attributes
    ----------
    period : pixels from dot to dot along its rows
    angle : degrees 0 .. 90 of its rows, counter-clockwise as a viewer sees them
    strength : contrast of the dots, 0..1: twice the amplitude of the strongest peak
    share : 0..1, of the places that were looked at, where it was found
    """

    period: float
    angle: float
    strength: float
    share: float


@dataclass(frozen=True, slots=True)
class _Peak:
    x: float  # cycles a pixel, rightward
    y: float  # downward
    amplitude: float

    @property
    def turns(self) -> float:
        return hypot(self.x, self.y)


# The two peaks of a screen, None for no screen, False where there is no picture.
_Shown = tuple[_Peak, _Peak] | bool | None


def find_earlier_screen(coded: Codes) -> ScreenedBefore | None:
    """The screen that art was printed with, or None.

    Looks at windows of 256 pixels spread over the art: about nine first, and more of them only
    where these show peaks. Screens of 2 to 13 pixels a dot with two rows at right angles are
    found; line screens and stochastic ones are not.

    coded : (H, W) uint16 sRGB-coded gray.
    """
    if min(coded.shape) < _WINDOW // 2:
        return None
    first = list(_screens(list(_windows(coded, 3))))
    if sum(found is not None for found in first) < 2 and len(first) > 1:
        return None
    every = _unless_too_few(list(_windows(coded, 6))) if len(first) > 1 else first
    lively = [found for found in every if found is not False]
    pairs = [found for found in lively if isinstance(found, tuple)]
    if not pairs:
        return None
    # The screen is the same all over: windows that say otherwise saw something else.
    lengths = np.array([pair[0].turns for pair in pairs])
    middle = median_of(lengths)
    agreeing = [pair for pair in pairs if abs(pair[0].turns / middle - 1) < _SAME_LENGTH]
    share = len(agreeing) / len(lively)
    if share < _LEAST_SHARE or len(agreeing) < min(2, len(every)):
        return None
    best = max(agreeing, key=lambda pair: pair[0].amplitude)
    turns = median_of([pair[0].turns for pair in agreeing])
    angle = degrees(atan2(-best[0].y, best[0].x)) % 90
    strength = median_of([2 * pair[0].amplitude for pair in agreeing])
    if (strength > _STRONG and _is_even_pattern(coded)) or (
        strength < _WEAK and _has_no_tones(coded)
    ):
        return None
    return ScreenedBefore(1 / turns, angle, strength, share)


def _is_even_pattern(coded: Codes) -> bool:
    """True where nearly all places are equally dark: a chequered flag, say, that shows no picture.

    Dots carry a picture only by being larger here and smaller there.
    """
    tones = []
    for window in _windows(coded, 3):
        side = len(window) // 4
        blocks = window[: 4 * side, : 4 * side].reshape(4, side, 4, side).mean(axis=(1, 3))
        if 0.02 < float(blocks.mean()) < 0.98:
            tones.append(blocks.ravel())
    quartiles = quantiles_of(np.concatenate(tones), (0.2, 0.8)) if tones else np.zeros(2)
    return float(np.ptp(quartiles)) < _SAME_TONE


def _has_no_tones(coded: Codes) -> bool:
    """True for black and white alone, in which weak dots can have screened nothing."""
    step = max(1, int(np.sqrt(coded.size / 1e6)))
    sample = coded[::step, ::step]
    return float(((sample > 0.2 * WHITE) & (sample < 0.8 * WHITE)).mean()) < _FEW_TONES


def _windows(coded: Codes, count: int) -> Iterator[Float32Array]:
    """Up to ``count`` x ``count`` windows spread evenly, as shares of white."""
    height, width = coded.shape
    size = min(_WINDOW, height, width)
    tops = distinct(np.linspace(0, height - size, min(count, 1 + height // size)).astype(int))
    lefts = distinct(np.linspace(0, width - size, min(count, 1 + width // size)).astype(int))
    for top in tops:
        for left in lefts:
            window = coded[top : top + size, left : left + size]
            yield window.astype(np.float32) / np.float32(WHITE)


def _screens(windows: Sequence[Float32Array]) -> Generator[_Shown]:
    """What each window shows; transforms go on beside one another."""
    with SpeakingPool(2) as pool:
        yield from pool.map(_screen_in, windows)


def _unless_too_few(windows: Sequence[Float32Array]) -> list[_Shown]:
    """What each window shows; nothing once too few can have a screen, whatever the rest show."""
    every: list[_Shown] = []
    pairs = lively = 0
    with closing(_screens(windows)) as screens:
        for left, found in zip(reversed(range(len(windows))), screens, strict=True):
            every.append(found)
            pairs += isinstance(found, tuple)
            lively += found is not False
            if (pairs + left) / max(1, lively + left) < _LEAST_SHARE:
                return []
    return every


def _screen_in(window: Float32Array) -> _Shown:
    """The two peaks of a screen, None where there is none, False where there is no picture."""
    if float(window.std()) < 0.01:
        return False
    peaks = _peaks(window)
    for i, one in enumerate(peaks):
        for other in peaks[i + 1 :]:
            if one.turns < _LEAST_TURNS or abs(other.turns / one.turns - 1) > _SAME_LENGTH:
                continue
            turn = abs(degrees(atan2(one.y, one.x) - atan2(other.y, other.x))) % 180
            if abs(turn - 90) < _SQUARE and other.amplitude > 0.25 * one.amplitude:
                coarser = sum(
                    peak.turns < 0.9 * one.turns and peak.amplitude > _COARSER * one.amplitude
                    for peak in peaks
                )
                return None if coarser > _MOST_COARSER else (one, other)
    return None


def _peaks(window: Float32Array) -> list[_Peak]:
    """Sharp peaks of the window's spectrum, the strongest first."""
    size = len(window)
    weights = _taper(size)
    spectrum = np.abs(np.fft.rfft2((window - window.mean()) * weights))
    amplitude = spectrum * (2 / weights.sum())
    rings = _rings(size)
    rows, columns = np.nonzero((amplitude > _LEAST_AMPLITUDE) & rings.looked_at)
    if not len(rows):
        return []
    power = amplitude**2
    highest = power[rows, columns] >= _beside(power, rows, columns)
    rows, columns = rows[highest], columns[highest]
    prominent = power[rows, columns] > _LEAST_PROMINENCE * rings.background(power, rows, columns)
    rows, columns = rows[prominent], columns[prominent]
    order = np.argsort(-power[rows, columns], kind="stable")[:_PEAKS]
    found = []
    for row, column in zip(rows[order], columns[order], strict=True):
        y, x = _refined(amplitude, int(row), int(column))
        found.append(_Peak(x / size, y / size, float(amplitude[row, column])))
    return found


def window_tables() -> None:
    """Work out what every window of the usual size is looked at with."""
    _taper(_WINDOW)
    _rings(_WINDOW)


@cache
def _taper(size: int) -> Float32Array:
    """(size, size) float32, that lets a window end softly (Hann)."""
    taper = np.hanning(size + 2)[1:-1].astype(np.float32)
    weights: Float32Array = taper[:, None] * taper
    return weights


def _beside(power: Float32Array, rows: Int64Array, columns: Int64Array) -> Float32Array:
    """The highest power of the eight frequencies beside each; rows wrap, columns are mirrored."""
    height, width = power.shape
    around = np.zeros(len(rows), power.dtype)
    for dx in (-1, 0, 1):
        across = np.abs(columns + dx)
        across = np.where(across == width, width - 2, across)
        for dy in (-1, 0, 1):
            if (dy, dx) != (0, 0):
                np.maximum(around, power[(rows + dy) % height, across], out=around)
    return around


@dataclass(frozen=True, slots=True)
class _Rings:
    """The frequencies of a window, in rings about none.

    Attributes
    ----------
    looked_at : (H, W) bool, those of the periods that are looked for
    ring : (H, W) int64, the number of its ring
    order : all of them, ring by ring; those of ring k from ``edges[k]`` up to ``edges[k + 1]``
    """

    looked_at: BoolArray
    ring: Int64Array
    order: Int64Array
    edges: Int64Array

    def background(
        self, power: Float32Array, rows: Int64Array, columns: Int64Array
    ) -> Float64Array:
        """The median of the ring of each of some frequencies."""
        rings, which = np.unique(self.ring[rows, columns], return_inverse=True)
        every = power.ravel()
        medians = [
            median_of(every[self.order[self.edges[one] : self.edges[one + 1]]]) for one in rings
        ]
        found: Float64Array = np.maximum(np.array(medians, np.float64), 1e-14)[which]
        return found


@cache
def _rings(size: int) -> _Rings:
    """The rings of a window of so many pixels a side."""
    down, across = np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None, :]
    turns = np.hypot(down, across)
    ring = np.minimum((turns * 64).astype(np.int64), 47)
    order = np.argsort(ring, axis=None, kind="stable")
    edges = np.searchsorted(ring.ravel()[order], np.arange(49))
    return _Rings((turns >= 3 / size) & (turns <= _MOST_TURNS), ring, order, edges)


def _refined(amplitude: Float64Array, row: int, column: int) -> tuple[float, float]:
    """The peak's place between the bins, by the parabola through the logarithms beside it."""
    height, width = amplitude.shape
    middle = np.log(amplitude[row, column] + 1e-12)
    up, down = (np.log(amplitude[(row + d) % height, column] + 1e-12) for d in (-1, 1))
    left = np.log(amplitude[row, abs(column - 1)] + 1e-12)
    right = np.log(amplitude[row, min(column + 1, width - 1)] + 1e-12)
    y = row + 0.5 * (up - down) / min(up + down - 2 * middle, -1e-9)
    x = column + 0.5 * (left - right) / min(left + right - 2 * middle, -1e-9)
    return (y if y <= height / 2 else y - height), x


def without_screen(coded: Codes, screen: ScreenedBefore) -> Codes:
    """The art without its dots: the screen's frequency and its corners beyond are cut out.

    With a slight blur, of 0.28 periods; a blur alone of the same effect would take 0.5 and more.

    coded : (H, W) uint16, left alone -> (H, W) uint16
    """
    height, width = coded.shape
    filtering = _filter(screen)
    out = np.empty_like(coded)
    step = _TILE - 2 * _SKIRT

    def band(top: int) -> None:
        bottom = min(height, top + step)
        rows = _mirrored(top - _SKIRT, height)
        for left in range(0, width, step):
            right = min(width, left + step)
            columns = _mirrored(left - _SKIRT, width)
            tile = coded[rows[:, None], columns].astype(np.float32)
            clean = np.fft.irfft2(np.fft.rfft2(tile) * filtering, tile.shape)
            part = clean[_SKIRT : _SKIRT + bottom - top, _SKIRT : _SKIRT + right - left]
            out[top:bottom, left:right] = np.clip(np.rint(part), 0, WHITE)

    in_threads(band, range(0, height, step))
    return out


def _mirrored(first: int, size: int) -> Int64Array:
    """The places of a tile from ``first``, mirrored at both ends, so that dots go on beyond."""
    round_trip = max(1, 2 * size - 2)
    place = np.arange(first, first + _TILE) % round_trip
    return np.minimum(place, round_trip - place) if size > 1 else np.zeros(_TILE, np.int64)


def _filter(screen: ScreenedBefore) -> Float32Array:
    """(_TILE, _TILE / 2 + 1) float32: 1 is kept, 0 taken out."""
    down: Float64Array = np.fft.fftfreq(_TILE)[:, None].astype(np.float64)
    across: Float64Array = np.fft.rfftfreq(_TILE)[None, :].astype(np.float64)
    turns = 1 / screen.period
    angle = radians(screen.angle)
    first, second = (cos(angle), -sin(angle)), (sin(angle), cos(angle))
    length = np.hypot(down, across)
    kept = np.exp(-2 * (np.pi * _BLUR * screen.period * length) ** 2)
    # A color print has screens of one ruling at several angles, so that frequency goes whole.
    kept *= 1 - np.exp(-(((length - turns) / (_RING * turns)) ** 2) / 2)
    for i in range(-2, 3):
        for j in range(-2, 3):
            if abs(i) + abs(j) < 2:
                continue
            x = turns * (i * first[0] + j * second[0])
            y = turns * (i * first[1] + j * second[1])
            # What lies beyond the pixel grid's own limit was folded back into it.
            x, y = (place - round(place) for place in (x, y))
            if hypot(x, y) < _FOLDED * turns:
                continue  # folded on to the picture itself: nothing can part them
            for sign in (1, -1):
                far = _wrapped(down - sign * y) ** 2 + _wrapped(across - sign * x) ** 2
                kept = kept * (1 - np.exp(-far / (2 * (_NOTCH * turns) ** 2)))
    return kept.astype(np.float32)


def _wrapped(distance: Float64Array) -> Float64Array:
    """Distances on the circle of frequencies, -0.5 .. 0.5."""
    return distance - np.rint(distance)

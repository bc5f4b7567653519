"""The ruling and angle of a screen, found in a bitmap by Fourier transform."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array
from filmhand.values import dataclass

Window = NDArray[np.floating[Any]]
_COARSEST_LPI = 4.0
# The fundamental of a dot screen holds a tenth of the variance or more at most tones; drawings and
# lettering spread theirs over all frequencies.
_LEAST_SHARE = 0.03
# A line screen has no second axis; a dot screen's is as strong as its first.
_SECOND_AXIS = 0.25
# What rounding alone leaves of the power of a flat window.
_NOTHING = 1e-3


@dataclass(frozen=True, slots=True)
class FoundScreen:
    """A screen found on a film; ``angle`` in degrees counter-clockwise, of the lines for ``lines``.

    For dots 0 <= angle < 90, for lines 0 <= angle < 180. ``share`` is the part of the variance
    that the fundamental holds.
    """

    lpi: float
    angle: float
    lines: bool
    share: float


def clearest_screen(windows: Iterable[Window], per_inch: tuple[float, float]) -> FoundScreen | None:
    """The screen of that window of a film in which it is clearest; None where no window has one.

    Parameters
    ----------
    windows : each (h, w) float, ink share 0..1, all of one size; they are taken one by one, and
        box-averaged ones are fine
    per_inch : pixels per inch of the windows, across and down

    Notes
    -----
    Hann window, largest peak of the transform, then a climb on the logarithm of the transform
    between its bins, by a parabola through three points along each axis with halving steps.
    """
    bins: _Bins | None = None
    best: _Peak | None = None
    for window in windows:
        bins = bins or _Bins.of(window.shape, per_inch)
        found = bins.peak(window)
        if found is not None and (best is None or found.share > best.share):
            best = found
    if best is None:
        return None
    exact = _climb(best.leveled.astype(np.float64), per_inch, best.place)
    direction = np.degrees(np.arctan2(-exact[0], exact[1]))
    return FoundScreen(
        float(np.hypot(*exact)),
        # Rounded before it is wrapped, so that a screen at 0 is not told as one at 90 or 180.
        round(float(direction - 90), 3) % 180 if best.lines else round(float(direction), 3) % 90,
        best.lines,
        best.share,
    )


@dataclass(frozen=True, slots=True)
class _Peak:
    """The largest peak of a window's transform, to a bin.

    ``place`` is (down, across) in cycles per inch, ``leveled`` the window that was transformed.
    """

    place: Float64Array
    share: float
    lines: bool
    leveled: Window


@dataclass(frozen=True, slots=True)
class _Bins:
    """The bins of a window's transform.

    Attributes
    ----------
    down, across : cycles per inch of the rows and columns
    possible : (h, w // 2 + 1) bool, where the peak of a screen may lie
    reach : how far about its largest bin a peak extends, cycles per inch
    hann : the weights of rows (as a column) and columns
    """

    down: Float64Array
    across: Float64Array
    possible: BoolArray
    reach: float
    hann: tuple[Window, Window]

    @classmethod
    def of(cls, shape: tuple[int, ...], per_inch: tuple[float, float]) -> _Bins:
        across_dpi, down_dpi = per_inch
        height, width = shape
        down = np.fft.fftfreq(height).astype(np.float64) * down_dpi
        across = np.fft.rfftfreq(width).astype(np.float64) * across_dpi
        radius = np.hypot(down[:, None], across)
        finest = min(across_dpi, down_dpi) / 2.5
        return cls(
            down,
            across,
            (radius > _COARSEST_LPI) & (radius < finest),
            3 * max(down_dpi / height, across_dpi / width),
            (_hann(height)[:, None].astype(np.float32), _hann(width).astype(np.float32)),
        )

    def peak(self, window: Window) -> _Peak | None:
        """The largest peak, where it is as strong as a screen's."""
        leveled = (window - window.mean(dtype=np.float64)).astype(np.float32)
        leveled *= self.hann[0]
        leveled *= self.hann[1]
        spectrum = np.fft.rfft2(leveled)
        power = spectrum.real**2
        power += spectrum.imag**2
        del spectrum
        total = 2 * float(power.sum(dtype=np.float64))
        if total <= _NOTHING:
            return None
        highest = np.multiply(power, self.possible).argmax()
        row, column = np.unravel_index(highest, power.shape)
        place = np.array([self.down[row], self.across[column]])
        # The second axis is the same peak turned by a right angle.
        y, x = place
        turned = np.array([x, -y]) if y <= 0 else np.array([-x, y])
        first = self._about(power, place)
        share = 2 * first / total
        if share < _LEAST_SHARE:
            return None
        lines = self._about(power, turned) < _SECOND_AXIS * first
        return _Peak(place, share, lines, leveled)

    def _about(self, power: Window, place: Float64Array) -> float:
        """The power of the bins about a place."""
        rows = np.flatnonzero(np.abs(self.down - place[0]) < self.reach)
        columns = np.flatnonzero(np.abs(self.across - place[1]) < self.reach)
        near = (
            np.hypot(self.down[rows, None] - place[0], self.across[columns] - place[1]) < self.reach
        )
        return float(power[np.ix_(rows, columns)][near].sum(dtype=np.float64))


def _hann(count: int) -> Float64Array:
    return np.hanning(count + 1)[:-1]


def _climb(
    leveled: Float64Array, per_inch: tuple[float, float], start: Float64Array
) -> Float64Array:
    """The maximum of the continuous transform near ``start`` (down, across), cycles per inch."""
    across_dpi, down_dpi = per_inch
    height, width = leveled.shape
    y, x = np.arange(height) / down_dpi, np.arange(width) / across_dpi

    def level(place: Float64Array) -> float:
        down = 2 * np.pi * place[0] * y
        # Real sums: a complex vector would make a complex copy of the whole window.
        cosine, sine = np.stack([np.cos(down), np.sin(down)]) @ leveled
        sum_ = (cosine - 1j * sine) @ np.exp(-2j * np.pi * place[1] * x)
        return float(np.log(np.abs(sum_) + 1e-300))

    place = start.astype(np.float64)
    step = np.array([down_dpi / height, across_dpi / width]) / 4
    for _ in range(6):
        move = np.zeros(2)
        for axis in range(2):
            offset = np.zeros(2)
            offset[axis] = step[axis]
            before, here, after = level(place - offset), level(place), level(place + offset)
            bend = before - 2 * here + after
            if bend < 0:
                move[axis] = np.clip((before - after) / (2 * bend), -2, 2)
        place = place + move * step
        step = step / 2
    return place

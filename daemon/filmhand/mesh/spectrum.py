"""The ruling and angle of a screen, found in a bitmap by Fourier transform."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_COARSEST_LPI = 4.0
# The fundamental of a dot screen holds a tenth of the variance or more at most tones; drawings and
# lettering spread theirs over all frequencies.
_LEAST_SHARE = 0.03
# A line screen has no second axis; a dot screen's is as strong as its first.
_SECOND_AXIS = 0.25


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


def find_screen(window: Array, per_inch: tuple[float, float]) -> FoundScreen | None:
    """The screen in a window of a film, or None where there is none.

    Parameters
    ----------
    window : (h, w) float64, ink share 0..1; box-averaged windows are fine
    per_inch : pixels per inch of the window, across and down

    Notes
    -----
    Hann window, largest peak of the transform, then a climb on the logarithm of the transform
    between its bins, by a parabola through three points along each axis with halving steps.
    """
    across_dpi, down_dpi = per_inch
    height, width = window.shape
    levelled = (window - window.mean()) * _hann(height)[:, None] * _hann(width)[None, :]
    power = np.abs(np.fft.rfft2(levelled)) ** 2
    total = 2 * float(power.sum())
    if total <= 1e-12:
        return None
    down = np.fft.fftfreq(height) * down_dpi
    across = np.fft.rfftfreq(width) * across_dpi
    radius = np.hypot(down[:, None], across)
    finest = min(across_dpi, down_dpi) / 2.5
    row, column = np.unravel_index(
        np.where((radius > _COARSEST_LPI) & (radius < finest), power, 0).argmax(), power.shape
    )
    peak = np.array([down[row], across[column]])
    near = np.hypot(down[:, None] - peak[0], across - peak[1]) < 3 * max(
        down_dpi / height, across_dpi / width
    )
    # The second axis is the same peak turned by a right angle.
    turned = np.array([peak[1], -peak[0]]) if peak[0] <= 0 else np.array([-peak[1], peak[0]])
    second = np.hypot(down[:, None] - turned[0], across - turned[1]) < 3 * max(
        down_dpi / height, across_dpi / width
    )
    share = 2 * float(power[near].sum()) / total
    if share < _LEAST_SHARE:
        return None
    lines = bool(power[second].sum() < _SECOND_AXIS * power[near].sum())
    exact = _climb(levelled, per_inch, peak)
    direction = np.degrees(np.arctan2(-exact[0], exact[1]))
    return FoundScreen(
        float(np.hypot(*exact)),
        # Rounded before it is wrapped, so that a screen at 0 is not told as one at 90 or 180.
        round(float(direction - 90), 3) % 180 if lines else round(float(direction), 3) % 90,
        lines,
        share,
    )


def _hann(count: int) -> Array:
    window: Array = np.hanning(count + 1)[:-1]
    return window


def _climb(levelled: Array, per_inch: tuple[float, float], start: Array) -> Array:
    """The maximum of the continuous transform near ``start`` (down, across), cycles per inch."""
    across_dpi, down_dpi = per_inch
    height, width = levelled.shape
    y, x = np.arange(height) / down_dpi, np.arange(width) / across_dpi

    def level(place: Array) -> float:
        down = 2 * np.pi * place[0] * y
        # Real sums: a complex vector would make a complex copy of the whole window.
        cosine, sine = np.stack([np.cos(down), np.sin(down)]) @ levelled
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

"""The way from the gray of the art to the tone on the film, as one curve.

Tone is dot area: 0 = bare film, 1 = solid. The tone of a pixel is 1 - v, where v is the
sRGB-coded gray (0..1) that has the pixel's relative luminance (IEC 61966-2-1:1999). The steps run
in the order endpoints, contrast, midtone, dropout, gain, hold, in float; 0 stays 0 and 1 stays 1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from filmhand.arrays import Float32Array, Float64Array

if TYPE_CHECKING:
    from filmhand.profile.model import ToneWishes
from filmhand.profile.terms import GainCurve

FULL = 65535
# Light is looked up by its square root, which is close to the sRGB code: 18 bits of it place every
# 16-bit code within a sixth of a step, so flat 8- and 16-bit grays keep their exact tone.
LIGHT_STEPS = 2**18 - 1


def srgb_to_linear(code: Float64Array) -> Float64Array:
    """Relative luminance 0..1 of sRGB-coded gray 0..1 (IEC 61966-2-1:1999).

    >>> round(float(srgb_to_linear(np.array(128 / 255))), 6)
    0.215861
    """
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def linear_to_srgb(light: Float64Array) -> Float64Array:
    """sRGB-coded gray 0..1 of relative luminance 0..1 (IEC 61966-2-1:1999)."""
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


@dataclass(frozen=True, slots=True)
class Levels:
    """The coded grays (0..65535) that are taken as full black and as white."""

    black: float = 0.0
    white: float = float(FULL)


def tone_steps(
    wishes: ToneWishes, *, levels: Levels, negative: bool = False
) -> Callable[[Float64Array], Float64Array]:
    """The curve from the art's tone (0..1) to the film's tone (0..1).

    Parameters
    ----------
    wishes : the tone part of the profile
    levels : what ``endpoints`` found, as coded grays
    negative : the film's tones are exchanged, after the gain and before the hold
    """

    def curve(tone: Float64Array) -> Float64Array:
        bottom, top = 1 - levels.white / FULL, 1 - levels.black / FULL
        tone = np.clip((tone - bottom) / (top - bottom), 0, 1)
        tone = _pinned(tone, 0.5 + (tone - 0.5) * wishes.contrast)
        tone = _pinned(tone, tone + 4 * wishes.midtone / 100 * tone * (1 - tone))
        if wishes.dropout:
            # Half a step more, as the look-up of light may put the very tone on either side.
            tone = np.where(tone <= wishes.dropout / 100 + 0.5 / FULL, 0.0, tone)
        tone = _without_gain(tone, wishes.gain)
        if negative:
            tone = 1 - tone
        if isinstance(wishes.hold, tuple):
            low, high = (end / 100 for end in wishes.hold)
            tone = _pinned(tone, low + tone * (high - low))
        return tone

    return curve


def _pinned(before: Float64Array, after: Float64Array) -> Float64Array:
    """``after`` within 0..1, but with bare film and solid where they were."""
    return np.where((before <= 0) | (before >= 1), before, np.clip(after, 0, 1))


def _without_gain(tone: Float64Array, gain: float | GainCurve) -> Float64Array:
    """The film tone that prints as ``tone`` (a number), or as the art's luminance (a curve).

    With a number G, the gain at the 50 % tone in points, the press is taken to print
    a + 4 G a (1 - a); the parabola rises everywhere up to G = 25 points. With a measured curve the
    print's dot must cover 1 - Y for the print to reflect Y (Murray-Davies, for an ink that reflects
    nothing: A. Murray, J. Franklin Inst. 221, 1936).
    """
    if not isinstance(gain, (int, float)):
        film, printed = (
            np.array(axis, np.float64) / 100 for axis in zip(*gain.points, strict=True)
        )
        wanted = 1 - srgb_to_linear(1 - tone)
        return _pinned(tone, np.interp(wanted, printed, film))
    points = gain / 100
    if points < 1e-9:  # what is far below a step of the tone would only be divided by itself
        return tone
    root = np.sqrt((1 + 4 * points) ** 2 - 16 * points * tone)
    return _pinned(tone, (1 + 4 * points - root) / (8 * points))


@dataclass(frozen=True, slots=True)
class LightCuts:
    """Where the light of the art meets the thresholds of a screen.

    Attributes
    ----------
    at : (65536,) float32, by threshold: the light on one side of which the film's tone, 0..65535,
        is at or above that threshold
    dark_inks : True where darker art inks, so that ink is where light <= at; False on negatives,
        where ink is where light >= at
    """

    at: Float32Array
    dark_inks: bool


def light_cuts(
    curve: Callable[[Float64Array], Float64Array], *, negative: bool = False
) -> LightCuts:
    """The cuts of a curve of :func:`tone_steps`.

    Comparing light with them saves the way from light to tone for every pixel of the film. A cut
    lies half a step of the look-up beside the last light that inks, so flat grays stay clear of it.
    """
    light = (np.arange(LIGHT_STEPS + 1) / LIGHT_STEPS) ** 2
    tone = np.rint(curve(1 - linear_to_srgb(light)) * FULL)
    rising = np.maximum.accumulate(tone if negative else tone[::-1])
    short = np.searchsorted(rising, np.arange(FULL + 1), side="left")
    step = short - 0.5 if negative else LIGHT_STEPS - short + 0.5
    at = (step / LIGHT_STEPS) ** 2
    # Filters overshoot at hard edges: light beyond black or white must count as black or white.
    always, never = (-np.inf, np.inf) if negative else (np.inf, -np.inf)
    at[short == 0] = always
    at[short > LIGHT_STEPS] = never
    return LightCuts(at.astype(np.float32), dark_inks=not negative)


@lru_cache(maxsize=1)
def linear_table() -> Float64Array:
    """(65536,) float64: relative luminance of every 16-bit sRGB code. Do not write to it."""
    table = srgb_to_linear(np.arange(FULL + 1) / FULL)
    table.flags.writeable = False
    return table

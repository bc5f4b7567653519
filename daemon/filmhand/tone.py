"""The way from the gray of the art to the tone on the film, as one curve.

Tone is dot area: 0 = bare film, 1 = solid. The tone of a pixel is 1 - v, where v is the
sRGB-coded gray (0..1) that has the pixel's relative luminance (IEC 61966-2-1:1999). The steps run
in the order endpoints, contrast, midtone, dropout, aim and gain, hold, in float; 0 stays 0 and 1
stays 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from filmhand.arrays import Float32Array, Float64Array
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.profile.model import ToneWishes
from filmhand.profile.terms import Aim

FULL = 65535
# Light is looked up by its square root, which is close to the sRGB code: 18 bits of it place every
# 16-bit code within a sixth of a step, so flat 8- and 16-bit grays keep their exact tone.
LIGHT_STEPS = 2**18 - 1


def srgb_to_linear(code: Float64Array) -> Float64Array:
    """Relative luminance 0..1 of sRGB-coded gray 0..1 (IEC 61966-2-1:1999).

    >>> round(float(srgb_to_linear(np.array(128 / 255))), 6)
    0.215861
    """
    # Colors outside sRGB have codes below 0, of which there is no such power.
    curved = ((np.maximum(code, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.where(code <= 0.04045, code / 12.92, curved)


def linear_to_srgb(light: Float64Array) -> Float64Array:
    """sRGB-coded gray 0..1 of relative luminance 0..1 (IEC 61966-2-1:1999)."""
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


@dataclass(frozen=True, slots=True)
class Levels:
    """The coded grays (0..65535) that are taken as full black and as white."""

    black: float = 0.0
    white: float = float(FULL)


@dataclass(frozen=True, slots=True)
class PressCurve:
    """What a press makes of a film, as one curve.

    Attributes
    ----------
    film : (n,) float64, film tones 0..1, rising strictly from 0 to 1
    printed : (n,) float64, the tones that they print, never falling, from 0 to 1
    least, most : the lightest and the darkest film tone between bare and solid that are used
    """

    film: Float64Array
    printed: Float64Array
    least: float = 0.0
    most: float = 1.0

    def print_of(self, film: Float64Array) -> Float64Array:
        """The printed tone (0..1) of film tones (0..1)."""
        return np.interp(film, self.film, self.printed)

    def film_for(self, printed: Float64Array) -> Float64Array:
        """A film tone (0..1) that prints as asked, for every printed tone (0..1)."""
        tone = np.interp(printed, self.printed, self.film)
        return _pinned(printed, np.clip(tone, self.least, self.most))


_STEPS_BETWEEN = 64  # of the straight pieces that a curve through points is made of


def curve_through(points: Sequence[tuple[float, float]]) -> PressCurve:
    """The curve through measured pairs of film tone and print tone, in percent.

    Cubic pieces that rise wherever the pairs do (F. N. Fritsch, R. E. Carlson, Monotone piecewise
    cubic interpolation, SIAM J. Numer. Anal. 17(2), 1980; slopes by the weighted harmonic mean of
    Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984).

    Parameters
    ----------
    points : at least two; film tones rise strictly from 0 to 100, print tones from 0 to 100 and
        never fall
    """
    x, y = np.array(points, np.float64).T / 100
    step = np.diff(x)
    rise = np.diff(y) / step
    slope = np.zeros_like(x)
    slope[0], slope[-1] = rise[0], rise[-1]
    both = (rise[:-1] > 0) & (rise[1:] > 0)
    near, far = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    before, after = (np.where(both, part, 1) for part in (rise[:-1], rise[1:]))
    slope[1:-1] = np.where(both, (near + far) / (near / before + far / after), 0)
    t = np.linspace(0, 1, _STEPS_BETWEEN, endpoint=False)[:, None]
    made = (
        y[:-1] * (1 + 2 * t) * (1 - t) ** 2
        + y[1:] * t**2 * (3 - 2 * t)
        + step * t * (1 - t) * (slope[:-1] * (1 - t) - slope[1:] * t)
    )
    film = np.append((x[:-1] + step * t).T.ravel(), x[-1])
    # What rounding took back must not make the curve fall.
    printed = np.maximum.accumulate(np.append(made.T.ravel(), y[-1]))
    return PressCurve(film, np.minimum(printed, 1.0))


def tone_steps(
    wishes: ToneWishes, *, levels: Levels, negative: bool = False, press: PressCurve | None = None
) -> Callable[[Float64Array], Float64Array]:
    """The curve from the art's tone (0..1) to the film's tone (0..1).

    Parameters
    ----------
    wishes : the tone part of the profile
    levels : what ``endpoints`` found, as coded grays
    negative : the film's tones are exchanged, after the gain and before the hold
    press : what the press makes of the film; None for what is not screened, where neither the aim
        nor the gain counts
    """

    def curve(tone: Float64Array) -> Float64Array:
        bottom, top = 1 - levels.white / FULL, 1 - levels.black / FULL
        tone = np.clip((tone - bottom) / (top - bottom), 0, 1)
        tone = _pinned(tone, 0.5 + (tone - 0.5) * wishes.contrast)
        tone = _pinned(tone, tone + 4 * wishes.midtone / 100 * tone * (1 - tone))
        if wishes.dropout:
            # Half a step more, as the look-up of light may put the very tone on either side.
            tone = np.where(tone <= wishes.dropout / 100 + 0.5 / FULL, 0.0, tone)
        if press is not None:
            tone = press.film_for(print_wanted(tone, wishes.aim))
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


def print_wanted(tone: Float64Array, aim: Aim) -> Float64Array:
    """The printed area (0..1) that is wanted of the art's tone (0..1).

    For the print to reflect what the art reflects, Y, the ink must cover 1 - Y (Murray-Davies, for
    an ink that reflects nothing: A. Murray, J. Franklin Inst. 221, 1936).
    """
    return 1 - srgb_to_linear(1 - tone) if aim is Aim.LUMINANCE else tone


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
    tone = np.rint(curve(tone_of_steps()) * FULL)
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
def tone_of_steps() -> Float64Array:
    """(LIGHT_STEPS + 1,) float64: the tone at each step of the look-up. Do not write to it."""
    light = (np.arange(LIGHT_STEPS + 1) / LIGHT_STEPS) ** 2
    table = 1 - linear_to_srgb(light)
    table.flags.writeable = False
    return table


@lru_cache(maxsize=1)
def linear_table() -> Float64Array:
    """(65536,) float64: relative luminance of every 16-bit sRGB code. Do not write to it."""
    table = srgb_to_linear(np.arange(FULL + 1) / FULL)
    table.flags.writeable = False
    return table

"""Ruling and angle of screened flats, measured by a Fourier transform of the test's own.

The window (Blackman, scipy.signal), the transform (scipy.fft) and the zoom (a grid of the
continuous transform) share no code with :mod:`filmhand.mesh.moire.spectrum`, which is held against
the same flats.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import fft, signal

from filmhand.mesh.moire.spectrum import clearest_screen
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE

pytestmark = pytest.mark.outside

INCHES = 4
# The window that is transformed has this many pixels to the inch; finer films are averaged first.
PER_INCH = 300


def screened_flat(*, dpi, lpi, angle, dot, tone, mesh="43-80"):
    """Ink share of a flat of 4 x 4 inches, at 300 pixels to the inch or the device's own."""
    across, down = dpi if isinstance(dpi, tuple) else (dpi, dpi)
    profile = read_profile(
        f"sheet: 8.5 x 11 in\ndpi: {across} x {down}\nlpi: {lpi}\ndot: {dot}\nthreshold: 50\n"
        f"mesh: {mesh}\nmargin: 0.25 in\nangle: {angle}\n",
        name="flat",
        file="flat.yaml",
    )
    tile = plan_screen(profile).tile()
    width, height = across * INCHES, down * INCHES
    strip = np.full((height, width), round(tone * FULL_TONE), np.uint16)
    bits = Screener(tile, column=300, width=width).cut(strip, row=411)
    x, y = max(1, across // PER_INCH), max(1, down // PER_INCH)
    shares = bits.reshape(height // y, y, width // x, x).mean(axis=(1, 3))
    return shares, (across / x, down / y)


def measured_vectors(shares, per_inch, lpi):
    """The strongest frequency near the ruling, and the strongest a right angle away; per inch."""
    (height, width), (across, down) = shares.shape, per_inch
    window = np.outer(signal.windows.blackman(height), signal.windows.blackman(width))
    level = (shares - shares.mean()) * window
    power = np.abs(fft.rfft2(level)) ** 2
    fy, fx = fft.fftfreq(height, 1 / down)[:, None], fft.rfftfreq(width, 1 / across)[None]
    ring = np.abs(np.hypot(fy, fx) / lpi - 1) < 0.3
    first = np.unravel_index(np.where(ring, power, 0).argmax(), power.shape)
    x, y = fx[0, first[1]], fy[first[0], 0]
    # A frequency and its negative are one; the half with x >= 0 is kept.
    turned = np.minimum(np.hypot(fx - y, fy + x), np.hypot(fx + y, fy - x)) < 3 / INCHES
    second = np.unravel_index(np.where(turned, power, 0).argmax(), power.shape)
    strength = power[second] / power[first]
    vectors = [
        _zoomed(level, per_inch, np.array([fx[0, k[1]], fy[k[0], 0]])) for k in (first, second)
    ]
    return vectors, strength


def _zoomed(level, per_inch, start):
    """The peak of the transform near ``start`` (x, y), on a grid of a twentieth of a bin."""
    (height, width), (across, down) = level.shape, per_inch
    offsets = np.linspace(-1, 1, 41) / INCHES
    left = np.exp(-2j * np.pi * np.outer(start[1] + offsets, np.arange(height) / down))
    right = np.exp(-2j * np.pi * np.outer(np.arange(width) / across, start[0] + offsets))
    power = np.log(np.abs((left.real @ level + 1j * (left.imag @ level)) @ right))
    row, column = np.unravel_index(power.argmax(), power.shape)
    assert 0 < row < 40
    assert 0 < column < 40

    def between(before, here, after):
        return (before - after) / (before - 2 * here + after) / 2

    dy = between(power[row - 1, column], power[row, column], power[row + 1, column])
    dx = between(power[row, column - 1], power[row, column], power[row, column + 1])
    step = offsets[1] - offsets[0]
    return start + np.array([offsets[column] + dx * step, offsets[row] + dy * step])


# Every device with two rulings and four angles, and dots and tones spread over them.
_DEVICES = {
    300: (25, 45),
    360: (35, 65),
    600: (30, 55),
    720: (45, 65),
    1200: (30, 60),
    (600, 1200): (45, 55),
}
_DOTS = ("round", "ellipse", "diamond", "square", "line")
_TONES = (0.1, 0.3, 0.6, 0.8, 0.25)
CASES = [
    (dpi, lpi, angle, _DOTS[k % 5], _TONES[(k // 5) % 5])
    for k, (dpi, which, angle) in enumerate(product(_DEVICES, (0, 1), (0, 15, 22.5, 61.5)))
    for lpi in [_DEVICES[dpi][which]]
]
assert len(CASES) == 48


@pytest.mark.parametrize(("dpi", "lpi", "angle", "dot", "tone"), CASES)
def test_ruling_and_angle_on_the_bits(dpi, lpi, angle, dot, tone):
    shares, per_inch = screened_flat(dpi=dpi, lpi=lpi, angle=angle, dot=dot, tone=tone)
    vectors, strength = measured_vectors(shares, per_inch, lpi)
    lines = dot == "line"
    # A frequency vector of a line screen is at right angles to its lines; rows run downward.
    wanted = angle + 90 if lines else angle
    period = 180 if lines else 90
    for x, y in vectors[: 1 if lines else 2]:
        assert np.hypot(x, y) == pytest.approx(lpi, rel=1e-3)
        off = np.degrees(np.arctan2(-y, x)) - wanted
        assert abs((off + period / 2) % period - period / 2) <= 0.05
    assert (strength < 0.05) if lines else (strength > 0.3)

    found = clearest_screen([shares], per_inch)
    assert found is not None
    assert found.lines == lines
    assert found.lpi == pytest.approx(np.hypot(*vectors[0]), rel=2e-4)
    assert abs((found.angle - angle + period / 2) % period - period / 2) <= 0.05
    assert 0 <= found.angle < period


def test_the_measuring_sees_a_wrong_screen():
    # 0.3 % coarser and 0.2 degrees turned: three times and four times the tolerance.
    shares, per_inch = screened_flat(dpi=300, lpi=44.87, angle=22.3, dot="round", tone=0.3)
    (x, y), _ = measured_vectors(shares, per_inch, 45)[0]
    assert abs(np.hypot(x, y) / 45 - 1) > 2e-3
    assert abs(np.degrees(np.arctan2(-y, x)) % 90 - 22.5) > 0.15


@pytest.mark.parametrize("dot", ["round", "line"])
def test_an_upright_screen_is_told_as_0_and_not_as_a_whole_turn(dot):
    shares, per_inch = screened_flat(dpi=300, lpi=25, angle=0, dot=dot, tone=0.3)
    found = clearest_screen([shares], per_inch)
    assert found is not None
    assert round(found.angle, 3) == 0

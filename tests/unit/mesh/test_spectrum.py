"""Finding a screen in a bitmap, and finding none where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.mesh.moire.spectrum import clearest_screen


def wave(lpi, angle, *, per_inch=(300, 300), inches=2, lines=False, tone=0.4, mirror=False):
    """A screen of ideal dots or lines; the angle counter-clockwise as seen, rows downward."""
    x = np.arange(round(inches * per_inch[0])) / per_inch[0]
    y = -np.arange(round(inches * per_inch[1])) / per_inch[1]
    turn = np.radians(angle)
    along = x[None, :] * np.cos(turn) + y[:, None] * np.sin(turn)
    across = -x[None, :] * np.sin(turn) + y[:, None] * np.cos(turn)
    height = np.cos(2 * np.pi * lpi * across)
    if not lines:
        height = height + np.cos(2 * np.pi * lpi * along)
    bits = (height > np.quantile(height, 1 - tone)).astype(np.float64)
    return bits[:, ::-1] if mirror else bits


def off(angle, wanted, turn):
    return abs((angle - wanted + turn / 2) % turn - turn / 2)


@pytest.mark.parametrize(
    ("lpi", "angle", "per_inch", "tone"),
    [
        (25, 0, (300, 300), 0.5),
        (35, 15, (300, 300), 0.1),
        (45, 22.5, (300, 300), 0.85),
        (55, 61, (300, 600), 0.5),
        (30, 75, (600, 300), 0.3),
        (45, 45, (300, 600), 0.9),
    ],
)
def test_ruling_and_angle_of_dots(lpi, angle, per_inch, tone):
    found = clearest_screen([wave(lpi, angle, per_inch=per_inch, tone=tone, inches=2)], per_inch)
    assert found is not None
    assert not found.lines
    assert found.lpi == pytest.approx(lpi, rel=1e-3)
    assert 0 <= found.angle < 90
    assert off(found.angle, angle, 90) < 0.05
    assert 0.03 < found.share <= 1


@pytest.mark.parametrize("angle", [0, 15, 45, 90, 105, 160])
def test_lines_are_told_from_dots_and_keep_their_full_half_turn(angle):
    found = clearest_screen([wave(40, angle, lines=True, inches=4)], (300, 300))
    assert found is not None
    assert found.lines
    assert found.lpi == pytest.approx(40, rel=1e-3)
    assert off(found.angle, angle, 180) < 0.05
    assert 0 <= found.angle < 180


def test_a_mirrored_film_shows_the_mirrored_angle():
    found = clearest_screen([wave(45, 15, mirror=True)], (300, 300))
    assert found is not None
    assert off(found.angle, 75, 90) < 0.05


def test_a_film_averaged_down_shows_the_same_screen():
    fine = wave(45, 22.5, per_inch=(1200, 1200), inches=2)
    window = fine.reshape(600, 4, 600, 4).mean((1, 3))
    found = clearest_screen([window], (300, 300))
    assert found is not None
    assert found.lpi == pytest.approx(45, rel=1e-3)
    assert off(found.angle, 22.5, 90) < 0.05


def test_a_picture_in_the_screen_does_not_hide_it():
    x = np.arange(1200) / 300
    tone = 0.5 + 0.3 * np.sin(2 * np.pi * 0.7 * x)[None, :] * np.cos(2 * np.pi * 0.4 * x)[:, None]
    height = np.cos(2 * np.pi * 40 * x)[None, :] + np.cos(2 * np.pi * 40 * x)[:, None]
    level = np.sort(height, axis=None)[((1 - tone) * (height.size - 1)).astype(int)]
    found = clearest_screen([(height > level).astype(np.float64)], (300, 300))
    assert found is not None
    assert found.lpi == pytest.approx(40, rel=1e-3)
    assert off(found.angle, 0, 90) < 0.05


@pytest.mark.parametrize("tone", [0.0, 0.37, 1.0])
def test_an_even_field_has_no_screen(tone):
    assert clearest_screen([np.full((600, 600), tone)], (300, 300)) is None


def test_noise_and_drawings_have_no_screen():
    rng = np.random.default_rng(8)
    noise = (rng.random((900, 900)) > 0.5).astype(np.float64)
    assert clearest_screen([noise], (300, 300)) is None
    blobs = ndimage.gaussian_filter(rng.random((900, 900)), 6)
    drawing = (blobs > np.median(blobs)).astype(np.float64)
    assert clearest_screen([drawing], (300, 300)) is None

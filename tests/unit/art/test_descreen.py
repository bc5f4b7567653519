from __future__ import annotations

import numpy as np
import pytest
from degraded import as_codes, jpeg, line_samples, tone_samples

from filmhand.art.repair.descreen import ScreenedBefore, find_earlier_screen, without_screen


def dotted(size, period, angle, *, contrast=0.5, tone=None):
    """A picture under a sine screen, which has the peaks of a real one and no others."""
    y, x = np.mgrid[0:size, 0:size]
    turn = np.radians(angle)
    u = 2 * np.pi * (x * np.cos(turn) - y * np.sin(turn)) / period
    v = 2 * np.pi * (x * np.sin(turn) + y * np.cos(turn)) / period
    tone = 0.5 if tone is None else tone
    noise = 0.01 * np.random.default_rng(1).standard_normal((size, size))
    return as_codes(tone + contrast / 4 * (np.cos(u) + np.cos(v)) + noise)


@pytest.mark.parametrize(("period", "angle"), [(2.3, 45), (3.5, 15), (3.5, 60), (6, 0), (12, 30)])
def test_period_and_angle_are_measured(period, angle):
    found = find_earlier_screen(dotted(600, period, angle))
    assert found.period == pytest.approx(period, rel=0.01)
    # The lattice is the same a quarter further.
    assert (found.angle - angle + 45) % 90 == pytest.approx(45, abs=1)
    assert found.strength == pytest.approx(0.25, rel=0.25)
    assert found.share > 0.9


def test_weak_coarse_and_one_way_patterns_are_no_screens():
    assert find_earlier_screen(dotted(600, 3.5, 45, contrast=0.01)) is None
    assert find_earlier_screen(dotted(600, 30, 45)) is None
    y, x = np.mgrid[0:600, 0:600]
    assert find_earlier_screen(as_codes(0.5 + 0.2 * np.cos(2 * np.pi * (x + y) / 5))) is None


def test_no_sample_of_lines_or_tones_is_taken_for_a_screen():
    for samples in (line_samples(), tone_samples()):
        for name, coded in samples.items():
            assert find_earlier_screen(coded) is None, name


@pytest.mark.parametrize("shape", [(1, 1), (3, 400), (127, 900), (130, 130), (300, 200)])
def test_odd_shapes(shape):
    noise = np.random.default_rng(3).integers(0, 65536, shape).astype(np.uint16)
    assert find_earlier_screen(noise) is None
    assert without_screen(noise, ScreenedBefore(3, 45, 0.2, 1)).shape == shape


def test_dots_go_and_what_is_under_them_stays():
    y, x = np.mgrid[0:700, 0:700] / 700
    tone = 0.3 + 0.4 * (x > 0.5) + 0.1 * y
    art = dotted(700, 3.5, 45, tone=tone)
    before = art.copy()
    after = without_screen(art, find_earlier_screen(art))
    off = np.abs(after / 65535 - tone)
    assert off[8:-8, 8:335].max() < 0.03 and off[8:-8, 365:-8].max() < 0.03
    assert np.sqrt(np.mean(off**2)) < 0.03
    assert np.array_equal(art, before)
    # The edge rises within about a dot.
    row = after[300] / 65535
    assert np.count_nonzero((row > 0.4) & (row < 0.68)) <= 4


def test_tiles_join_without_a_seam():
    art = dotted(900, 3.1, 20)
    after = without_screen(art, find_earlier_screen(art))
    assert np.abs(np.diff(after[20:-20, 20:-20].astype(int), axis=1)).max() < 0.02 * 65535
    flat = np.full((500, 500), 30000, np.uint16)
    assert np.abs(without_screen(flat, find_earlier_screen(art)).astype(int) - 30000).max() <= 1


@pytest.mark.parametrize("side", [5, 8])
def test_a_chequered_pattern_is_left_as_it_was_drawn(side):
    y, x = np.mgrid[:700, :900]
    flag = as_codes(np.where((x // side + y // side) % 2, 0.1, 0.9))
    assert find_earlier_screen(flag) is None


@pytest.mark.parametrize("seed", range(4))
def test_square_codes_as_jpeg_are_no_screens(seed):
    squares = np.pad(np.random.default_rng(seed).random((33, 33)) < 0.5, 4)
    place = np.arange(800) * 41 // 800
    assert find_earlier_screen(jpeg(as_codes(1.0 - squares[place][:, place]), 30)) is None

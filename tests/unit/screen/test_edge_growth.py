"""The growth of dots' edges against geometry and against drawn dots that were grown."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.screen.dot_shapes import Dot, ellipse
from filmhand.screen.edge_growth import grown_tones
from filmhand.screen.lattice import find_lattice
from filmhand.screen.tile import build_tile
from filmhand.units import Resolution

SHAPES = [dot for dot in Dot if not dot.own]


def after(curve, tone):
    return float(np.interp(tone, curve.before, curve.after))


@pytest.mark.parametrize("gain", [1e-4, 0.1, 0.4])
@pytest.mark.parametrize("dot", SHAPES, ids=str)
def test_the_half_tone_gains_what_was_asked_and_no_tone_falls(dot, gain):
    curve = grown_tones(dot.row.function, gain)
    assert after(curve, 0.5) == pytest.approx(0.5 + gain, abs=1e-4)
    assert (np.diff(curve.after) >= 0).all()
    assert (curve.after >= curve.before - 1e-12).all()
    assert (curve.after[0], curve.after[-1]) == (0, 1)
    assert curve.after.max() <= 1


@pytest.mark.parametrize("lpi", [35, 45, 55, 65])
@pytest.mark.parametrize("microns", [10, 25])
def test_a_checkerboard_gains_edge_times_its_length(lpi, microns):
    """A side of the checkerboard of a cell c is c / sqrt 2, two to a cell each way.

    So a growth d covers 2 sqrt 2 d / c, less what the corners of the bare squares lose: exactly
    (1 / sqrt 2 - 2 d / c)^2 stays bare.
    """
    width = microns * lpi / 25400
    curve = grown_tones(Dot.ROUND.row.function, 0.5 - (0.5**0.5 - 2 * width) ** 2)
    assert curve.width == pytest.approx(width, abs=0.002)


@pytest.mark.parametrize("gain", [0.1, 0.2, 0.3])
def test_a_line_gains_alike_at_every_tone_until_it_meets_the_next(gain):
    curve = grown_tones(Dot.LINE.row.function, gain)
    for tone in (0.1, 0.3, 0.5, 0.65):
        assert after(curve, tone) == pytest.approx(min(1, tone + gain), abs=0.011)
    assert curve.width == pytest.approx(gain / 2, abs=0.004)


@pytest.mark.parametrize("tone", [0.02, 0.05, 0.1, 0.2])
def test_a_light_round_dot_gains_a_ring_around_it(tone):
    # pi (r + d)^2 of a disc of radius r: for dots that are small a disc is what they are.
    curve = grown_tones(Dot.ROUND.row.function, 0.15)
    ring = np.pi * (np.sqrt(tone / np.pi) + curve.width) ** 2
    assert after(curve, tone) == pytest.approx(ring, abs=0.008)


@pytest.mark.parametrize("shape", [Dot.ROUND.row.function, Dot.SQUARE.row.function, ellipse(0.6)])
def test_the_curve_is_that_of_a_drawn_screen_whose_dots_another_library_grows(shape):
    resolution, lpi = Resolution(4800, 4800), 60
    tile = build_tile(find_lattice(lpi, 22.5, resolution), shape)
    row, column = np.mgrid[:800, :800]
    thresholds = tile.thresholds.ravel()[tile.brick.index(column, row)]
    curve = grown_tones(shape, 0.2)
    reach = curve.width * resolution.x / lpi + 0.4  # the nearest black pixel's middle lies inside
    for tone in (0.08, 0.25, 0.5, 0.7, 0.9):
        away = ndimage.distance_transform_edt(thresholds > round(tone * 65535))
        # Nine cells each way, not whole ones, so the luck of where they are cut matters as well.
        printed = (away <= reach)[20:-20, 20:-20].mean() - (away == 0)[20:-20, 20:-20].mean()
        assert printed == pytest.approx(after(curve, tone) - tone, abs=0.01)


def test_scattered_dots_gain_as_dots_do():
    curve = grown_tones(None, 0.2)
    plain = grown_tones(Dot.ROUND.row.function, 0.2)
    for tone in (0.1, 0.25, 0.75, 0.9):
        assert after(curve, tone) == pytest.approx(after(plain, tone), abs=0.07)

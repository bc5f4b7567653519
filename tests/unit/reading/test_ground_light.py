"""The light on a wedge, from what was seen of bare ground."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.reading.ground_light import channel_weights, fit_ground, fit_solid

SIZE = (100.0, 80.0)


def places(count):
    return np.random.default_rng(4).random((count, 2)) * SIZE


def vignette(where):
    x, y = (2 * one / side - 1 for one, side in zip(where.T, SIZE, strict=True))
    light = 0.8 * (1 - 0.25 * (x**2 + y**2) / 2) * (1 + 0.1 * x)
    return np.column_stack([light, 0.9 * light, 0.7 * light])


def test_light_that_falls_off_is_told_in_between():
    where = places(60)
    ground = fit_ground(where, vignette(where), SIZE)
    asked = places(30) * 0.9 + 4
    assert ground.at(*asked.T) == pytest.approx(vignette(asked), rel=0.004)


def test_a_speck_of_ink_on_one_place_does_not_darken_the_others():
    where = places(60)
    seen = vignette(where)
    seen[7] *= 0.5
    ground = fit_ground(where, seen, SIZE)
    others = np.arange(60) != 7
    assert np.median(np.abs(ground.differs()[others])) < 0.004
    assert abs(ground.differs()[7, 0]) > 0.1


def test_one_place_is_light_enough_for_even_light():
    ground = fit_ground(np.array([(10.0, 10.0)]), np.array([[0.8, 0.7, 0.6]]), SIZE)
    assert ground.at(np.array([90.0]), np.array([70.0]))[0] == pytest.approx([0.8, 0.7, 0.6])


def test_solids_in_stray_light_make_a_plane():
    where = places(6)
    shares = np.repeat(0.05 + 0.02 * (2 * where[:, :1] / SIZE[0] - 1), 3, axis=1)
    solid = fit_solid(where, shares, SIZE)
    assert solid.at(80.0, 40.0)[0] == pytest.approx(0.05 + 0.02 * 0.6, abs=0.004)
    assert solid.error(np.array([0.0, 1.0, 0.0])) < 0.004


def test_the_channel_that_sees_the_ink_counts_most():
    contrast, noise = np.array([0.1, 0.9, 0.8]), np.array([0.01, 0.01, 0.02])
    weights = channel_weights(contrast, noise, np.array([True, True, True]))
    assert weights.sum() == pytest.approx(1) and weights[0] == 0
    assert weights[1] > 4 * weights[2] > 0
    clipped = channel_weights(contrast, noise, np.array([True, False, True]))
    assert clipped[1] == 0 and clipped[2] == pytest.approx(1)

"""sRGB, XYZ and CIELAB."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import (
    D50,
    lab_to_light,
    lab_to_srgb,
    light_to_lab,
    light_to_xyz,
    srgb_to_lab,
    white_of,
    xyz_to_light,
)


def test_white_black_and_gray_have_no_hue():
    grays = np.linspace(0, 1, 33)[:, None] * np.ones(3)
    lab = srgb_to_lab(grays)
    assert np.abs(lab[:, 1:]).max() < 1e-9
    assert lab[[0, -1], 0] == pytest.approx([0, 100], abs=1e-9)
    assert light_to_xyz(np.ones(3)) == pytest.approx(white_of(D50))


def test_the_way_back_gives_the_same_codes():
    codes = np.random.default_rng(1).random((40, 50, 3))
    assert np.abs(lab_to_srgb(srgb_to_lab(codes)) - codes).max() < 1e-9
    assert np.abs(xyz_to_light(light_to_xyz(codes)) - codes).max() < 1e-12


def test_dark_colors_go_there_and_back_by_the_straight_part():
    light = np.random.default_rng(2).random((200, 3)) * 0.005
    assert np.abs(lab_to_light(light_to_lab(light)) - light).max() < 1e-12


def test_the_lightness_of_a_light_of_0_18():
    # 116 * cbrt(0.18) - 16
    assert light_to_lab(np.full(3, 0.18))[0] == pytest.approx(49.496, abs=1e-3)


def test_what_lies_beyond_srgb_has_light_below_0_and_codes_that_are_clipped():
    cyan_ink = np.array([55.0, -37.0, -50.0])
    assert lab_to_light(cyan_ink)[0] < 0
    code = lab_to_srgb(cyan_ink)
    assert code[0] == 0
    assert (code >= 0).all()

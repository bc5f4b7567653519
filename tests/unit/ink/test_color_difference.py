"""How far apart two colors look."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.color_difference import color_difference, nearest_color

WHITE, GRAY, BLACK = (np.array([lightness, 0.0, 0.0]) for lightness in (100, 50, 0))
RED, BLUE = np.array([50.0, 70.0, 50.0]), np.array([35.0, 30.0, -80.0])


def test_the_same_color_is_nothing_apart():
    colors = np.random.default_rng(1).uniform((0, -90, -90), (100, 90, 90), (500, 3))
    assert color_difference(colors, colors).max() < 1e-6
    assert color_difference(BLACK, BLACK) == 0


def test_black_and_white_are_100_apart():
    assert color_difference(BLACK, WHITE) == pytest.approx(100)


def test_shapes_are_broadcast():
    grid = np.tile(RED, (4, 5, 1))
    assert color_difference(grid, BLUE).shape == (4, 5)
    assert color_difference(grid[:, :, None], np.stack([RED, BLUE])).shape == (4, 5, 2)


def test_it_does_not_matter_which_is_which():
    one, other = np.random.default_rng(2).uniform((0, -90, -90), (100, 90, 90), (2, 500, 3))
    assert color_difference(one, other) == pytest.approx(color_difference(other, one))


def test_the_nearest_of_a_list_and_how_far():
    colors = np.array([[RED + 1, BLUE - 1], [GRAY, RED]])
    nearest, difference = nearest_color(colors, np.stack([BLUE, RED, GRAY]))
    assert nearest.tolist() == [[1, 0], [2, 1]]
    assert difference[0, 1] == pytest.approx(color_difference(BLUE - 1, BLUE))
    assert difference[1] == pytest.approx([0, 0])


def test_of_equals_the_first_is_taken_and_one_color_will_do():
    nearest, difference = nearest_color(RED, np.stack([BLUE, RED, RED]))
    assert (int(nearest), float(difference)) == (1, 0)

"""Dot shapes."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen.dot_shapes import Dot

# Off the round numbers, where branches of the formulas meet and float noise picks one.
DOT_FUNCTIONS = {str(dot): dot.row.function for dot in Dot if dot.row.function is not None}
CELL = (np.arange(200) - 99.5) / 100 * 0.99731
X, Y = np.meshgrid(CELL, CELL)


@pytest.mark.parametrize("name", DOT_FUNCTIONS)
def test_black_starts_in_the_middle(name):
    value = DOT_FUNCTIONS[name].value(np, X, Y)
    row, column = np.unravel_index(value.argmax(), value.shape)
    assert np.hypot(CELL[column], CELL[row]) < 0.02


@pytest.mark.parametrize("name", DOT_FUNCTIONS)
def test_shadow_dots_open_at_their_center(name):
    spot = DOT_FUNCTIONS[name]
    middle = spot.value(np, *(np.array([2 * side]) for side in spot.shadow_dot_center))
    assert middle[0] <= spot.value(np, X, Y).min() + 1e-2


@pytest.mark.parametrize("name", DOT_FUNCTIONS)
def test_shapes_are_symmetric_and_within_bounds(name):
    value = DOT_FUNCTIONS[name].value(np, X, Y)
    assert np.array_equal(value, value[::-1])
    assert np.array_equal(value, value[:, ::-1])
    assert np.abs(value).max() <= 1.0 + 1e-5


def test_round_mirrors_itself_at_half_tone():
    # Shifted by half a cell both ways and inverted, the round screen is itself.
    value = DOT_FUNCTIONS["round"].value
    away_x, away_y = np.where(X > 0, X - 1, X + 1), np.where(Y > 0, Y - 1, Y + 1)
    assert np.allclose(value(np, away_x, away_y), -value(np, X, Y))

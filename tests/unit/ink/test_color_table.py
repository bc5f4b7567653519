"""Values on a grid of colors."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.color_table import GRID, ColorTable, grid_codes


def test_the_grid_has_all_corners_and_blue_runs_fastest():
    codes = grid_codes(3)
    assert codes.shape == (27, 3)
    assert codes[[0, 1, 26]].tolist() == [[0, 0, 0], [0, 0, 0.5], [1, 1, 1]]
    assert len(grid_codes()) == GRID**3


def test_the_colors_of_the_grid_have_their_own_values():
    values = np.random.default_rng(1).random((125, 4))
    assert ColorTable.of(values).at(grid_codes(5)) == pytest.approx(values)


def test_what_rises_evenly_is_met_exactly():
    matrix = np.array([[1.0, 0.2], [-0.5, 0.3], [0.1, 0.7]])
    table = ColorTable.of(grid_codes(4) @ matrix + 0.25)
    codes = np.random.default_rng(2).random((6, 50, 3))
    assert table.at(codes) == pytest.approx(codes @ matrix + 0.25)


def test_grays_lie_between_their_neighbors_whatever_the_colors_beside_them_have():
    values = np.random.default_rng(3).random((27, 1)) * 100
    gray = np.array([0, 13, 26])
    values[gray, 0] = [0, 1, 2]
    grays = np.linspace(0, 1, 101)
    found = ColorTable.of(values).at(grays[:, None] * np.ones(3))
    assert found[:, 0] == pytest.approx(2 * grays)


def test_codes_beyond_are_taken_for_the_ends():
    table = ColorTable.of(grid_codes(3))
    assert table.at(np.array([[-0.5, 0.5, 1.5]]))[0] == pytest.approx([0, 0.5, 1])

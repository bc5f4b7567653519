"""Dots by a function of one's own."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen.dot_function import dot_function_of


def test_of_equally_low_places_the_one_farthest_from_the_dots_is_the_hole():
    # A cone on a plain: by symmetry its dots are farthest from the corner of the cell.
    cone = dot_function_of(lambda x, y: np.maximum(0, 0.5 - np.hypot(x, y)))
    assert cone.dot_center == (0, 0)
    assert np.abs(cone.shadow_dot_center).tolist() == [0.5, 0.5]


@pytest.mark.parametrize(("x", "y"), [(0.25, 0.0), (-0.375, 0.25), (0.125, -0.4375)])
def test_the_farthest_place_counts_repetitions_of_a_dot_that_is_off_the_middle(x, y):
    moved = dot_function_of(lambda a, b: np.maximum(0, 0.2 - np.hypot(a - 2 * x, b - 2 * y)))
    assert moved.dot_center == pytest.approx((x, y))
    apart = (np.array(moved.shadow_dot_center) - moved.dot_center) % 1
    assert apart == pytest.approx([0.5, 0.5], abs=1 / 128)


def test_of_equally_high_places_the_one_nearest_the_middle_is_the_dot():
    plateau = dot_function_of(lambda x, y: -np.maximum(0.25, np.abs(x - 0.5)) - 0 * y)
    assert plateau.dot_center == pytest.approx((0.125, 0))

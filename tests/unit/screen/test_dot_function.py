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


def test_values_are_brought_to_the_scale_of_the_standard_functions():
    function = dot_function_of(lambda x, y: 10 - 4 * np.abs(x) - 0 * y)
    x = np.array([0, 0.25, 0.5, 1.0])
    assert function.value(np, x, 0 * x) == pytest.approx([1, 0.5, 0, -1])


def test_what_is_undefined_turns_last_and_what_is_endless_at_its_end():
    """Below the lowest and above the highest of the rest, which lie at -1 and 1."""
    odd = {0.0: np.inf, 0.25: np.nan, 0.5: -np.inf}
    function = dot_function_of(
        lambda x, y: np.select([x == at for at in odd], list(odd.values()), 2 - np.abs(x)) + 0 * y
    )
    x = np.array([*odd, 1 / 64, -1.0])
    first, undefined, last, highest, lowest = function.value(np, x, 0 * x)
    assert undefined == last < lowest == pytest.approx(-1)
    assert first > highest == pytest.approx(1)
    assert max(-undefined, first) <= 1.5
    assert function.dot_center == (0, 0)


def test_a_function_that_overshoots_where_it_was_not_tried_is_cut():
    spike = dot_function_of(lambda x, y: np.where(x == 0.3, 99, 1 - np.abs(x)) + 0 * y)
    x = np.array([0.3, 0.0, -1.0])
    assert spike.value(np, x, 0 * x) == pytest.approx([1.5, 1, -1])

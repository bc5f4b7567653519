"""The beat between screen and mesh: lock points, stretch, lines, and angles that are better."""

from __future__ import annotations

from math import atan2, cos, degrees, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.mesh.beat import (
    LARGEST_STRETCH,
    LONGEST_MM,
    beat_with_mesh,
    better_angles,
    screen_vectors,
)

ORDERS = ((1, 0), (0, 1), (1, 1), (1, -1))


def dots(lpi, angle, tpi):
    return beat_with_mesh(screen_vectors(lpi, angle), tpi)


def brute(lpi, angle, tpi, *, lines=False):
    """The slowest beat in millimetres, from every difference of orders, none left out."""
    turn, reach = radians(angle), np.arange(-14, 15)
    i, j = np.meshgrid([0] if lines else reach, reach)
    x = lpi * (i * cos(turn) - j * sin(turn))
    y = lpi * (i * sin(turn) + j * cos(turn))
    lowest = min(np.hypot(x - a * tpi, y - b * tpi).min() for a, b in ORDERS)
    return 25.4 / lowest if lowest > 25.4 / LONGEST_MM else LONGEST_MM


def test_vectors_are_the_rulings_directions():
    assert screen_vectors(45, 0) == pytest.approx(np.array([[45, 0], [0, 45]]))
    along, across = screen_vectors(50, 30)
    assert degrees(atan2(along[1], along[0])) == pytest.approx(30)  # y up
    assert np.dot(along, across) == pytest.approx(0, abs=1e-9)
    # Level lines repeat up and down only.
    assert screen_vectors(45, 0, lines=True) == pytest.approx(np.array([[0, 45]]))


@settings(max_examples=60, deadline=None)
@given(
    lpi=st.floats(20, 85),
    ratio=st.floats(1.5, 7.5),
    angle=st.floats(0, 180),
    lines=st.booleans(),
)
def test_the_period_is_the_slowest_of_all_orders(lpi, ratio, angle, lines):
    tpi = ratio * lpi
    beat = beat_with_mesh(screen_vectors(lpi, angle, lines=lines), tpi)
    assert beat.period_mm == pytest.approx(brute(lpi, angle, tpi, lines=lines), rel=1e-6)
    # The stretch is tried in small steps here, and solved for there.
    stretched = max(
        brute(lpi, angle, tpi * (1 - s), lines=lines) for s in np.linspace(0, LARGEST_STRETCH, 11)
    )
    assert beat.worst_period_mm >= stretched * (1 - 1e-9)
    assert beat.worst_period_mm >= beat.period_mm


def test_the_worst_over_the_stretch_is_reached_within_it():
    for lpi, angle, tpi in ((25, 22.5, 109.22), (45, 15, 228.6), (55, 45, 228.6), (65, 30, 304.8)):
        stretches = np.linspace(0, LARGEST_STRETCH, 201)
        fine = max(brute(lpi, angle, tpi * (1 - s)) for s in stretches)
        assert dots(lpi, angle, tpi).worst_period_mm == pytest.approx(fine, rel=0.02)


@pytest.mark.parametrize(
    ("i", "j"), [(4, 0), (3, 3), (4, 2), (4, 3), (5, 0), (5, 2), (3, 1), (2, 3), (4, 1), (4, 4)]
)
def test_where_an_order_of_the_dots_is_a_mesh_order_the_beat_never_ends(i, j):
    lpi = 40.0
    tpi, angle = lpi * sqrt(i * i + j * j), degrees(atan2(j, i))
    assert dots(lpi, angle, tpi).period_mm == LONGEST_MM
    assert dots(lpi, 90 - angle, tpi).period_mm == LONGEST_MM
    # Two degrees off it is over.
    assert dots(lpi, angle + 2, tpi).period_mm < 25


@given(lpi=st.floats(20, 85), ratio=st.floats(1.5, 7.5), angle=st.floats(0, 90))
def test_mesh_and_dots_look_the_same_turned_by_a_right_angle_and_mirrored(lpi, ratio, angle):
    tpi = ratio * lpi
    here = dots(lpi, angle, tpi)
    for same in (angle + 90, angle + 180, -angle, 90 - angle):
        other = dots(lpi, same, tpi)
        assert other.period_mm == pytest.approx(here.period_mm, rel=1e-6)
        assert other.worst_period_mm == pytest.approx(here.worst_period_mm, rel=1e-6)


@given(lpi=st.floats(20, 85), ratio=st.floats(1.5, 7.5), angle=st.floats(0, 90))
def test_a_beat_scales_with_the_sheet(lpi, ratio, angle):
    one, double = dots(lpi, angle, ratio * lpi), dots(2 * lpi, angle, 2 * ratio * lpi)
    if one.period_mm < LONGEST_MM:
        assert double.period_mm == pytest.approx(one.period_mm / 2, rel=1e-6)


def test_a_slack_lock_point_of_100_threads_and_24_lines_a_centimetre_is_found_in_the_stretch():
    # 100 to 24 is 4.167 slack, and 4.000 once tension has opened the weave by 4 %.
    beat = dots(24 * 2.54, 0, 254)
    assert beat.period_mm == pytest.approx(2.5, abs=0.01)
    assert beat.worst_period_mm == LONGEST_MM


@pytest.mark.parametrize("lines", [False, True])
@pytest.mark.parametrize(
    ("lpi", "angle", "tpi"),
    [(25, 45, 109.22), (35, 0, 109.22), (55, 45, 228.6), (45, 0, 228.6), (65, 22.5, 304.8)],
)
def test_better_angles_are_better_in_order_of_nearness_and_never_more_than_asked(
    lpi, angle, tpi, lines
):
    def worst(a):
        return beat_with_mesh(screen_vectors(lpi, a, lines=lines), tpi).worst_period_mm

    turn = 180 if lines else 90
    named = better_angles(lpi, angle, tpi, lines=lines)
    assert len(named) <= 3
    best = min(worst(a / 2) for a in range(2 * turn))
    for a in named:
        assert 0 <= a < turn
        assert 2 * a == int(2 * a)
        assert worst(a) <= 0.8 * worst(angle)
        assert worst(a) <= 1.6 * best * (1 + 1e-9)
    away = [abs((a - angle + turn / 2) % turn - turn / 2) for a in named]
    assert away == sorted(away)
    assert named or worst(angle) <= 2 * best
    assert len(better_angles(lpi, angle, tpi, lines=lines, count=1)) <= 1


def test_an_angle_that_is_the_best_already_has_no_better():
    lpi, tpi = 55, 228.6
    best = min((a / 2 for a in range(180)), key=lambda a: dots(lpi, a, tpi).worst_period_mm)
    assert better_angles(lpi, best, tpi) == []

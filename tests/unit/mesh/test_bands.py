"""The beat between screen and mesh: lock points, stretch, lines, strength, higher orders."""

from __future__ import annotations

from math import atan2, cos, degrees, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.mesh.moire.bands import (
    LARGEST_STRETCH,
    LEAST_MODULATION,
    LONGEST_MM,
    MeshThreads,
    moire_with_mesh,
    screen_vectors,
)
from filmhand.mesh.moire.fourier_orders import dot_strength, mesh_strength
from filmhand.mesh.table import woven

ORDERS = ((1, 0), (0, 1), (1, 1), (1, -1))


def dots(lpi, angle, tpi):
    return moire_with_mesh(screen_vectors(lpi, angle), MeshThreads(tpi))


def brute(lpi, angle, tpi, *, lines=False):
    """The slowest beat in millimeters, from every difference of orders, none left out."""
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
    lpi=st.floats(20, 85), ratio=st.floats(1.5, 7.5), angle=st.floats(0, 180), lines=st.booleans()
)
def test_the_period_is_the_slowest_of_all_orders(lpi, ratio, angle, lines):
    tpi = ratio * lpi
    moire = moire_with_mesh(screen_vectors(lpi, angle, lines=lines), MeshThreads(tpi))
    assert moire.period_mm == pytest.approx(brute(lpi, angle, tpi, lines=lines), rel=1e-6)
    # The stretch is tried in small steps here, and solved for there.
    stretched = max(
        brute(lpi, angle, tpi * (1 - s), lines=lines) for s in np.linspace(0, LARGEST_STRETCH, 11)
    )
    assert moire.worst_period_mm >= stretched * (1 - 1e-9)
    assert moire.worst_period_mm >= moire.period_mm


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


def test_a_slack_lock_point_of_100_threads_and_24_lines_a_centimeter_is_found_in_the_stretch():
    # 100 to 24 is 4.167 slack, and 4.000 once tension has opened the weave by 4 %.
    moire = dots(24 * 2.54, 0, 254)
    assert moire.period_mm == pytest.approx(2.5, abs=0.01)
    assert moire.worst_period_mm == LONGEST_MM


HIGHER = [
    (m, n)
    for m in range(-3, 4)
    for n in range(-3, 4)
    if (m, n) != (0, 0) and max(abs(m), abs(n)) > 1
]


def disc(k, tone):
    """Strength of discs by integrating the Bessel function's integral (DLMF 10.9.2)."""
    turn = (np.arange(2000) + 0.5) * np.pi / 2000
    x = 2 * np.pi * np.sqrt(tone / np.pi) * k
    return abs(2 / x * np.mean(np.cos(turn - x * np.sin(turn)))) if k else 1.0


def strength(order, weave, dot_order):
    threads = np.prod([np.sinc(n * weave.open_width) for n in order])
    return 2 * abs(threads) * max(disc(float(np.hypot(*dot_order)), t) for t in (0.3, 0.5, 0.7))


@settings(max_examples=8, deadline=None)
@given(
    lpi=st.floats(25, 65),
    ratio=st.floats(1.6, 4),
    angle=st.floats(0, 90),
    open_width=st.floats(0.5, 0.75),
)
def test_the_told_orders_make_the_told_beat_and_higher_ones_are_found(
    lpi, ratio, angle, open_width
):
    weave = MeshThreads(ratio * lpi, open_width)
    moire = moire_with_mesh(screen_vectors(lpi, angle), weave)
    u, v = screen_vectors(lpi, angle)
    stretches = np.linspace(0, LARGEST_STRETCH, 401)[:, None]

    def slowest(mesh_order, dot_order):
        tight = np.array(mesh_order) * weave.threads_per_inch * (1 - stretches)
        dots = dot_order[0] * u + dot_order[1] * v
        return 25.4 / max(float(np.hypot(*(dots - tight).T).min()), 25.4 / LONGEST_MM)

    for bands in (moire.worst, moire.higher):
        if bands is None:
            continue
        if bands.worst_period_mm < 50:  # sharper than the steps of the stretch here
            found = slowest(bands.mesh_order, bands.dot_order)
            assert found == pytest.approx(bands.worst_period_mm, rel=0.02)
        expected = strength(bands.mesh_order, weave, bands.dot_order)
        assert bands.modulation == pytest.approx(expected, abs=1e-5)
    best = moire.higher.worst_period_mm if moire.higher else moire.worst_period_mm
    reach = np.arange(-20, 21)
    for order in HIGHER:
        tight = np.array(order) * weave.threads_per_inch * 0.975
        near = [
            (i, j)
            for i in reach
            for j in reach
            if np.hypot(*(i * u + j * v - tight)) < 0.025 * np.hypot(*tight) + 25.4 / best
        ]
        for dot_order in near:
            if strength(order, weave, dot_order) >= LEAST_MODULATION * 1.0001:
                assert slowest(order, dot_order) <= best * 1.001


def test_a_higher_order_is_told_only_where_it_is_slower_and_shows():
    # 2.5 threads a line: (0,2) of the mesh is (0,5) of the dots.
    rare = moire_with_mesh(screen_vectors(40, 0), MeshThreads(40 * 2.5, 0.7, 0.0, (0.0, 0.0)))
    assert rare.worst_period_mm == pytest.approx(25.4 / 20)
    assert rare.higher is not None
    assert rare.higher.mesh_order == (0, 2)
    assert rare.higher.worst_period_mm == LONGEST_MM
    assert rare.higher.modulation >= LEAST_MODULATION
    # At twice the threads a line the same order is too weak to show.
    assert (
        moire_with_mesh(screen_vectors(40, 0), MeshThreads(40 * 4.5, 0.7, 0.0, (0.0, 0.0))).higher
        is None
    )


@given(
    lpi=st.floats(20, 85),
    ratio=st.floats(1.5, 7.5),
    angle=st.floats(0, 90),
    turn=st.floats(0, 90),
    lines=st.booleans(),
)
def test_turning_the_mesh_is_turning_the_screen_the_other_way(lpi, ratio, angle, turn, lines):
    turned = moire_with_mesh(
        screen_vectors(lpi, angle, lines=lines), MeshThreads(ratio * lpi, 0.6, turn)
    )
    plain = moire_with_mesh(
        screen_vectors(lpi, angle - turn, lines=lines), MeshThreads(ratio * lpi)
    )
    assert turned.period_mm == pytest.approx(plain.period_mm, rel=1e-6)
    assert turned.worst_period_mm == pytest.approx(plain.worst_period_mm, rel=1e-6)


def test_a_stretch_that_was_measured_is_taken_to_within_a_point():
    told = [
        MeshThreads.of(woven(100, 40, stretch_percent=percent)).stretch
        for percent in (None, 4, 0.5, 0)
    ]
    assert told == [(0, 0.05), pytest.approx((0.03, 0.05)), pytest.approx((0, 0.015)), (0, 0.01)]
    # 100 to 24 locks at 4 %, which a mesh stretched by 1 % never reaches.
    for percent, locks in ((4, True), (1, False)):
        weave = MeshThreads.of(woven(100, 40, stretch_percent=percent))
        moire = moire_with_mesh(screen_vectors(24 * 2.54, 0), weave)
        assert (moire.worst_period_mm == LONGEST_MM) is locks
        assert moire.period_mm == pytest.approx(2.5, abs=0.01)  # slack all the same


def test_a_measured_opening_changes_how_strong_a_beat_is():
    wide, narrow = (
        moire_with_mesh(screen_vectors(55, 45), MeshThreads.of(woven(90, 48, opening_um=opening)))
        for opening in (63, 50)
    )
    assert wide.worst.modulation == pytest.approx(
        narrow.worst.modulation * np.sinc(63 * 90e-4) / np.sinc(50 * 90e-4)
    )


def test_the_record_of_a_beat():
    moire = moire_with_mesh(screen_vectors(24 * 2.54, 0), MeshThreads(254))
    assert moire.record() == {
        "period_mm": 2.5,
        "worst_period_mm": 1000.0,
        "modulation_pct": 5.06,
        "mesh_order": [1, 0],
        "dot_order": [4, 0],
        "higher": None,
    }


@pytest.mark.parametrize(
    ("tpi", "angle", "open_width"),
    [
        (80, 0, 0.6),
        (200, 0, 0.6),
        (400, 0, 0.3),  # the diagonal (1, 1) is the strongest here,
        (120 * sqrt(5), degrees(atan2(1, 2)), 0.3),  # and (1, -1) here
    ],
)
def test_of_orders_that_are_all_in_step_the_strongest_is_told(tpi, angle, open_width):
    # Whole numbers of dots lie along and across a whole number of threads, so each of the four low
    # mesh orders meets a dot order to the letter, and all four stand still.
    weave, vectors = MeshThreads(tpi, open_width), screen_vectors(40, angle)
    mesh = np.array(ORDERS)
    dots = np.rint(mesh * tpi @ vectors.T / 40**2).astype(np.int64)
    assert dots @ vectors == pytest.approx(mesh * tpi)
    strength = 2 * dot_strength(dots, lines=False) * mesh_strength(mesh, open_width)
    beat = moire_with_mesh(vectors, weave).worst
    assert beat.worst_period_mm == LONGEST_MM
    assert beat.modulation == pytest.approx(strength.max())
    told = ORDERS.index(beat.mesh_order)
    assert strength[told] == pytest.approx(strength.max())
    assert beat.dot_order == tuple(dots[told])

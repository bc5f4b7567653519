"""The bands of screen and mesh: lock points, stretch, strength, how well they are seen."""

from __future__ import annotations

from math import atan2, cos, degrees, exp, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from filmhand.mesh.moire.bands import (
    LARGEST_STRETCH,
    LONGEST_MM,
    MeshThreads,
    moire_with_mesh,
    screen_vectors,
    slack_period_mm,
)
from filmhand.mesh.moire.visibility import Sight
from filmhand.mesh.table import woven

ORDERS = ((1, 0), (0, 1), (1, 1), (1, -1))
SIGHT = Sight(300.0)


def disc(orders):
    """Discs of 30 %, by integrating the Bessel function's integral (DLMF 10.9.2)."""
    turn = (np.arange(400) + 0.5) * np.pi / 400
    x = 2 * np.pi * np.sqrt(0.3 / np.pi) * np.hypot(*orders[:, :2].T)[:, None]
    return np.abs(2 / x[:, 0] * np.cos(turn - x * np.sin(turn)).mean(axis=1))


def moire_of(vectors, weave, sight=SIGHT, strength=disc):
    return moire_with_mesh(vectors, weave, strength, sight)


def period(lpi, angle, tpi):
    return slack_period_mm(screen_vectors(lpi, angle), MeshThreads(tpi))


def brute(lpi, angle, tpi, *, lines=False):
    """The longest period in millimeters, from every difference of orders, none left out."""
    turn, reach = radians(angle), np.arange(-14, 15)
    i, j = np.meshgrid([0] if lines else reach, reach)
    x = lpi * (i * cos(turn) - j * sin(turn))
    y = lpi * (i * sin(turn) + j * cos(turn))
    apart = [np.hypot(x - a * tpi, y - b * tpi)[(i != 0) | (j != 0)] for a, b in ORDERS]
    lowest = min(one.min() for one in apart)
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
def test_the_period_is_the_longest_of_all_low_orders(lpi, ratio, angle, lines):
    tpi = ratio * lpi
    found = slack_period_mm(screen_vectors(lpi, angle, lines=lines), MeshThreads(tpi))
    assert found == pytest.approx(brute(lpi, angle, tpi, lines=lines), rel=1e-6)


@pytest.mark.parametrize(
    ("i", "j"), [(4, 0), (3, 3), (4, 2), (4, 3), (5, 0), (5, 2), (3, 1), (2, 3), (4, 1), (4, 4)]
)
def test_where_an_order_of_the_dots_is_a_mesh_order_the_period_never_ends(i, j):
    lpi = 40.0
    tpi, angle = lpi * sqrt(i * i + j * j), degrees(atan2(j, i))
    assert period(lpi, angle, tpi) == LONGEST_MM
    assert period(lpi, 90 - angle, tpi) == LONGEST_MM
    # Two degrees off it is over.
    assert period(lpi, angle + 2, tpi) < 25


def most_visible(lpi, angle, weave, *, longest, distance, shortest_cells):
    """The visibility of the bands seen most, from small steps of the stretch and all orders.

    Bands of ``shortest_cells`` and less are left out.
    """
    u, v = screen_vectors(lpi, angle)
    reach = np.arange(-13, 14)
    i, j = (axis.ravel() for axis in np.meshgrid(reach, reach))
    some = (i != 0) | (j != 0)
    orders = np.stack([i[some], j[some]], 1)
    dots, ink = orders @ np.stack([u, v]), disc(orders)
    best = 0.0
    for m in range(-3, 4):
        for n in range(-3, 4):
            threads = abs(np.sinc(m * weave.open_width) * np.sinc(n * weave.open_width))
            for stretch in np.linspace(*weave.stretch, 301):
                tight = np.array([m, n]) * weave.threads_per_inch * (1 - stretch)
                frequency = np.hypot(*(dots - tight).T)
                fits = (frequency >= 25.4 / longest) & (frequency < lpi / shortest_cells)
                seen = np.exp(-frequency / 25.4 * distance * np.pi / 180 / 6.3277)
                if (m, n) != (0, 0) and fits.any():
                    best = max(best, float((2 * threads * ink * seen)[fits].max()))
    return best


@settings(max_examples=12, deadline=None)
@example(lpi=25.0, ratio=3.203125, angle=30.0, longest=50.0, distance=800.0)
@given(
    lpi=st.floats(25, 65),
    ratio=st.floats(3.2, 5.5),
    angle=st.floats(0, 90),
    longest=st.floats(50, 400),
    distance=st.floats(800, 2000),
)
def test_no_bands_that_fit_in_the_art_are_seen_more(lpi, ratio, angle, longest, distance):
    weave = MeshThreads(ratio * lpi, 0.62)
    moire = moire_of(screen_vectors(lpi, angle), weave, Sight(longest, distance))
    # The nearest order of the dots is never farther than 0.71 rulings from one of the mesh; the
    # others round about make bands too, which are shorter.
    nearest, every = (
        most_visible(lpi, angle, weave, longest=longest, distance=distance, shortest_cells=cells)
        for cells in (1 / 0.7, 1 / 1.5)
    )
    # Small steps miss the very peak; nothing is ever missed by the theory.
    assert nearest * 0.999 <= moire.visibility
    assert moire.visibility <= every * 1.08 + 1e-4


@settings(max_examples=40, deadline=None)
@given(
    lpi=st.floats(25, 65),
    ratio=st.floats(3, 6),
    angle=st.floats(0, 180),
    lines=st.booleans(),
    pixels=st.sampled_from([None, (600.0, 600.0), (300.0, 600.0)]),
)
def test_what_is_told_of_bands_belongs_together(lpi, ratio, angle, lines, pixels):
    weave, vectors = MeshThreads(ratio * lpi, 0.6), screen_vectors(lpi, angle, lines=lines)
    moire = moire_with_mesh(vectors, weave, disc, SIGHT, pixels=pixels)
    both = np.concatenate([np.zeros((1, 2)), vectors]) if lines else vectors
    for bands in moire.bands:
        assert 0 <= bands.stretch <= LARGEST_STRETCH
        tight = np.array(bands.mesh_order) * weave.threads_per_inch * (1 - bands.stretch)
        assert pixels is not None or bands.pixel_order == (0, 0)
        film = np.array(bands.dot_order) @ both + np.array(bands.pixel_order) * (pixels or 0.0)
        x, y = film - tight
        assert np.hypot(x, y) == pytest.approx(25.4 / bands.period_mm, rel=1e-6)
        assert bands.period_mm <= 300 * (1 + 1e-9)
        # Bands run at right angles to the way from one to the next.
        turned = (degrees(atan2(y, x)) + 90 - bands.direction + 90) % 180 - 90
        assert turned == pytest.approx(0, abs=1e-5)
        threads = np.prod(np.abs(np.sinc(np.array(bands.mesh_order) * 0.6)))
        ink = disc(np.array([(*bands.dot_order, 0, 0)])).item()
        assert bands.strength == pytest.approx(2 * threads * ink)
        seen = exp(-1 / (bands.period_mm / 1000 * 180 / np.pi * 6.3277))
        assert bands.visibility == pytest.approx(bands.strength * seen, rel=1e-4)
    shown = [bands.visibility for bands in moire.bands]
    assert shown == pytest.approx(sorted(shown, reverse=True), abs=1e-8)


def test_bands_that_are_longer_than_the_art_are_none():
    # 4 dots to a thread at every stretch that there is: all orders stand still.
    locked = MeshThreads(160, 0.6, 0.0, (0.0, 0.0))
    still = moire_of(screen_vectors(40, 0), locked)
    assert still.period_mm == LONGEST_MM
    assert not [one for one in still.bands if one.mesh_order in ORDERS and one.period_mm > 1]
    # A little stretched they come from beyond the art and just fit at their longest.
    some = moire_of(screen_vectors(40, 0), MeshThreads(160, 0.6, 0.0, (0.0, 0.01)), Sight(120.0))
    assert some.bands[0].period_mm == pytest.approx(120)
    assert some.bands[0].stretch == pytest.approx(25.4 / 120 / 160)


@settings(deadline=None)
@given(lpi=st.floats(20, 85), ratio=st.floats(1.5, 7.5), angle=st.floats(0, 90))
def test_mesh_and_dots_look_the_same_turned_by_a_right_angle_and_mirrored(lpi, ratio, angle):
    weave = MeshThreads(ratio * lpi)
    here = moire_of(screen_vectors(lpi, angle), weave)
    for same in (angle + 90, angle + 180, -angle, 90 - angle):
        other = moire_of(screen_vectors(lpi, same), weave)
        assert other.period_mm == pytest.approx(here.period_mm, rel=1e-6)
        assert other.visibility == pytest.approx(here.visibility, rel=1e-6)


@settings(deadline=None)
@given(lpi=st.floats(20, 85), ratio=st.floats(1.5, 7.5), angle=st.floats(0, 90))
def test_bands_scale_with_the_sheet(lpi, ratio, angle):
    one = moire_of(screen_vectors(lpi, angle), MeshThreads(ratio * lpi))
    half = Sight(150.0, 500.0)
    double = moire_of(screen_vectors(2 * lpi, angle), MeshThreads(2 * ratio * lpi), half)
    assert double.visibility == pytest.approx(one.visibility, rel=1e-6)


def test_a_lock_of_100_threads_and_24_lines_a_centimeter_is_found_in_the_stretch():
    # 100 to 24 is 4.167 slack, and 4.000 once tension has opened the weave by 4 %.
    moire = moire_of(screen_vectors(24 * 2.54, 0), MeshThreads(254))
    assert moire.period_mm == pytest.approx(2.5, abs=0.01)
    assert moire.bands[0].period_mm == pytest.approx(300)
    assert moire.bands[0].stretch == pytest.approx(0.04, abs=0.001)


@settings(deadline=None)
@given(
    lpi=st.floats(20, 85),
    ratio=st.floats(1.5, 7.5),
    angle=st.floats(0, 90),
    turn=st.floats(0, 90),
    lines=st.booleans(),
)
def test_turning_the_mesh_is_turning_the_screen_the_other_way(lpi, ratio, angle, turn, lines):
    turned = moire_of(screen_vectors(lpi, angle, lines=lines), MeshThreads(ratio * lpi, 0.6, turn))
    plain = moire_of(screen_vectors(lpi, angle - turn, lines=lines), MeshThreads(ratio * lpi))
    assert turned.period_mm == pytest.approx(plain.period_mm, rel=1e-6)
    assert turned.visibility == pytest.approx(plain.visibility, rel=1e-6)


def test_a_stretch_that_was_measured_is_taken_to_within_a_point():
    told = [
        MeshThreads.of(woven(100, 40, stretch_percent=percent)).stretch
        for percent in (None, 4, 0.5, 0)
    ]
    assert told == [(0, 0.05), pytest.approx((0.03, 0.05)), pytest.approx((0, 0.015)), (0, 0.01)]
    # 100 to 24 locks at 4 %, which a mesh stretched by 1 % never reaches.
    for percent, locks in ((4, True), (1, False)):
        weave = MeshThreads.of(woven(100, 40, stretch_percent=percent))
        moire = moire_of(screen_vectors(24 * 2.54, 0), weave)
        assert (moire.bands[0].period_mm > 299) is locks
        assert moire.period_mm == pytest.approx(2.5, abs=0.01)  # slack all the same


def test_a_measured_opening_changes_how_strong_bands_are():
    wide, narrow = (
        moire_of(screen_vectors(55, 45), MeshThreads.of(woven(90, 48, opening_um=opening))).bands[0]
        for opening in (63, 50)
    )
    assert wide.mesh_order == narrow.mesh_order
    assert wide.strength == pytest.approx(
        narrow.strength * np.sinc(63 * 90e-4) / np.sinc(50 * 90e-4)
    )


def test_the_pixels_of_a_film_make_bands_of_their_own():
    # 600 pixels an inch less 7 x 55 lines are 215: 211 threads an inch make bands of 4 an inch with
    # what is drawn in pixels, and none so long without.
    weave = MeshThreads(211, 0.6, 0.0, (0.0, 0.0))
    none, some = (
        moire_with_mesh(
            screen_vectors(55, 0), weave, lambda all: np.full(len(all), 0.1), SIGHT, pixels=pixels
        )
        for pixels in (None, (600.0, 600.0))
    )
    found = [one for one in some.bands if (one.mesh_order, one.pixel_order) == ((1, 0), (1, 0))]
    assert found[0].period_mm == pytest.approx(25.4 / 4)
    assert found[0].dot_order == (-7, 0)
    assert max(one.period_mm for one in none.bands) < 25.4 / 4
    assert none.period_mm == some.period_mm


def test_other_dots_on_the_same_lattice_are_ranked_anew():
    moire = moire_of(screen_vectors(35, 22.5), MeshThreads(157.5))
    first = moire.bands[0].dot_order
    weaker = moire.of_film(lambda all: np.where((all[:, :2] == first).all(axis=1), 0.0, 0.5))
    assert weaker.bands[-1].dot_order == first and weaker.bands[-1].visibility == 0
    assert weaker.bands[0].of_film == 0.5 and weaker.period_mm == moire.period_mm


def test_the_record_of_bands():
    moire = moire_of(screen_vectors(24 * 2.54, 0), MeshThreads(254))
    record = moire.record()
    assert record["period_mm"] == 2.5
    assert record["worst_period_mm"] == 300.0
    assert len(record["bands"]) == 4
    # Two sets of bands are seen alike, at right angles.
    first = record["bands"][0]
    assert {"period_mm", "direction", "strength_pct", "visibility", "stretch_pct"} < first.keys()
    assert (first["visibility"], first["period_mm"]) == (record["visibility"], 300.0)
    assert first["stretch_pct"] == pytest.approx(4, abs=0.1)
    told = [(tuple(one["mesh_order"]), one["direction"]) for one in record["bands"][:2]]
    assert sorted(told) == [((0, 1), 0.0), ((1, 0), 90.0)]
    none = moire_of(screen_vectors(40, 0), MeshThreads(160, 0.6, 0.0, (0.0, 0.0)), Sight(0.1))
    assert none.bands == () and none.visibility == 0 and none.of_film(disc) is none
    assert none.summary()["worst_period_mm"] is None

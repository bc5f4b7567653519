"""The dot grid and its period of whole pixels."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.screen import lattice as lattice_module
from filmhand.screen.lattice import (
    ANGLE_TOLERANCE_DEG,
    LPI_TOLERANCE,
    SHORTEST_REPEAT_IN,
    Lattice,
    TileBrick,
    find_lattice,
)
from filmhand.units import Resolution

vectors = st.tuples(st.integers(-12, 12), st.integers(-12, 12))


@given(vectors, vectors)
def test_brick_numbers_every_residue_once(first, second):
    (a, b), (c, d) = first, second
    area = abs(a * d - b * c)
    if area == 0:
        with pytest.raises(ValueError, match="parallel"):
            TileBrick.of(first, second)
        return
    brick = TileBrick.of(first, second)
    assert brick.length * brick.height == area
    assert 0 <= brick.shift < brick.length
    y, x = np.mgrid[-20:20, -20:20]
    index = brick.index(x, y)
    assert index.min() >= 0
    assert index.max() < area
    # Equal along both vectors, and as many different numbers as there are residues.
    assert np.array_equal(index, brick.index(x + a, y + b))
    assert np.array_equal(index, brick.index(x + c, y + d))
    y, x = np.mgrid[: brick.height, : brick.length]
    assert np.array_equal(np.sort(brick.index(x, y).ravel()), np.arange(area))


def test_a_lattice_knows_what_it_makes():
    # One cell of 5 x 5 pixels at 300 dpi, at no angle: 60 lines per inch.
    lattice = Lattice(((5, 0), (0, 5)), ((1, 0), (0, 1)), Resolution(300, 300))
    assert (lattice.pixels, lattice.dots) == (25, 1)
    assert lattice.lpi == pytest.approx(60)
    assert lattice.angle == pytest.approx(0)
    assert lattice.dot_vectors == pytest.approx(np.array([[5, 0], [0, 5]]))


def test_unequal_resolutions_are_seen_in_inches():
    # 10 pixels across at 600 dpi and 20 down at 1200 are both a sixtieth of an inch.
    lattice = Lattice(((10, 0), (0, 20)), ((1, 0), (0, 1)), Resolution(600, 1200))
    assert lattice.lpi == pytest.approx(60)
    assert lattice.angle == pytest.approx(0)


@pytest.mark.parametrize(
    ("vector", "angle"),
    [
        ((4, 3), 36.8699),
        ((3, 4), 53.1301),
        ((-3, 4), 126.8699),
        ((3, -4), 126.8699),
        ((-4, -3), 36.8699),
        ((-40, 1), 178.5679),
        ((-40, -1), 1.4321),  # 181.4321: a line has no two ends
    ],
)
def test_angles_count_counter_clockwise_with_y_up(vector, angle):
    a, b = vector
    lattice = Lattice((vector, (-b, a)), ((1, 0), (0, 1)), Resolution(300, 300))
    assert lattice.angle == pytest.approx(angle, abs=1e-3)


@pytest.mark.parametrize("lean", [1, -1])
@pytest.mark.parametrize(("long", "angle"), [(100, 0), (-100, 180)])
def test_the_angle_is_the_mean_of_two_axes_that_lean_opposite_ways(long, lean, angle):
    # Half a degree to either side of level, also where level is half a turn.
    lattice = Lattice(((long, lean), (lean, long)), ((1, 0), (0, 1)), Resolution(300, 300))
    assert (lattice.angle - angle + 90) % 180 - 90 == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("angle", [0, 22.5, 45, 89.5, 90, 135, 172.5, 179.5])
def test_the_angle_is_told_in_the_half_turn_it_was_asked_in(angle):
    assert find_lattice(45, angle, Resolution(300, 300)).angle == pytest.approx(angle, abs=0.05)


@pytest.mark.parametrize("lpi", [5, 25, 65, 133])
def test_a_tile_is_at_least_half_an_inch(lpi):
    lattice = find_lattice(lpi, 22.5, Resolution(600, 600))
    for x, y in lattice.period:
        assert np.hypot(x / 600, y / 600) >= SHORTEST_REPEAT_IN * 0.999


def test_the_period_is_the_dots_it_claims():
    lattice = find_lattice(55, 15, Resolution(600, 1200))
    rebuilt = np.array(lattice.order) @ lattice.dot_vectors
    assert rebuilt == pytest.approx(np.array(lattice.period), abs=1e-9)


def test_a_tile_has_up_to_160_dots_a_side():
    # Half an inch at 300 lpi is 150 dots, at 455 it is more than the 226 of a diagonal.
    lattice = find_lattice(300, 15, Resolution(2400, 2400))
    assert math.hypot(*lattice.order[0]) >= 150
    assert (lattice.lpi, lattice.angle) == pytest.approx((300, 15), abs=0.05)
    with pytest.raises(ValueError, match="no tile"):
        find_lattice(455, 45, Resolution(2400, 2400))


@pytest.mark.parametrize("angle", [0, 90])
def test_upright_lattices_of_whole_pixels_are_upright_tiles(angle):
    # 17 pixels from dot to dot: half an inch is 9 dots, exact and the smallest there is.
    lattice = find_lattice(18, angle, Resolution(306, 306))
    assert lattice.order == ((9, 0), (0, 9))
    assert lattice.pixels == 153 * 153


def test_what_no_tile_reaches_is_an_error():
    with pytest.raises(ValueError, match="no tile"):
        find_lattice(1000, 10, Resolution(72, 72))


@pytest.mark.parametrize(
    ("lpi", "angle", "dpi"),
    [(45, 22.5, (300, 300)), (35, 75, (300, 600)), (55, 15, (1440, 720)), (31, 22.5, (720, 360))],
)
def test_no_tile_a_little_larger_is_more_exact(lpi, angle, dpi):
    # By plain trigonometry: rounds every period to whole pixels and looks at what dots that makes.
    along = cmath.rect(1, math.radians(angle)) / lpi

    def error(i, j):
        """Worst relative lpi error and worst angle error of the two dot vectors."""
        wanted = complex(i, j) * along, complex(i, j) * along * 1j
        x, y = (complex(round(w.real * dpi[0]) / dpi[0], round(w.imag * dpi[1]) / dpi[1])
                for w in wanted)  # fmt: skip
        size = i * i + j * j
        first, second = (i * x - j * y) / size, (j * x + i * y) / size
        area = (first.conjugate() * second).imag
        # The frequency along an axis is the other dot vector, turned back, over the cell's area.
        seen = (second / 1j / area, first * 1j / area)
        lpi_off = max(abs(abs(f) / lpi - 1) for f in seen)
        turned = (seen[0] / along, seen[1] / along / 1j)
        return lpi_off / LPI_TOLERANCE, (
            max(abs(math.degrees(cmath.phase(t))) for t in turned) / ANGLE_TOLERANCE_DEG
        )

    found = find_lattice(lpi, angle, Resolution(*dpi))
    order = found.order[0]
    reach = range(2 * math.ceil(abs(complex(*order))))
    errors = {
        (i, j): error(i, j)
        for i in reach for j in reach if i and abs(complex(i, j)) >= lpi * SHORTEST_REPEAT_IN
    }  # fmt: skip
    good = {ij: sum(off) for ij, off in errors.items() if max(off) <= 1}
    smallest = min(i * i + j * j for i, j in good)
    near = {ij: off for ij, off in good.items() if ij[0] ** 2 + ij[1] ** 2 <= 1.5 * smallest}
    assert len(near) > 1
    assert good[order] == pytest.approx(min(near.values()))


@pytest.mark.parametrize("first", [3, 70, 300])
def test_how_many_tiles_are_tried_first_changes_no_screen(monkeypatch, first):
    wishes = [
        (lpi, angle, Resolution(*dpi))
        for lpi in (25, 30, 45.3)
        for angle in (22.5, 37, 75)
        for dpi in ((300, 300), (720, 600))
    ]
    anew = find_lattice.__wrapped__  # what was found once is kept
    monkeypatch.setattr(lattice_module, "_TRIED", ())
    wanted = [anew(*wish) for wish in wishes]
    monkeypatch.setattr(lattice_module, "_TRIED", (first, 4 * first))
    assert [anew(*wish) for wish in wishes] == wanted

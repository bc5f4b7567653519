"""The strength of orders: of a weave, of shapes, of tiles, and of windows of a film."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.moire.fourier_orders import mesh_strength, strength_in_windows
from filmhand.screen.dot_shapes import Dot
from filmhand.screen.lattice import find_lattice
from filmhand.screen.order_strength import TONES_OF_ORDERS, strength_of_shape, strength_of_tile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, build_tile
from filmhand.units import Resolution

DOTS = np.array([(0, 1), (1, 0), (1, 1), (2, -1), (3, 0), (4, 2), (3, 3), (-4, 2)])
ORDERS = np.concatenate([DOTS, np.zeros_like(DOTS)], axis=1)


def test_a_weave_is_the_product_of_two_stripes():
    # The openings of a stripe of share w have the coefficients sin(pi n w) / (pi n w).
    found = mesh_strength(np.array([(0, 0), (1, 0), (1, -2)]), 0.6)
    one, two = (np.sin(np.pi * n * 0.6) / (np.pi * n * 0.6) for n in (1, 2))
    assert found == pytest.approx([1, one, abs(one * two)])


def test_squares_have_the_strength_of_squares():
    # A square of side s in a cell of 1 has the coefficients sinc(i s) sinc(j s); the shape grows
    # squares at every tone.
    found = strength_of_shape(Dot.SQUARE.row.function)(ORDERS)
    by_tone = [np.abs(np.sinc(DOTS * np.sqrt(tone))).prod(axis=1) for tone in TONES_OF_ORDERS]
    assert found == pytest.approx(np.max(by_tone, axis=0), abs=0.006)


def test_lines_have_orders_across_only():
    found = strength_of_shape(Dot.LINE.row.function)(
        np.array([(0, 1, 0, 0), (0, 2, 0, 0), (0, 3, 0, 0), (1, 0, 0, 0)])
    )
    by_tone = [np.abs(np.sinc(np.arange(1, 4) * tone)) for tone in TONES_OF_ORDERS]
    assert found[:3] == pytest.approx(np.max(by_tone, axis=0), abs=0.01)
    assert found[3] == pytest.approx(0, abs=0.01)


def test_a_symmetric_shape_has_symmetric_orders():
    strength = strength_of_shape(Dot.ROUND.row.function)
    for turned in (ORDERS * [-1, 1, 1, 1], ORDERS * [1, -1, 1, 1], ORDERS[:, [1, 0, 2, 3]]):
        assert strength(turned) == pytest.approx(strength(ORDERS), abs=1e-12)


@pytest.mark.parametrize("dot", [Dot.ROUND, Dot.ELLIPSE, Dot.DIAMOND])
def test_a_fine_tile_is_nearly_the_ideal_shape(dot):
    lattice = find_lattice(25, 20, Resolution(1200, 1200))
    made = strength_of_tile(lattice, build_tile(lattice, dot.row.function))(ORDERS)
    assert made == pytest.approx(strength_of_shape(dot.row.function)(ORDERS), abs=0.012)


@pytest.mark.parametrize(
    ("lpi", "angle", "dpi"), [(25, 22.5, (300, 300)), (45, 15, (600, 600)), (40, 30, (600, 1200))]
)
def test_a_tile_and_a_film_of_it_agree(lpi, angle, dpi):
    """The film is drawn by the screener, and looked at without knowing its tile."""
    resolution = Resolution(*dpi)
    lattice = find_lattice(lpi, angle, resolution)
    tile = build_tile(lattice, Dot.ROUND.row.function)
    side = round(24 * max(dpi) / lpi)
    screener = Screener(tile, column=0, width=side)
    windows = []
    for tone in TONES_OF_ORDERS:
        flat = np.full((side, side), round(tone * FULL_TONE), np.uint16)
        windows.append(screener.cut(flat, row=0))
    # The waves of the dots, and those of their pixels.
    orders = np.concatenate(
        [ORDERS + np.array([0, 0, *moved]) for moved in ((0, 0), (1, 0), (-1, 1))]
    )
    waves = orders[:, :2] @ lattice.frequencies() / [*dpi] + orders[:, 2:]
    found = strength_in_windows(windows, waves)
    assert found == pytest.approx(strength_of_tile(lattice, tile)(orders), rel=0.1, abs=0.006)
    ideal = strength_of_shape(Dot.ROUND.row.function, lattice.frequencies() / [*dpi])(orders)
    assert found == pytest.approx(ideal, rel=0.25, abs=0.03)


def test_the_window_where_a_wave_is_strongest_counts_and_light_tints_count_as_30_percent():
    x = np.arange(256)
    stripes = np.tile(x % 8 < 4, (256, 1))  # a wave of 2 / pi of the mean, in eighths of a pixel
    wave = np.array([[1 / 8, 0.0], [0.0, 1 / 8]])
    narrow = np.abs(np.exp(-2j * np.pi * np.arange(4) / 8).mean()) * np.sinc(1 / 8)
    assert narrow == pytest.approx(2 / np.pi, abs=1e-3)
    bare = np.zeros((256, 256), bool)
    assert strength_in_windows([bare, stripes, ~bare], wave) == pytest.approx([narrow, 0], abs=1e-3)
    light = np.tile(x % 16 == 0, (256, 1))
    found = strength_in_windows([light], np.array([[1 / 16, 0.0]]))
    assert found == pytest.approx([1 / 16 / 0.3 * np.sinc(1 / 16)], rel=1e-3)
    assert strength_in_windows([], wave).tolist() == [0, 0]

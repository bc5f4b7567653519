"""Screens against published geometry: cells, rulings, angles and dot shapes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.screen.dot_shapes import Dot
from filmhand.screen.lattice import Lattice, TileBrick, find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, build_tile
from filmhand.units import Resolution

pytestmark = pytest.mark.outside


DOT_FUNCTIONS = {str(dot): dot.row.function for dot in Dot if dot.row.function is not None}


def holladay_cell(a, b):
    """The brick of a single rational cell, as the published examples state it."""
    return TileBrick.of((a, b), (-b, a))


@pytest.mark.parametrize(
    ("cell", "brick"),
    [
        ((5, 6), (61, 1, 11)),
        ((3, 4), (25, 1, 7)),
        ((6, 3), (15, 3, 6)),
        ((14, 6), (116, 2, 82)),
        ((8, 8), (16, 8, 8)),
        ((12, 5), (169, 1, 70)),
    ],
)
def test_bricks_of_single_cells(cell, brick):
    # T. M. Holladay, An optimum algorithm for halftone generation for displays and hard copies,
    # Proc. SID 21(2), 1980: height gcd(a, b), length (a^2 + b^2) / gcd(a, b), and a shift that
    # extended Euclid gives (rules from memory, values recomputed by hand).
    assert holladay_cell(*cell) == TileBrick(*brick)


@pytest.mark.parametrize("cell", [(5, 6), (3, 4), (12, 5), (7, 2)])
def test_the_shift_of_a_cell_without_common_factor_is_a_quarter_turn(cell):
    # Turning the lattice by a right angle maps it onto itself, so shift^2 = -1 modulo the length.
    brick = holladay_cell(*cell)
    assert (brick.shift**2 + 1) % brick.length == 0


def test_the_example_of_the_pdf_standard():
    # ISO 32000-2:2020, 10.6.5.4: at 300 dpi, squares of 5 and 6 pixels a side give 38.4 cells per
    # inch at 50.2 degrees.
    lattice = Lattice(((5, 6), (-6, 5)), ((1, 0), (0, 1)), Resolution(300, 300))
    assert lattice.pixels == 61
    assert lattice.lpi == pytest.approx(38.4, abs=0.05)
    assert lattice.angle == pytest.approx(50.2, abs=0.05)


DEVICES = [
    Resolution(300, 300),
    Resolution(360, 360),
    Resolution(600, 600),
    Resolution(720, 720),
    Resolution(1200, 1200),
    Resolution(1440, 1440),
    Resolution(600, 1200),
    Resolution(1200, 600),
]


@pytest.mark.parametrize("resolution", DEVICES, ids=str)
def test_ruling_and_angle_come_out_as_asked(resolution):
    generator = np.random.default_rng(resolution.x + resolution.y)
    steps = np.arange(0, 180, 7.5)[DEVICES.index(resolution) % 2 :: 2]
    angles = [*steps, *generator.integers(0, 360, 4) / 2]
    rulings = [5, 20, 25, 30, 35, 45, 55, 65, 85, 133]
    rulings = [lpi for lpi in rulings if lpi <= min(resolution.x, resolution.y) / 4]
    for k, angle in enumerate(angles):
        lpi = rulings[k % len(rulings)]
        lattice = find_lattice(lpi, float(angle), resolution)
        # Both frequency vectors, from the period in inches and the dots in it, by plain algebra.
        inches = np.array(lattice.period) / [resolution.x, resolution.y]
        frequency = np.linalg.inv(np.linalg.inv(np.array(lattice.order, float)) @ inches).T
        assert np.hypot(*frequency.T) == pytest.approx(lpi, rel=1e-3)
        seen = np.degrees(np.arctan2(frequency[:, 1], frequency[:, 0]))
        off = (seen - [angle, angle + 90] + 180) % 360 - 180
        assert np.abs(off).max() <= 0.05, (lpi, angle)
        assert lattice.lpi == pytest.approx(lpi, rel=1e-3)
        assert abs((lattice.angle - angle + 90) % 180 - 90) <= 0.05


@pytest.mark.parametrize("angle", [15, 22.5, 75, 165])
def test_the_angle_is_counter_clockwise_as_seen(angle):
    # From any dot the next one lies a cell away in the direction of the angle: measured on the
    # bits by the peak of their autocorrelation, with rows running down the sheet.
    resolution = Resolution(600, 600)
    tile = build_tile(find_lattice(30, angle, resolution), "round")
    side = 1200
    bits = Screener(tile, column=0, width=side).cut(
        np.full((side, side), FULL_TONE // 5, np.uint16), row=0
    )
    spectrum = np.fft.rfft2(bits - bits.mean())
    likeness = np.fft.irfft2(np.abs(spectrum) ** 2)
    pitch = 600 / 30
    right, up = pitch * np.cos(np.radians(angle)), pitch * np.sin(np.radians(angle))
    there = likeness[round(-up) % side, round(right) % side]
    mirrored = likeness[round(up) % side, round(right) % side]
    assert there > 0.6 * likeness[0, 0]
    assert mirrored < 0.3 * likeness[0, 0]


# ISO 32000-1:2008, 10.5.3, table 128 (ISO 32000-2:2020, 10.6.3, table 126), written out as there.
def _iso_cosine_dot(x, y):
    return np.cos(np.pi * x) / 2 + np.cos(np.pi * y) / 2


def _iso_ellipse(x, y):
    x, y = abs(x), abs(y)
    w = 3 * x + 4 * y - 3
    if w < 0:
        return 1 - (x**2 + (y / 0.75) ** 2) / 4
    if w > 1:
        return ((1 - x) ** 2 + ((1 - y) / 0.75) ** 2) / 4 - 1
    return 0.5 - w


def _iso_diamond(x, y):
    x, y = abs(x), abs(y)
    if x + y <= 0.75:
        return 1 - (x**2 + y**2)
    if x + y <= 1.23:
        return 1 - (0.85 * x + y)
    return (x - 1) ** 2 + (y - 1) ** 2 - 1


def _iso_square(x, y):
    return -max(abs(x), abs(y))


def _iso_line(x, y):
    return -abs(y)


@pytest.mark.parametrize(
    ("dot", "formula"),
    [
        ("round", _iso_cosine_dot),
        ("ellipse", _iso_ellipse),
        ("diamond", _iso_diamond),
        ("square", _iso_square),
        ("line", _iso_line),
    ],
)
def test_spot_functions_of_the_pdf_standard(dot, formula):
    places = np.random.default_rng(1).uniform(-1, 1, (500, 2))
    value = DOT_FUNCTIONS[dot].value(np, places[:, 0], places[:, 1])
    # 1e-6: the line's faint pull to the middle, which only decides among equals.
    assert value == pytest.approx([formula(x, y) for x, y in places], abs=1.1e-6)


def _joins(dot):
    """Tones at which dots of a fine cell meet their neighbors along x and along y."""
    side = 256
    cell = (np.arange(side) + 0.5) / side * 2 - 1
    x, y = np.meshgrid(cell, cell)
    value = DOT_FUNCTIONS[dot].value(np, x, y).ravel()
    rank = np.empty(side * side, np.int64)
    rank[np.argsort(-value, kind="stable")] = np.arange(side * side)
    tiled = np.tile(rank.reshape(side, side), (2, 2))
    middle = side // 2

    def joined(tone, other):
        labels, _ = ndimage.label(tiled < tone * side * side)
        return labels[middle, middle] == labels[other]

    found = []
    for other in ((middle, middle + side), (middle + side, middle)):
        low, high = 0.0, 1.0
        while high - low > 1e-3:
            tone = (low + high) / 2
            low, high = (low, tone) if joined(tone, other) else (tone, high)
        found.append(high)
    return found


# A shape whose shadow dots grow by a function of their own joins where that one begins.
@pytest.mark.parametrize(
    "dot", [dot for dot, grows in DOT_FUNCTIONS.items() if grows.shadow_dot_value is None]
)
def test_dots_join_at_the_tones_of_their_row(dot):
    # Areas inside the formulas' contours through the middle of the cell's sides, from the table
    # above: round 1/2; ellipse 3/8 and 5/8 (its contour is the line 3x + 4y = 3); diamond 0.85/2.
    assert _joins(dot) == pytest.approx(DOT_FUNCTIONS[dot].joins, abs=0.01)

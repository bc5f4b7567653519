"""Where a turned sheet's pixels come from, by trigonometry and by hand."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from filmhand.art.repair import deskew


@pytest.mark.parametrize("angle", [0, 30, -4.5, 90])
def test_pixels_come_from_places_turned_about_the_middle(angle):
    a, b, c, d, e, f = deskew._matrix((60, 100), angle)
    middle = complex(50, -30)  # y upward, as an angle counts
    for x, y in ((50, 30), (51, 30), (10.5, 7), (0, 0), (100, 60)):
        source = middle + (complex(x, -y) - middle) * cmath.rect(1, math.radians(angle))
        assert a * x + b * y + c == pytest.approx(source.real)
        assert d * x + e * y + f == pytest.approx(-source.imag)


def test_sources_are_those_of_the_middles_of_pixels():
    matrix = deskew._matrix((6, 8), 20)
    a, b, c, d, e, f = matrix
    rows, columns = deskew._sources(matrix, 2, 5, 8)
    assert rows.shape == columns.shape == (3, 8)
    for row in range(3):
        for column in range(8):
            x, y = column + 0.5, 2 + row + 0.5
            assert columns[row, column] == pytest.approx(a * x + b * y + c, abs=1e-5)
            assert rows[row, column] == pytest.approx(d * x + e * y + f, abs=1e-5)


def test_beyond_is_what_has_no_whole_pixel_around_it():
    shape = (6, 8)
    here = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)
    beyond = deskew._beyond(here, 0, 6, shape)
    # The outermost ring lies half a pixel from the edge.
    assert not beyond[1:-1, 1:-1].any()
    assert beyond[0].all() and beyond[-1].all() and beyond[:, 0].all() and beyond[:, -1].all()
    half = (1.0, 0.0, 0.5, 0.0, 1.0, -0.5)
    beyond = deskew._beyond(half, 0, 6, shape)
    # Half a pixel to the right and up: neither the last column is whole nor the first row.
    assert np.flatnonzero(~beyond.all(axis=0)).tolist() == [0, 1, 2, 3, 4, 5, 6]
    assert np.flatnonzero(~beyond.all(axis=1)).tolist() == [1, 2, 3, 4, 5]
    assert np.array_equal(deskew._beyond(half, 3, 5, shape), beyond[3:5])


@pytest.mark.parametrize("top", [-0.5, -0.3, 0.0, 0.21, 0.5])
def test_an_edge_is_steepest_between_its_rows(top):
    rows = np.arange(7.0)
    size = (9 - (rows - 3 - top) ** 2)[:, None] * np.ones(2)
    found = deskew._between(size.astype(np.float32), np.array([3, 3]), np.array([0, 1]))
    assert found == pytest.approx([top, top], abs=1e-5)


def test_at_a_side_and_on_a_flat_an_edge_is_where_its_row_is():
    size = np.array([[4.0], [2.0], [2.0], [2.0]], np.float32)
    found = deskew._between(size, np.array([0, 2, 3]), np.array([0, 0, 0]))
    assert found[1:].tolist() == [0, 0]
    assert -0.5 <= found[0] <= 0.5


def edges(along, place, darker):
    """These edges, and one far above and below, as every picture has some."""
    along = np.array([*along, 0, 0], float)
    place = np.array([*place, -40, 240], float)
    flags = np.array([*darker, True, True], bool)
    return deskew._Edges(along, place, flags, np.ones(along.size, bool), 100, 1.0)


def test_edges_on_one_line_fall_together_at_its_slope(monkeypatch):
    """Places x and y = 10 + x / 10; dark above and dark below count apart."""
    x = np.arange(0, 100, 5)
    sloped = edges(x, 10 + x / 10, x >= 0)
    right, level = sloped.energies(np.array([0.1, 0.0]))
    assert right > 3 * level
    counts = sloped.counts(0.1)
    # Each place counts half a pixel up and down, so that it stands twice.
    assert sorted(counts)[-3:] == [1, 20, 20]
    # Every other edge the other way: two lines of ten.
    mixed = edges(x, 10 + x / 10, x % 10 == 0)
    assert sorted(mixed.counts(0.1))[-5:] == [1, 10, 10, 10, 10]
    assert mixed.energies(np.array([0.1]))[0] < 0.6 * right
    # Where all are crests, energies are the squares of the counts, however many slopes are asked.
    slopes = np.linspace(-0.3, 0.3, 31)
    squares = [(mixed.counts(slope) ** 2).sum() for slope in slopes]
    assert mixed.energies(slopes).tolist() == squares
    monkeypatch.setattr(deskew, "_EDGES_AT_ONCE", 50)
    assert mixed.energies(slopes).tolist() == squares


def test_lines_stand_apart_and_are_long_enough():
    def lines(places, count):
        x = np.tile(np.arange(count, dtype=float), len(places))
        return edges(x, np.repeat(places, count), x % 2 == 0).lines(0.0)

    # Of a picture 100 pixels wide five edges make a line, of both its sides together.
    assert lines([10, 30, 50], 40) == pytest.approx([40, 40, 40])
    assert lines([10], 5) == pytest.approx([5])
    assert lines([10], 4) == []
    # What lies within 12 pixels of a line is its own.
    assert lines([10, 16, 50], 40) == pytest.approx([40, 40])
    assert lines([10, 24, 50], 40) == pytest.approx([40, 40, 40])
    # A stroke of a pixel is one line with both of its edges.
    assert lines([10, 10.5], 40) == pytest.approx([80])


def test_opened_corners_take_the_nearest_paper():
    paper = np.sqrt(np.array([[0.25, 0.5], [0.75, 1.0]], np.float32))
    here = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)
    beyond = np.zeros((2, 8), bool)
    beyond[1] = True
    codes = deskew._paper_at(paper, beyond, 2, here, 4)
    from_light = {
        light: round(65535 * (1.055 * light ** (1 / 2.4) - 0.055)) for light in (0.25, 0.5)
    }
    assert codes[:4] == pytest.approx([from_light[0.25]] * 4, abs=3)
    assert codes[4:] == pytest.approx([from_light[0.5]] * 4, abs=3)
    below = deskew._paper_at(paper, beyond, 20, here, 4)
    assert below[4:].tolist() == [65535] * 4

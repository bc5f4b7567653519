"""Cut marks and alignment crosses to the pixel, at resolutions of 10 and 20 pixels a millimeter."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from filmhand.sheet.layout import Box, FilmPart, Layout
from filmhand.sheet.placement import grid_of
from filmhand.sheet.trim_marks import alignment_crosses, trim_marks
from filmhand.units import Resolution

DPI = Resolution(254, 508)
SHEET = Box(0, 0, 2000, 4000)


def layout(art, *, grid=None, part=None):
    return Layout(
        sheet=SHEET, printable=SHEET, zone=SHEET, art=art, turned=0, art_mm=(1, 1), ppi=300,
        grid=grid, part=part,
    )  # fmt: skip


def drawn(marks):
    film = np.zeros((SHEET.height, SHEET.width), bool)
    for box, bits in marks:
        assert bits.shape == (box.height, box.width)
        film[box.top : box.bottom, box.left : box.right] |= bits
    return film


def copies(columns, rows, *, side_mm, gap_mm):
    """Square copies from 30 mm off both edges of the sheet."""
    cell, gap = Box(300, 600, 10 * side_mm, 20 * side_mm), (round(10 * gap_mm), round(20 * gap_mm))
    grid = grid_of(columns, rows, cell=cell, gap=gap)
    last = grid.cells[-1]
    return layout(Box(300, 600, last.right - 300, last.bottom - 600), grid=grid)


def test_art_that_lies_once_has_no_lines_to_cut_or_join_by():
    assert trim_marks(layout(Box(300, 600, 500, 1000)), DPI) == []
    assert alignment_crosses(layout(Box(300, 600, 500, 1000)), DPI) == []


def mm_ranges(edges_mm, gap_mm):
    """What marks take along one axis: 3 mm, off all copies by 1 mm; as the module's page says."""
    first, last = edges_mm[0][0], edges_mm[-1][1]
    found = [(first - 4, first - 1), (last + 1, last + 4)]
    for (_, end), (start, _) in itertools.pairwise(edges_mm):
        if gap_mm > 9:  # room for two and as much air between them
            found += [(end + 1, end + 4), (start - 4, start - 1)]
        elif gap_mm >= 2.5:
            found.append((end + 1, start - 1))
    return found


@pytest.mark.parametrize("gap_mm", [0, 2.4, 2.5, 5, 9, 9.1, 20])
@pytest.mark.parametrize(("columns", "rows"), [(2, 2), (1, 3), (3, 1)])
def test_cut_marks_are_in_line_with_every_edge_and_off_every_copy(columns, rows, gap_mm):
    made = drawn(trim_marks(copies(columns, rows, side_mm=25, gap_mm=gap_mm), DPI))
    wanted = np.zeros_like(made)
    across, down = (
        [(30 + n * (25 + gap_mm), 55 + n * (25 + gap_mm)) for n in range(count)]
        for count in (columns, rows)
    )
    # Lines of 0.25 mm over the edges: 2 of 10 pixels a millimeter, 5 of 20.
    for x in {round(10 * edge) for pair in across for edge in pair}:
        for top, bottom in mm_ranges(down, gap_mm):
            wanted[round(20 * top) : round(20 * bottom), x - 1 : x + 1] = True
    for y in {round(20 * edge) for pair in down for edge in pair}:
        for left, right in mm_ranges(across, gap_mm):
            wanted[y - 2 : y + 3, round(10 * left) : round(10 * right)] = True
    assert np.array_equal(made, wanted)


@pytest.mark.parametrize("overlap", [(100, 200), (101, 205)])
@pytest.mark.parametrize(("row", "column"), [(1, 1), (2, 2), (3, 3), (1, 3), (2, 1)])
def test_crosses_are_5_mm_and_lie_a_millimeter_off_the_middles_of_overlaps(row, column, overlap):
    art = Box(400, 800, 900, 1800)
    part = FilmPart(row, column, 3, 3, art, overlap)
    made = alignment_crosses(layout(art, part=part), DPI)
    xs = [400 + overlap[0] // 2] if column > 1 else []
    xs += [1300 - overlap[0] + overlap[0] // 2] if column < 3 else []
    ys = [800 + overlap[1] // 2] if row > 1 else []
    ys += [2600 - overlap[1] + overlap[1] // 2] if row < 3 else []
    # 1 mm of air and half of 5 mm: 35 pixels across, 70 down.
    wanted = [(x, y) for x in xs for y in (800 - 70, 2600 + 70)]
    wanted += [(x, y) for y in ys for x in (400 - 35, 1300 + 35)]
    # Odd, so that there is a middle pixel: 49 x 99.
    assert {(box.width, box.height) for box, _ in made} == {(49, 99)}
    assert sorted((box.left + 24, box.top + 49) for box, _ in made) == sorted(wanted)
    for _, bits in made:
        lines = np.zeros((99, 49), bool)
        lines[:, 23:26] = lines[48:51] = True
        assert np.array_equal(bits, lines)


def test_a_cross_keeps_its_middle_pixel_at_the_coarsest_resolution():
    art = Box(100, 100, 300, 300)
    part = FilmPart(1, 1, 1, 2, art, (20, 20))
    above, _ = alignment_crosses(layout(art, part=part), Resolution(72, 72))
    # 5 mm are 14.2 pixels: 13, with lines of three.
    lines = np.zeros((13, 13), bool)
    lines[:, 5:8] = lines[5:8] = True
    assert np.array_equal(above[1], lines)

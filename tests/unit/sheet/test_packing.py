"""Cells of several art files on one sheet."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.profile.read.load import read_profile
from filmhand.sheet.layout import Box, sheet_boxes
from filmhand.sheet.packing import around, cells_of, fits_on_sheet, label_mark

SAID = {
    "sheet": "200 x 300 mm",
    "dpi": "254",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",
    "margin": "5 mm",
    "art": "{fit: width 50 mm}",
}


def profile_of(**keys):
    text = "".join(f"{key}: {value}\n" for key, value in (SAID | keys).items())
    return read_profile(text, name="small", file="small.yaml")


def boxes(cells):
    return [box for cell in cells for box in (cell.art, cell.label) if box is not None]


def inside(box, room):
    return (
        box.left >= room.left
        and box.top >= room.top
        and box.right <= room.right
        and box.bottom <= room.bottom
    )


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.integers(1, 2200), st.integers(1, 3200)), min_size=1, max_size=9),
    st.sampled_from([0.0, 5.0, 12.3]),
    st.sampled_from(["{label: true}", "{label: false, register: true}"]),
    st.sampled_from(["center", "top-left", "bottom-right"]),
)
def test_cells_keep_apart_and_inside(sizes, gap_mm, marks, place):
    profile = profile_of(marks=marks, art=f"{{fit: width 50 mm, place: {place}}}")
    chosen, cells = cells_of(profile, sizes, gap_mm=gap_mm)
    assert chosen == sorted(set(chosen))
    assert [(cell.art.width, cell.art.height) for cell in cells] == [sizes[n] for n in chosen]
    free = sheet_boxes(profile)[3]
    assert all(inside(box, free) for box in boxes(cells))
    gap = gap_mm * 10  # pixels at 254 dpi
    for one, other in combinations(cells, 2):
        for a in boxes([one]):
            for b in boxes([other]):
                across = max(b.left - a.right, a.left - b.right)
                down = max(b.top - a.bottom, a.top - b.bottom)
                assert max(across, down) >= gap
    # The first that fits at all is always on the sheet.
    fitting = [n for n, size in enumerate(sizes) if fits_on_sheet(profile, size)]
    assert chosen[:1] == fitting[:1]


def test_the_same_sizes_lie_in_the_same_places():
    profile = profile_of()
    sizes = [(500, 700), (900, 300), (450, 450), (600, 800)]
    assert cells_of(profile, sizes, gap_mm=5) == cells_of(profile, sizes, gap_mm=5)


def test_a_later_one_that_fits_is_taken_before_one_that_does_not():
    profile = profile_of(marks="{label: false, ruler: false, solid: false}")
    # 1900 x 2900 pixels are free; the second would need a sheet of its own.
    chosen, _ = cells_of(profile, [(1900, 1500), (1900, 1500), (1900, 1300)], gap_mm=5)
    assert chosen == [0, 2]


def test_four_quarters_fill_a_sheet_to_the_gap():
    profile = profile_of(marks="{label: false, ruler: false, solid: false}")
    exact = [(925, 1425)] * 4  # (1900 - 50) / 2, (2900 - 50) / 2
    chosen, cells = cells_of(profile, exact, gap_mm=5)
    assert chosen == [0, 1, 2, 3]
    assert around(cells) == sheet_boxes(profile)[3]
    assert len(cells_of(profile, [(930, 1425)] * 4, gap_mm=5)[0]) == 2


@pytest.mark.parametrize(("place", "corner"), [("top-left", (0, 0)), ("bottom-right", (1, 1))])
def test_place_moves_them_together(place, corner):
    profile = profile_of(art=f"{{fit: width 50 mm, place: {place}}}", marks="{label: false}")
    free = sheet_boxes(profile)[3]
    whole = around(cells_of(profile, [(300, 300), (400, 200)], gap_mm=5)[1])
    assert whole.left == (free.left, free.right - whole.width)[corner[0]]
    assert whole.top == (free.top, free.bottom - whole.height)[corner[1]]


def test_small_art_has_room_for_a_label_that_can_be_read():
    _, (cell,) = cells_of(profile_of(), [(100, 100)], gap_mm=5)
    assert cell.label is not None
    assert cell.label.width == 450  # 45 mm
    assert cell.label.top == cell.art.bottom + 10


@pytest.mark.parametrize("dpi", ["254", "254 x 508"])
def test_a_label_has_three_lines_of_two_and_a_half_millimeters(dpi):
    profile = profile_of(dpi=dpi)
    tall = profile.dpi.y // 254
    _, (cell,) = cells_of(profile, [(900, 300)], gap_mm=5)
    assert cell.label == Box(cell.art.left, cell.art.bottom + 10 * tall, 900, 75 * tall)
    bits = label_mark(cell, ["HHH", "", "HHH"], profile.dpi).bits
    assert bits.shape == (75 * tall, 900)
    lines = [bits[25 * tall * n : 25 * tall * (n + 1)] for n in range(3)]
    assert lines[0].any() and not lines[1].any()
    assert np.array_equal(lines[0], lines[2])

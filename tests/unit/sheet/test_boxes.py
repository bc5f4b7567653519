"""Rectangles and rooms of a sheet to the pixel, most of them at ten pixels a millimeter."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.errors import Refused
from filmhand.profile.read.load import read_profile
from filmhand.sheet import marks as drawn
from filmhand.sheet.layout import (
    STEPS,
    Box,
    fits,
    largest_in,
    placed,
    plan_sheet,
    sheet_boxes,
    shrunk,
    steps_in,
    wedge_grid,
)
from filmhand.sheet.packing import fits_on_sheet
from filmhand.sheet.placement import place_art
from filmhand.units import PixelsPerInch

BARE = "{label: false, ruler: false, solid: false}"


def profile_of(**keys):
    said = {
        "sheet": "200 x 300 mm", "dpi": "254", "lpi": "25", "dot": "round", "threshold": "50",
        "mesh": "43-80", "margin": "5 mm",
    }  # fmt: skip
    text = "".join(f"{key}: {value}\n" for key, value in (said | keys).items())
    return read_profile(text, name="p", file="p.yaml")


ONE = Box(10, 20, 30, 40)


@pytest.mark.parametrize(
    ("other", "touches"),
    [
        (Box(40, 20, 5, 5), False),
        (Box(39, 20, 5, 5), True),
        (Box(5, 20, 5, 5), False),
        (Box(5, 20, 6, 5), True),
        (Box(10, 60, 5, 5), False),
        (Box(10, 59, 5, 5), True),
        (Box(10, 15, 5, 5), False),
        (Box(10, 15, 5, 6), True),
        (Box(0, 0, 100, 100), True),
        (Box(20, 30, 1, 1), True),
    ],
)
def test_rectangles_overlap_where_they_share_a_pixel(other, touches):
    assert ONE.overlaps(other) is touches
    assert other.overlaps(ONE) is touches


def test_a_rectangle_holds_its_first_pixels_and_not_those_past_it():
    held = {(x, y) for x in range(100) for y in range(100) if ONE.holds(x, y)}
    assert held == {(x, y) for x in range(10, 40) for y in range(20, 60)}


def test_rectangles_turned_over_shrunk_and_around():
    assert ONE.mirrored(100) == Box(60, 20, 30, 40)
    assert shrunk(ONE, 2, 3) == Box(12, 23, 26, 34)
    assert Box.around([ONE, Box(5, 50, 7, 30), Box(30, 2, 20, 1)]) == Box(5, 2, 45, 78)


def test_half_a_spare_pixel_goes_to_the_right_and_below():
    area = Box(10, 20, 11, 12)
    assert placed(area, (4, 3), "center") == Box(13, 24, 4, 3)
    assert placed(area, (4, 3), "top-right") == Box(17, 20, 4, 3)
    assert placed(area, (4, 3), "bottom-left") == Box(10, 29, 4, 3)


@pytest.mark.parametrize(
    ("marks", "zone", "free"),
    [
        (BARE, (50, 50, 1900, 2900), None),
        # 10 mm at the foot for any of the three, 5 mm at the left for the ruler.
        ("{label: true, ruler: false, solid: false}", (50, 50, 1900, 2800), None),
        ("{label: false, ruler: false, solid: true}", (50, 50, 1900, 2800), None),
        ("{label: false, ruler: true, solid: false}", (100, 50, 1850, 2800), None),
        ("{}", (100, 50, 1850, 2800), None),
        # 21 steps of 6 mm lie in one row with 3 mm of figures below, above the foot.
        ("{label: false, ruler: false, solid: false, steps: true}", (50, 50, 1900, 2810), None),
        ("{steps: true}", (100, 50, 1850, 2710), None),
        # 7 mm all around for crosses.
        (BARE[:-1] + ", register: true}", (50, 50, 1900, 2900), (120, 120, 1760, 2760)),
    ],
)
def test_what_marks_leave_of_a_sheet(marks, zone, free):
    boxes = sheet_boxes(profile_of(marks=marks))
    assert boxes[:2] == (Box(0, 0, 2000, 3000), Box(50, 50, 1900, 2900))
    assert boxes[2] == Box(*zone)
    assert boxes[3] == Box(*(free or zone))


def test_margins_are_of_their_sides_and_never_less_than_asked():
    profile = profile_of(margin="[3 mm, 4.01 mm, 18 mm, 5.09 mm]", marks=BARE)
    assert sheet_boxes(profile)[1] == Box(51, 30, 2000 - 51 - 41, 3000 - 30 - 180)


@pytest.mark.parametrize(
    ("sheet", "columns", "rows"),
    # 5 mm of margin on either side: 126 mm hold 21 steps, a little less 20, so that two rows have
    # room for all 35.
    [
        ("136 x 200 mm", 21, 1),
        ("135.9 x 200 mm", 18, 2),
        ("52 x 200 mm", 7, 3),
        ("154 x 200 mm", 23, 1),
        ("300 x 200 mm", 35, 1),
    ],
)
def test_steps_of_6_mm_in_as_few_rows_as_they_need(sheet, columns, rows):
    profile = profile_of(sheet=sheet, marks=BARE[:-1] + ", steps: true}")
    printable, zone = sheet_boxes(profile)[1:3]
    assert wedge_grid(profile, printable.width) == (columns, rows)
    assert zone.height == printable.height - (60 + 30) * rows
    assert wedge_grid(profile, 120) == (2, 11)
    assert wedge_grid(profile, 59) == (1, 21)
    assert wedge_grid(profile_of(), 1000) == (0, 0)


def test_marks_that_would_leave_nothing_keep_no_room():
    # The strip at the foot takes 100 rows of what the margins leave, the ruler 50 columns.
    printable, zone = sheet_boxes(profile_of(sheet="100 x 20 mm"))[1:3]
    assert zone == printable
    printable, zone = sheet_boxes(profile_of(sheet="100 x 20.1 mm"))[1:3]
    assert zone == Box(100, 50, 850, 1)


@pytest.mark.parametrize("size", ["24 x 100 mm", "100 x 24 mm"])
def test_crosses_that_would_leave_nothing_keep_no_room(size):
    marks = BARE[:-1] + ", register: true}"
    zone, free = sheet_boxes(profile_of(sheet=size, marks=marks))[2:]
    assert zone == free
    a_little_more = size.replace("24", "24.1")
    zone, free = sheet_boxes(profile_of(sheet=a_little_more, marks=marks))[2:]
    assert free == shrunk(zone, 70, 70)


def test_a_size_fits_if_it_is_larger_by_half_a_thousandth_at_most():
    assert fits((1, 1), (1, 1)) and fits((1.0005, 1), (1, 1)) and fits((1, 1.0005), (1, 1))
    assert not fits((1.0006, 1), (1, 1)) and not fits((1, 1.0006), (1, 1))


def test_art_is_turned_only_where_that_prints_larger():
    assert largest_in((200, 100), (5, 10), may_turn=True) == ((10, 5), 90)
    assert largest_in((200, 100), (5, 10), may_turn=False) == ((5, 2.5), 0)
    assert largest_in((100, 100), (5, 10), may_turn=True) == ((5, 5), 0)
    assert largest_in((100, 200), (5, 10), may_turn=True) == ((5, 10), 0)


def test_a_refusal_for_size_names_the_size_the_room_and_a_width_that_fits():
    profile = profile_of(art="{fit: 195 x 400 mm, turn: never}", marks=BARE)
    with pytest.raises(Refused) as refused:
        plan_sheet(profile, art_px=(195, 400), art_ppi=None)
    assert refused.value.found.value == "195.0 x 400.0"
    assert refused.value.needed.value == "190.0 x 290.0"
    assert "a width of at most 141 mm (5.56 in)" in refused.value.do  # 195 / 400 of 290 is 141.4
    own = profile_of(art="{fit: own, turn: never}", marks=BARE)
    with pytest.raises(Refused) as refused:
        plan_sheet(own, art_px=(1, 2000), art_ppi=(100, 100))
    assert "a width of at most 1 mm (0.03 in)" in refused.value.do


def test_the_number_of_copies_that_fit_goes_by_the_gap_of_each_direction():
    # 181 x 281 mm beside trim marks: 3 across and 4 down of 40 mm with gaps of 30 mm.
    art = "{repeat: 5 x 5, fit: width 40 mm, turn: never, gap: 30 mm}"
    for dpi in ("254 x 508", "508 x 254"):
        profile = profile_of(dpi=dpi, art=art, marks=BARE)
        with pytest.raises(Refused) as refused:
            place_art(profile, art_px=(100, 100), art_ppi=None)
        assert "Ask for 3 x 4 copies or fewer" in refused.value.do


def test_copies_that_fill_a_sheet_are_2500_at_most():
    art = "{repeat: fill, fit: width 5 mm, turn: never, gap: 0 mm}"

    def copies(sheet):
        profile = profile_of(sheet=sheet, art=art, marks=BARE)
        return place_art(profile, art_px=(100, 100), art_ppi=None).grid

    # 5 mm of margin and 4.5 mm of trim marks on either side; rounding is forgiven a pixel, so
    # that 52 of 49 pixels each lie in 255 mm.
    grid = copies("268 x 268 mm")
    assert (grid.columns, grid.rows) == (50, 50)
    with pytest.raises(Refused) as refused:
        copies("274 x 268 mm")
    assert "would be filled by 2600 copies, and at most 2500 are laid on one" in refused.value.say
    assert (refused.value.found.value, refused.value.needed.value) == (2600, 2500)
    assert "repeat: 50 x 50" in refused.value.do


def test_a_label_belongs_to_what_has_to_fit_beside_others():
    # 190 x 290 mm less the foot of 10 mm; the label takes 7.5 mm and a millimeter of air.
    profile = profile_of(marks="{label: true, ruler: false, solid: false}")
    assert fits_on_sheet(profile, (1900, 2800 - 85))
    assert not fits_on_sheet(profile, (1901, 100))
    assert not fits_on_sheet(profile, (1900, 2800 - 84))
    bare = profile_of(marks=BARE)
    assert fits_on_sheet(bare, (1900, 2900))
    assert not fits_on_sheet(bare, (1900, 2901))


def test_a_bar_has_a_tick_each_10_mm_longer_at_the_ends_and_the_middle():
    bar = drawn._ruler(1000, 20, PixelsPerInch(254, 254), in_inches=False)
    # Between the first two it says how long it is.
    assert bar[:16, 12:92].any()
    bar[:16, 12:92] = False
    # Lines of 0.25 mm are 2 pixels and a half: 2.
    wanted = np.zeros((20, 1000), bool)
    wanted[-2:] = True
    for number, first in enumerate([0, *range(99, 999, 100), 998]):
        wanted[0 if number in (0, 5, 10) else 8 :, first : first + 2] = True
    assert np.array_equal(bar, wanted)
    # Of unequal resolutions each line has its own: 5 of 508 along, 10 of 1016 across.
    bar = drawn._ruler(2000, 40, PixelsPerInch(508, 1016), in_inches=False)
    bar[:20, 24:184] = False
    assert (bar.sum(axis=1) == 2000).sum() == 10
    ticks = np.flatnonzero(bar[20])
    assert ticks.tolist() == [
        *range(5), *(198 + 200 * n + k for n in range(9) for k in range(5)), *range(1995, 2000)
    ]  # fmt: skip
    assert np.flatnonzero(bar[0]).tolist() == [*range(5), *range(998, 1003), *range(1995, 2000)]


def test_a_bar_tells_its_length_in_inches_too_where_the_sheet_is_in_inches():
    dpi = PixelsPerInch(600, 600)
    metric, inches = (drawn._ruler(2362, 61, dpi, in_inches=told) for told in (False, True))
    added = np.flatnonzero((inches != metric).any(axis=0)) * 25.4 / 600
    assert 10.25 < added.min() < added.max() < 19.75
    # Too coarse for letters, it is a bar and no more.
    coarse = PixelsPerInch(72, 72)
    assert np.array_equal(
        drawn._ruler(283, 7, coarse, in_inches=True), drawn._ruler(283, 7, coarse, in_inches=False)
    )
    assert not drawn._ruler(283, 7, coarse, in_inches=True)[0, 5:25].any()


def test_the_solid_patch_lies_in_the_lower_right_corner():
    profile = profile_of(dpi="254 x 508", marks="{label: false, ruler: false}")
    layout = plan_sheet(profile, art_px=(500, 300), art_ppi=None)
    (mark,) = drawn.draw_furniture(profile, layout, lines=[], screen_flat=None).marks
    assert mark.box == Box(1950 - 80, 5900 - 160, 80, 160)


def test_the_steps_of_a_wedge_rise_from_1_to_99_and_mirror_one_another():
    assert len(STEPS) == 21 and STEPS[0] == 1
    assert list(STEPS) == sorted(set(STEPS))
    assert [100 - step for step in reversed(STEPS)] == list(STEPS)
    apart = np.diff(STEPS)
    assert apart.max() == apart[10] == 10 and apart.min() == apart[0] == 1


@pytest.mark.parametrize("places", range(1, 60))
def test_more_steps_come_between_where_there_is_room(places):
    steps = steps_in(places)
    assert set(STEPS) <= set(steps) and len(steps) == len(set(steps))
    assert len(steps) <= max(places, 21) and len(steps) >= min(places, 35) - 1
    assert list(steps) == sorted(100 - step for step in steps)


@pytest.mark.parametrize("mm", [380, 200])
def test_a_joined_film_has_the_margins_of_one_sheet_around_all_of_its_art(mm):
    profile = profile_of(
        margin="[5 mm, 6 mm, 20 mm, 7 mm]", marks=BARE,
        art=f"{{fit: {mm} x 500 mm, tile: auto, turn: never, overlap: 10 mm}}",
    )  # fmt: skip
    layout = place_art(profile, art_px=(mm, 500), art_ppi=None)
    assert layout.art == Box(70, 50, 10 * mm, 5000)
    assert layout.sheet == Box(0, 0, 70 + 10 * mm + 60, 50 + 5000 + 200)
    assert layout.printable == layout.zone == layout.art
    assert layout.art_mm == pytest.approx((mm, 500))
    assert layout.ppi == pytest.approx(25.4)
    first = layout.films[0]
    assert first.sheet == Box(0, 0, 2000, 3000)
    assert first.printable == Box(70, 50, 2000 - 130, 3000 - 250)
    assert first.part.overlap == (100, 100)
    assert first.part.suffix == "-r1c1"
    assert (
        str(layout.films[-1].part)
        == f"row 2 of 2, column {first.part.columns} of {first.part.columns}"
    )
    assert first.part.columns == (2 if mm == 200 else 3)


def test_a_joined_film_has_as_many_pages_as_the_profile_allows():
    art = "{fit: 380 x 500 mm, tile: auto, turn: never}"
    allowed = profile_of(marks=BARE, art=art, limits="{pages: 6}")
    assert len(place_art(allowed, art_px=(380, 500), art_ppi=None).films) == 6
    with pytest.raises(Refused, match="6 films, and the profile allows at most 5") as refused:
        few = profile_of(marks=BARE, art=art, limits="{pages: 5}")
        place_art(few, art_px=(380, 500), art_ppi=None)
    assert (refused.value.found.value, refused.value.needed.value) == (6, 5)

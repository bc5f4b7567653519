"""Copies on a sheet, and films of art that no sheet holds: nothing overlaps, nothing is missing."""

from __future__ import annotations

from functools import cache
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from filmhand.errors import Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.sheet.marks import draw_furniture
from filmhand.sheet.placement import most_in, place_art, spans
from filmhand.sheet.trim_marks import alignment_crosses, trim_marks

LINES = ["poster.jpg", "small-sheet", "right-reading, image side up"]


@cache
def profile_of(**keys):
    required = {
        "sheet": "letter", "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50",
        "mesh": "43-80", "margin": "0.25 in",
    }  # fmt: skip
    text = "".join(f"{key}: {value}\n" for key, value in (required | keys).items())
    return read_profile(text, name="p", file="p.yaml")


def within(inner, outer):
    return (
        inner.left >= outer.left
        and inner.top >= outer.top
        and inner.right <= outer.right
        and inner.bottom <= outer.bottom
    )


SHEETS = st.sampled_from(["letter", "a3", "100 x 150 mm", "13 x 19 in"])
DPIS = st.sampled_from(["150", "300 x 600", "720 x 360"])
MARKS = st.sampled_from(["{}", "{register: true}", "{label: no, ruler: no, solid: no}"])
PLACES = st.sampled_from(["center", "top-left", "bottom-right"])


@settings(max_examples=60, deadline=None)
@given(
    sheet=SHEETS, dpi=DPIS, marks=MARKS, place=PLACES,
    fit=st.sampled_from(["page", "width 30 mm", "height 22 mm", "40 x 20 mm", "own"]),
    repeat=st.sampled_from(["1 x 1", "3 x 2", "2 x 5", "fill"]),
    gap=st.sampled_from(["0 mm", "1 mm", "5 mm", "12.3 mm"]),
    size=st.tuples(st.integers(40, 3000), st.integers(40, 3000)),
)  # fmt: skip
def test_copies_and_marks_lie_clear_of_one_another(
    sheet, dpi, marks, place, fit, repeat, gap, size
):
    if repeat == "fill" and fit == "page":
        fit = "width 30 mm"
    art = f"{{fit: {fit}, repeat: {repeat}, gap: {gap}, place: {place}}}"
    profile = profile_of(sheet=sheet, dpi=dpi, marks=marks, art=art)
    try:
        layout = place_art(profile, art_px=size, art_ppi=(300.0, 300.0))
    except Refused as refused:
        assert refused.reason is Reason.TOO_BIG
        return
    grid = layout.grid
    assert grid is not None and len(layout.copies) == grid.columns * grid.rows
    if repeat != "fill":
        assert repeat == f"{grid.columns} x {grid.rows}"
    assert within(layout.art, layout.printable)
    assert len({(copy.width, copy.height) for copy in layout.copies}) == 1
    wanted = [round(profile.art.gap / 25.4 * along) for along in (profile.dpi.x, profile.dpi.y)]
    for number, copy in enumerate(layout.copies):
        assert within(copy, layout.art)
        row, column = divmod(number, grid.columns)
        if column:
            assert copy.left - layout.copies[number - 1].right == wanted[0]
        if row:
            assert copy.top - layout.copies[number - grid.columns].bottom == wanted[1]
    furniture = draw_furniture(profile, layout, lines=LINES, screen_flat=None)
    for mark in furniture.marks:
        assert mark.bits.shape == (mark.box.height, mark.box.width)
        assert within(mark.box, layout.printable)
        assert not any(mark.box.overlaps(copy) for copy in layout.copies)
    for one, other in combinations(furniture.marks, 2):
        assert not one.box.overlaps(other.box)


@pytest.mark.parametrize(("gap", "length"), [("5 mm", 35), ("8 mm", 70), ("25.4 mm", 35)])
def test_cut_marks_in_a_wide_gap_are_no_longer_than_those_around(gap, length):
    profile = profile_of(art=f"{{repeat: 2 x 2, fit: width 50 mm, gap: {gap}}}")
    layout = place_art(profile, art_px=(400, 400), art_ppi=None)
    lying = [box.width for box, _ in trim_marks(layout, profile.dpi) if box.height < 5]
    # Around: 3 mm at 300 dpi. Between: the gap less 1 mm on either side, or 3 mm beside each copy.
    outer = 2 * 4
    between = 4 if gap != "25.4 mm" else 8
    assert sorted(lying) == sorted([35] * outer + [length] * between)


def test_as_many_and_as_large_as_have_room():
    marks = "{label: no, ruler: no, solid: no}"
    profile = profile_of(marks=marks, art="{repeat: fill, fit: width 2 in, turn: never}")
    layout = place_art(profile, art_px=(400, 400), art_ppi=None)
    # Letter less margin and cut marks is 194.2 x 257.7 mm: 3 x 4 of 50.8 mm with gaps of 5 mm.
    assert (layout.grid.columns, layout.grid.rows) == (3, 4)
    profile = profile_of(marks=marks, art="{repeat: 3 x 2}")
    layout = place_art(profile, art_px=(400, 400), art_ppi=None)
    room = 8.5 * 25.4 - 2 * 6.35 - 2 * 4.5
    assert layout.art_mm[0] == pytest.approx((room - 2 * 5) / 3, abs=0.2)


def test_copies_are_turned_where_more_of_them_or_larger_ones_fit():
    wide = {"art_px": (900, 400), "art_ppi": None}
    fill = place_art(profile_of(art="{repeat: fill, fit: width 120 mm}"), **wide)
    never = place_art(profile_of(art="{repeat: fill, fit: width 120 mm, turn: never}"), **wide)
    assert (fill.turned, len(fill.copies)) == (90, 6)
    assert (never.turned, len(never.copies)) == (0, 4)
    page = place_art(profile_of(art="{repeat: 2 x 1}"), art_px=(900, 300), art_ppi=None)
    assert page.turned == 90


def test_too_many_copies_are_refused_with_the_number_that_fits():
    profile = profile_of(art="{repeat: 3 x 2, fit: width 80 mm, turn: never}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(400, 400), art_ppi=None)
    assert refused.value.reason is Reason.TOO_BIG
    assert "3 x 2 copies" in refused.value.say
    assert "Ask for 2 x 3 copies or fewer" in refused.value.do
    # 3 x 80 mm and 2 gaps, 2 x 80 mm and one.
    assert refused.value.found.value == "250.0 x 165.0"


def test_where_only_one_copy_has_room_no_number_of_copies_is_offered():
    profile = profile_of(art="{repeat: 2 x 2, fit: width 150 mm, turn: never}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(400, 400), art_ppi=None)
    assert "2 x 2 copies" in refused.value.say and "only for one" in refused.value.say
    assert "write art: {repeat: off}" in refused.value.do
    one = profile_of(art="{fit: width 150 mm, turn: never}")
    assert place_art(one, art_px=(400, 400), art_ppi=None).copies


@pytest.mark.parametrize(("repeat", "copies"), [("fill", (1, 1)), ("5 x 2", (5, 2))])
@pytest.mark.parametrize("dpi", ["300", "300 x 600"])
def test_the_refusal_of_copies_says_what_they_would_take_and_what_there_is(repeat, copies, dpi):
    art = f"{{repeat: {repeat}, fit: 250 x 300 mm, turn: never, gap: 5 mm}}"
    profile = profile_of(dpi=dpi, art=art, marks="{label: no, ruler: no, solid: no}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(250, 300), art_ppi=None)
    across, down = (float(side) for side in refused.value.found.value.split(" x "))
    assert across == pytest.approx(250 * copies[0] + 5 * (copies[0] - 1), abs=0.5)
    assert down == pytest.approx(300 * copies[1] + 5 * (copies[1] - 1), abs=0.5)
    # Letter less its margins of a quarter inch and 4.5 mm of cut marks on either side.
    room = [float(side) for side in refused.value.needed.value.split(" x ")]
    assert room == pytest.approx([215.9 - 12.7 - 9, 279.4 - 12.7 - 9], abs=0.2)
    assert ("one copy" if repeat == "fill" else "5 x 2 copies") in refused.value.say
    assert "a larger sheet" in refused.value.do


@pytest.mark.parametrize(
    ("sheet", "room"), [("17 x 100 mm", [0, 75]), ("100 x 20 mm", [80, 0]), ("17 x 20 mm", [0, 0])]
)
def test_where_marks_leave_no_room_for_copies_it_is_nothing_and_not_less(sheet, room):
    # 10 mm for the strip below and 5 mm for the ruler down, 3 mm of margin and 4.5 mm of cut marks.
    profile = profile_of(sheet=sheet, margin="3 mm", art="{repeat: 1 x 1}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(100, 100), art_ppi=None)
    told = [float(side) for side in refused.value.needed.value.split(" x ")]
    assert told == pytest.approx(room, abs=0.3)
    assert min(told) == 0


@pytest.mark.parametrize("dpi", ["254", "254 x 508"])
@pytest.mark.parametrize("side", ["width", "height"])
def test_a_size_that_rounding_made_a_pixel_too_large_for_its_room_is_clipped(dpi, side):
    tall = 20 if "508" in dpi else 10  # pixels a millimeter down; across there are 10

    def placed(pixels):
        across, down = (pixels, 200) if side == "width" else (200, pixels)
        fit = f"{across / 10} x {down / tall} mm"
        art = f"{{repeat: 3 x 2, fit: {fit}, turn: never, gap: 5 mm}}"
        keys = {
            "sheet": "200 x 300 mm",
            "margin": "5 mm",
            "marks": "{label: no, ruler: no, solid: no}",
        }
        profile = profile_of(dpi=dpi, art=art, **keys)
        return place_art(profile, art_px=(across * tall, down * 10), art_ppi=None)

    # 190 x 290 mm less 4.5 mm of cut marks all around; 5 mm between copies.
    most = (1810 - 2 * 50) // 3 if side == "width" else (281 * tall - 5 * tall) // 2
    for pixels in (most - 1, most, most + 1):
        cell = placed(pixels).copies[0]
        wanted = (min(pixels, most), 200) if side == "width" else (200, min(pixels, most))
        assert (cell.width, cell.height) == wanted
    with pytest.raises(Refused, match="3 x 2 copies"):
        placed(most + 2)


def test_an_overlap_that_leaves_no_room_is_told_of():
    profile = profile_of(art="{tile: auto, fit: width 500 mm, overlap: 100 mm}")
    with pytest.raises(
        Refused, match=r"an overlap of 3\.94 in \(100 mm\) on every side"
    ) as refused:
        place_art(profile, art_px=(500, 400), art_ppi=None)
    assert refused.value.do.startswith("Set art.overlap to less than 3.62 in (92 mm), ")
    most = float(str(refused.value.needed.value).removeprefix("under ")) - 1
    fewer = profile_of(art=f"{{tile: auto, fit: width 500 mm, overlap: {most} mm}}")
    assert place_art(fewer, art_px=(500, 400), art_ppi=None).films


@given(st.integers(1, 500), st.integers(1, 100), st.integers(0, 30))
def test_the_most_that_fit_are_counted(room, side, gap):
    count = most_in(room, side, gap)
    assert count == 0 or count * side + (count - 1) * gap <= room
    assert (count + 1) * side + count * gap > room


@given(st.integers(1, 5000), st.integers(10, 600), st.data())
def test_spans_cover_all_and_overlap_exactly(length, most, data):
    overlap = data.draw(st.integers(0, (most - 1) // 2))
    found = spans(length, most=most, overlap=overlap)
    assert found[0][0] == 0 and sum(found[-1]) == length
    assert all(0 < each <= most for _, each in found)
    for (start, each), (after, _) in pairwise(found):
        assert start + each - after == overlap
    fewer = len(found) - 1
    assert fewer == 0 or fewer * most - (fewer - 1) * overlap < length


@settings(max_examples=25, deadline=None)
@example("a3", "150", "{}", "bottom-right", "own", "5 mm", "auto", (1678, 1678))
@given(
    sheet=SHEETS, dpi=DPIS, marks=MARKS, place=PLACES,
    fit=st.sampled_from(["width 700 mm", "height 900 mm", "600 x 500 mm", "own"]),
    overlap=st.sampled_from(["5 mm", "10 mm", "23.4 mm"]),
    turn=st.sampled_from(["auto", "never"]),
    size=st.tuples(st.integers(1000, 9000), st.integers(1000, 9000)),
)  # fmt: skip
def test_films_cover_the_art_and_share_their_overlaps(
    sheet, dpi, marks, place, fit, overlap, turn, size
):
    art = f"{{fit: {fit}, tile: auto, overlap: {overlap}, place: {place}, turn: {turn}}}"
    profile = profile_of(sheet=sheet, dpi=dpi, marks=marks, art=art, limits="{pages: 10000}")
    layout = place_art(profile, art_px=size, art_ppi=(150.0, 150.0))
    if not layout.films:
        assert within(layout.art, layout.printable)
        return
    whole = layout.art
    shared = [round(profile.art.overlap / 25.4 * along) for along in (profile.dpi.x, profile.dpi.y)]
    films = {(film.part.row, film.part.column): film for film in layout.films}
    rows, columns = layout.films[0].part.rows, layout.films[0].part.columns
    assert len(films) == rows * columns > 1
    assert films[1, 1].part.shown.left == whole.left and films[1, 1].part.shown.top == whole.top
    last = films[rows, columns].part.shown
    assert (last.right, last.bottom) == (whole.right, whole.bottom)
    for (row, column), film in films.items():
        shown = film.part.shown
        assert (film.art.width, film.art.height) == (shown.width, shown.height)
        assert within(film.art, film.printable)
        if column > 1:
            assert films[row, column - 1].part.shown.right - shown.left == shared[0]
        if row > 1:
            assert films[row - 1, column].part.shown.bottom - shown.top == shared[1]
        if (row, column) not in {(1, 1), (2, 2), (rows, columns)}:
            continue
        furniture = draw_furniture(profile, film, lines=LINES, screen_flat=None)
        for mark in furniture.marks:
            assert within(mark.box, film.printable) and not mark.box.overlaps(film.art)
        for one, other in combinations(furniture.marks, 2):
            assert not one.box.overlaps(other.box)


def crosses_on_the_joined_film(film, dpi):
    x, y = (film.part.shown.left - film.art.left, film.part.shown.top - film.art.top)
    return {
        (box.left + box.width // 2 + x, box.top + box.height // 2 + y)
        for box, _ in alignment_crosses(film, dpi)
    }


@pytest.mark.parametrize("dpi", ["300", "300 x 600", "720"])
@pytest.mark.parametrize("place", ["center", "top-right"])
def test_crosses_of_neighbors_meet_in_the_middle_of_their_overlap(dpi, place):
    art = f"{{fit: width 520 mm, tile: auto, overlap: 9.3 mm, place: {place}}}"
    profile = profile_of(dpi=dpi, art=art, sheet="200 x 210 mm")
    layout = place_art(profile, art_px=(5000, 5100), art_ppi=None)
    films = {(film.part.row, film.part.column): film for film in layout.films}
    assert {row for row, _ in films} >= {1, 2, 3} <= {column for _, column in films}
    for (row, column), film in films.items():
        own, shown = crosses_on_the_joined_film(film, profile.dpi), film.part.shown
        neighbors = sum(
            (row + down, column + across) in films
            for down, across in ((0, 1), (0, -1), (1, 0), (-1, 0))
        )
        assert len(own) == 2 * neighbors
        for down, across in ((0, 1), (1, 0)):
            other = films.get((row + down, column + across))
            if other is None:
                continue
            both = own & crosses_on_the_joined_film(other, profile.dpi)
            assert len(both) == 2
            axis = 0 if across else 1
            middle = (
                other.part.shown.left + shown.right if across
                else other.part.shown.top + shown.bottom
            ) / 2  # fmt: skip
            assert all(abs(place[axis] - middle) <= 1 for place in both)


def test_a_cross_is_the_same_from_all_sides():
    profile = profile_of(art="{fit: width 520 mm, tile: auto}")
    film = place_art(profile, art_px=(5000, 5100), art_ppi=None).films[0]
    for _, bits in alignment_crosses(film, profile.dpi):
        assert np.array_equal(bits, bits[::-1]) and np.array_equal(bits, bits[:, ::-1])
        assert bits.any(axis=0).all() and not bits.all()


def test_without_tiles_the_refusal_names_a_width_that_fits_and_the_tiles():
    profile = profile_of(art="{fit: own}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(9000, 9000), art_ppi=(300.0, 300.0))
    assert "a width of at most 8 in (203 mm)" in refused.value.do
    assert "tile: auto" in refused.value.do
    fits = profile_of(art="{fit: width 203 mm}")
    assert place_art(fits, art_px=(9000, 9000), art_ppi=None).art_mm[0] > 202


def test_more_films_than_pages_are_refused():
    profile = profile_of(art="{fit: width 2000 mm, tile: auto}", limits="{pages: 4}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(900, 900), art_ppi=None)
    assert refused.value.reason is Reason.TOO_BIG
    assert "and the profile allows at most 4" in refused.value.say
    assert refused.value.do.endswith("or raise limits.pages in the profile to 108.")


def test_copies_that_never_fit_are_told_without_a_size():
    profile = profile_of(art="{repeat: 40 x 2, gap: 10 mm}")
    with pytest.raises(Refused) as refused:
        place_art(profile, art_px=(900, 900), art_ppi=None)
    assert refused.value.say == (
        "With gaps of 0.39 in (10 mm) there is no room for 40 x 2 copies and their trim marks on "
        "this sheet, however small they are."
    )
    assert "Ask for fewer copies in art.repeat" in refused.value.do


def test_one_copy_without_room_is_told_without_gaps():
    profile = profile_of(art="{repeat: fill, fit: width 260 mm}")
    with pytest.raises(Refused, match="there is no room for one copy and its trim marks on"):
        place_art(profile, art_px=(900, 900), art_ppi=None)


def test_a_side_of_both_bounds_the_art():
    wide = place_art(profile_of(art="{fit: 5 x 4 in}"), art_px=(1000, 500), art_ppi=None)
    assert wide.art_mm == pytest.approx((127.0, 63.5), abs=0.1)
    high = place_art(profile_of(art="{fit: 5 x 4 in}"), art_px=(500, 1000), art_ppi=None)
    assert high.art_mm == pytest.approx((50.8, 101.6), abs=0.1)


def test_a_sheet_is_filled_with_2500_copies_at_most():
    marks = "{label: no, ruler: no, solid: no}"

    def filled(rows):
        # 50 copies of 8 mm across without gaps, and cut marks of 4.5 mm around; a millimeter spare.
        keys = {"sheet": f"410 x {8 * rows + 10} mm", "margin": "0 mm", "dpi": "254"}
        art = "{repeat: fill, fit: width 8 mm, gap: 0 mm, turn: never}"
        return place_art(profile_of(marks=marks, art=art, **keys), art_px=(80, 80), art_ppi=None)

    assert len(filled(50).copies) == 2500
    with pytest.raises(Refused):
        filled(51)

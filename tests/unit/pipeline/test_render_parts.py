"""Boxes, shares and sizes of what is rendered, by themselves."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from filmhand.art.crop_window import CropWindow
from filmhand.pipeline.render import background, cropping
from filmhand.pipeline.render.background import ClearedBackground, clear_background, map_box
from filmhand.pipeline.render.copies import ArtCopies
from filmhand.pipeline.render.cropping import KeptPart, part_of, sizing_of
from filmhand.profile.read.load import read_profile
from filmhand.sheet.layout import Box
from filmhand.sheet.placement import grid_of
from filmhand.units import Resolution, SheetSize

TEXT = "sheet: a4\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"


def profile_of(more: str) -> Any:
    return read_profile(TEXT + more, name="p", file="p.yaml")


def test_what_a_film_of_several_shows_of_the_cleared_background() -> None:
    """The maps are at a tenth of the area's 400 x 200 pixels across, and at a fifth down."""
    floor = np.zeros((40, 40), bool)
    floor[10, 20] = True  # columns 200 to 209 and rows 50 to 54 of the area
    masked = np.zeros((40, 40), bool)
    masked[39, 39] = True
    area, part, to = Box(1000, 500, 400, 200), Box(1200, 550, 100, 50), Box(7, 9, 100, 50)
    islands = [(1200, 550), (1299, 599), (1300, 560), (1250, 600), (1199, 560), (1250, 549)]
    seen = ClearedBackground(floor, masked, islands).shown(area, part, to)
    assert seen.floor is not None and seen.floor.shape == (10, 10)
    assert seen.floor[0, 0] and seen.floor.sum() == 1
    assert seen.masked is None  # nothing of it is on this film
    assert seen.islands == [(7, 9), (106, 58)]
    sliver = ClearedBackground(floor).shown(area, Box(1201, 551, 1, 1), to)
    assert sliver.floor is not None and sliver.floor.shape == (1, 1)


def test_the_background_in_the_record() -> None:
    half = np.zeros((8, 125), bool)
    half[0] = True
    half[1, 0] = True
    told = ClearedBackground(half, None, [(1, 1)] * 3).record()
    assert told == {"islands": 3, "floor_pct": 12.6, "mask_pct": 0.0}


@pytest.mark.parametrize(
    ("area", "size"),
    [
        (Box(9, 9, 4000, 2000), (400, 200)),
        (Box(9, 9, 2000, 4001), (200, 400)),
        (Box(0, 0, 400, 30), (400, 30)),
        (Box(0, 0, 401, 30), (400, 30)),
        (Box(0, 0, 9000, 3), (400, 1)),
    ],
)
def test_the_map_of_the_background_is_at_most_400_pixels_long(
    area: Box, size: tuple[int, int]
) -> None:
    assert map_box(area) == Box(0, 0, *size)


@pytest.mark.parametrize("dark_inks", [True, False])
def test_small_islands_far_off_become_bare_and_what_the_floor_took_is_noted(
    dark_inks: bool,
) -> None:
    """The picture is 1200 x 600 codes on 2400 x 1200 device pixels: twice as large each way."""
    ink = np.zeros((600, 1200))
    ink[100:300, 100:400] = 0.8  # the subject
    ink[400:500, 100:400] = 0.04  # paper, which the floor takes
    ink[500:503, 1100:1103] = 0.8  # an island, 60 mm away, of less than four dots
    codes = np.rint(65535 * (1 - ink if dark_inks else ink)).astype(np.uint16)
    before = codes.copy()
    cleared = ClearedBackground()
    clear_background(
        codes,
        cleared,
        before=lambda tone: tone,
        after=lambda tone: np.where(tone > 0.05, tone, 0),
        dark_inks=dark_inks,
        area=Box(50, 70, 2400, 1200),
        dpi=Resolution(300, 300),
        lpi=25,
    )
    changed = np.argwhere(codes != before)
    assert changed.min(axis=0) == pytest.approx([500, 1100])
    assert changed.max(axis=0) == pytest.approx([502, 1102])
    assert (codes[500:503, 1100:1103] == (65535 if dark_inks else 0)).all()
    ((x, y),) = cleared.islands
    block = 2 * 2 * max(1, 1200 // cleared.floor.shape[1]) if cleared.floor is not None else 0
    assert x == pytest.approx(50 + 2 * 1101, abs=block)
    assert y == pytest.approx(70 + 2 * 501, abs=block)
    assert cleared.floor is not None and cleared.masked is None
    rows, columns = np.nonzero(cleared.floor)
    down, across = 600 / cleared.floor.shape[0], 1200 / cleared.floor.shape[1]
    assert (rows.min() * down, (rows.max() + 1) * down) == pytest.approx((400, 500), abs=down)
    assert (columns.min() * across, (columns.max() + 1) * across) == pytest.approx(
        (100, 400), abs=across
    )


def test_nothing_is_noted_where_the_floor_takes_nothing() -> None:
    codes = np.full((100, 100), 20_000, np.uint16)
    cleared = ClearedBackground()
    clear_background(
        codes, cleared, before=lambda tone: tone, after=lambda tone: tone, dark_inks=True,
        area=Box(0, 0, 100, 100), dpi=Resolution(300, 300), lpi=None,
    )  # fmt: skip
    assert cleared == ClearedBackground()
    assert (codes == 20_000).all()
    assert background._LINE_LPI == 25


def test_the_shifts_of_copies_are_whole_pitches() -> None:
    copies = ArtCopies.of(grid_of(3, 2, cell=Box(7, 5, 10, 20), gap=(4, 6)), Box(7, 5, 38, 46))
    assert copies.pitch == (14, 26)
    assert copies.shifts == [(0, 0), (14, 0), (28, 0), (0, 26), (14, 26), (28, 26)]
    assert copies.pixels == 6 * 200
    alone = ArtCopies.of(None, Box(7, 5, 10, 20))
    assert alone.shifts == [(0, 0)]


def test_what_was_cut_off_in_percent_and_in_words() -> None:
    window = CropWindow(0.1, 0.25, 0.8, 1)
    assert KeptPart(window, (100, 100)).record() == {
        "left_pct": 10.0, "top_pct": 25.0, "right_pct": 20.0, "bottom_pct": 0.0,
    }  # fmt: skip
    assert KeptPart(CropWindow(), (100, 100)).record() is None
    assert cropping._cut_sentence(window, (2, 4), SheetSize(21000, 29700)) == (
        "5.1 mm (0.2 in) on the left, 25.4 mm (1 in) at the top, 10.2 mm (0.4 in) on the right of "
        "its own size"
    )
    assert cropping._cut_sentence(CropWindow(0, 0, 1, 0.5), (200, 400), None) == (
        "200 pixels at the foot"
    )


def test_a_drawing_is_looked_at_with_1500_pixels_on_its_longer_side() -> None:
    found = cropping._small(3.0, 1.5)
    assert (found.width_px, found.height_px, found.ppi) == (1500, 750, 500)
    found = cropping._small(0.001, 10.0)
    assert (found.width_px, found.height_px, found.ppi) == (1, 1500, 150)


def test_the_part_of_a_picture_is_its_own() -> None:
    codes = np.arange(200, dtype=np.uint16).reshape(10, 20)
    part = part_of(codes, CropWindow(0.1, 0.2, 0.5, 0.9))
    assert (part == codes[2:9, 2:10]).all()
    assert part.flags.c_contiguous and not np.shares_memory(part, codes)
    assert part_of(codes, CropWindow()) is codes


@pytest.mark.parametrize(
    ("more", "inches", "part", "size"),
    [
        ("dpi: 300\nart: {fit: width 100 mm, turn: never}\n", (2, 4), CropWindow(), (1181, 2362)),
        # Square pixels, as many as the finer direction has.
        ("dpi: 600 x 300\nart: {fit: width 100 mm, turn: never}\n", (2, 4), CropWindow(),
         (2362, 4724)),
        ("dpi: 300 x 600\nart: {fit: width 100 mm, turn: never}\n", (2, 4), CropWindow(),
         (2362, 4724)),
        # The part that is kept is 1 x 3 inches.
        ("dpi: 300\nart: {fit: width 50 mm, turn: never}\n", (2, 4),
         CropWindow(0.25, 0.25, 0.75, 1), (591, 1772)),
    ],
)  # fmt: skip
def test_a_drawing_gets_the_pixels_of_its_size_on_film(more, inches, part, size) -> None:
    found = sizing_of(profile_of(more), part=part)(*inches)
    assert (found.width_px, found.height_px) == pytest.approx(size, abs=2)
    assert found.ppi == (600 if "600" in more else 300)
    assert found.part == part


def test_a_wide_drawing_that_is_turned_is_counted_upright() -> None:
    found = sizing_of(profile_of("dpi: 300\n"))(4.0, 2.0)
    assert found.width_px == pytest.approx(2 * found.height_px, rel=0.002)
    assert found.width_px > 200 / 25.4 * 300  # wider than the sheet, so it lies along it


def test_what_lies_inside_a_film() -> None:
    box = Box(10, 20, 5, 6)
    inside = [(x, y) for x in range(30) for y in range(40) if box.holds(x, y)]
    assert inside == [(x, y) for x in range(10, 15) for y in range(20, 26)]

"""Label, rulers, patch, wedge and registration marks."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from PIL import ImageFont
from test_layout import BARE, profile

from filmhand.sheet.layout import Box, plan_sheet, steps_in
from filmhand.sheet.lettering import plain_text, shortened, text_bits
from filmhand.sheet.marks import Furniture, draw_furniture


def furniture_of(art_px: tuple[int, int] = (800, 1000), **wishes: str) -> tuple[Furniture, Box]:
    chosen = profile(**wishes)
    layout = plan_sheet(chosen, art_px=art_px, art_ppi=None)

    def flat(box: Box, tone: float) -> np.ndarray:
        return np.random.default_rng(1).random((box.height, box.width)) < tone

    lines = ["poster.jpg", "small-sheet | 25.00 lpi", "right-reading, image side up"]
    return draw_furniture(chosen, layout, lines=lines, screen_flat=flat), layout.art


@pytest.mark.parametrize("dpi", ["300", "600 x 1200", "720"])
def test_bars_are_100_mm_to_the_pixel(dpi: str) -> None:
    furniture, _ = furniture_of(dpi=dpi)
    resolution = profile(dpi=dpi).dpi
    across = next(m for m in furniture.marks if m.box.width == round(100 / 25.4 * resolution.x))
    down = next(m for m in furniture.marks if m.box.height == round(100 / 25.4 * resolution.y))
    for bits, longest in ((across.bits, across.box.width), (down.bits.T, down.box.height)):
        inked = np.flatnonzero(bits.any(axis=0))
        assert inked[0] == 0
        assert inked[-1] == longest - 1


def test_nothing_touches_the_art_the_margin_or_another_mark() -> None:
    furniture, art = furniture_of(marks="{steps: true, register: true}")
    assert furniture.left_off == []
    assert len(furniture.marks) == 9
    for mark in furniture.marks:
        assert not mark.box.overlaps(art)
        assert mark.bits.shape == (mark.box.height, mark.box.width)
        assert mark.bits.any()
        assert mark.box.left >= 75 and mark.box.right <= 2550 - 75
        assert mark.box.top >= 75 and mark.box.bottom <= 3300 - 75
    for one, other in combinations(furniture.marks, 2):
        assert not one.box.overlaps(other.box)


def test_the_lowest_cross_stands_clear_of_the_step_wedge() -> None:
    apart_mm = []
    for dpi in ("300", "300 x 900", "900 x 300"):
        resolution = profile(dpi=dpi).dpi
        furniture, art = furniture_of(dpi=dpi, marks="{steps: true, register: true}")
        size = round(6 / 25.4 * resolution.x), round(6 / 25.4 * resolution.y)
        crosses = [m.box for m in furniture.marks if (m.box.width, m.box.height) == size]
        lowest = max(crosses, key=lambda box: box.top)
        left = 2 * resolution.x
        wedge = max((m.box for m in furniture.marks if m.box.left < left), key=lambda b: b.width)
        assert len(crosses) == 4
        assert art.bottom < lowest.top < lowest.bottom <= wedge.top - 5
        apart_mm.append((wedge.top - lowest.bottom) / resolution.y * 25.4)
    assert apart_mm == pytest.approx([apart_mm[0]] * 3, abs=0.25)


@pytest.mark.parametrize("dpi", ["150", "300", "300 x 600", "1200"])
def test_every_step_of_the_wedge_has_its_figure_below(dpi: str) -> None:
    furniture, _ = furniture_of(dpi=dpi, marks="{label: no, ruler: no, solid: no, steps: true}")
    resolution = profile(dpi=dpi).dpi
    (wedge,) = furniture.marks
    wide, high = (round(6 / 25.4 * along) for along in (resolution.x, resolution.y))
    # Less than 204 mm are left of letter inside its margin.
    steps = steps_in(33)
    assert len(steps) == 33 and wedge.bits.shape[1] == 33 * wide
    for number, tone in enumerate(steps):
        figures = wedge.bits[high:, number * wide : (number + 1) * wide]
        assert 1.5 < np.ptp(np.flatnonzero(figures.any(axis=1))) / resolution.y * 25.4 < 3
        alike = text_bits([str(tone)], wide, len(figures), len(figures), resolution)
        assert (figures == alike).all() and not figures[:, -1].any()


@pytest.mark.parametrize("dpi", ["300", "300 x 900", "900 x 300"])
def test_crosses_lie_on_the_middles_of_the_sides(dpi: str) -> None:
    furniture, art = furniture_of(dpi=dpi, marks="{label: false, ruler: false, register: true}")
    size = [round(6 / 25.4 * along) for along in (profile(dpi=dpi).dpi.x, profile(dpi=dpi).dpi.y)]
    crosses = [m.box for m in furniture.marks if [m.box.width, m.box.height] == size]
    by_row, by_column = (sorted(crosses, key=k) for k in (lambda b: b.top, lambda b: b.left))
    # The art lies in the middle unless told otherwise.
    for box in (by_row[0], by_row[-1]):
        assert box.left + box.right == pytest.approx(art.left + art.right, abs=3)
    for box in (by_column[0], by_column[-1]):
        assert box.top + box.bottom == pytest.approx(art.top + art.bottom, abs=3)


@pytest.mark.parametrize("dpi", ["300", "300 x 600", "600 x 300", "1440 x 720"])
def test_registration_marks_are_round_and_6_mm_at_any_resolution(dpi: str) -> None:
    # A circle of 0.6 of the mark, its lines 0.1 mm or at least two pixels, in millimeters.
    resolution = profile(dpi=dpi).dpi
    furniture, _ = furniture_of(dpi=dpi, marks="{label: false, ruler: false, register: true}")
    size = round(6 / 25.4 * resolution.x), round(6 / 25.4 * resolution.y)
    crosses = [mark for mark in furniture.marks if (mark.box.width, mark.box.height) == size]
    assert len(crosses) == 4
    for mark in crosses:
        assert mark.bits.shape == size[::-1]
        for bits, here in ((mark.bits, resolution.x), (mark.bits.T, resolution.y)):
            assert np.array_equal(bits, bits[:, ::-1])
            solid = np.flatnonzero(bits.all(axis=0))
            assert 2 <= len(solid) <= max(3, 0.2 / 25.4 * here)
            aside = np.flatnonzero(bits[len(bits) * 2 // 5])
            inches = (aside[-1] + 1 - aside[0]) / here
            # A chord at a tenth of the mark from the middle: 0.6 and a line's width at most.
            assert inches * 25.4 == pytest.approx(2 * 6 * (0.3**2 - 0.1**2) ** 0.5, abs=0.35)


def test_what_finds_no_room_is_named() -> None:
    furniture, art = furniture_of(art_px=(816, 1068), art="{fit: width 8 in}")
    assert art.width == 2400
    assert "the label" in furniture.left_off
    assert "the 100 mm bar across" in furniture.left_off
    assert all(not mark.box.overlaps(art) for mark in furniture.marks)


def test_marks_can_be_left_out() -> None:
    furniture, _ = furniture_of(marks=BARE)
    assert furniture.marks == []
    assert furniture.left_off == []


def test_the_patch_is_solid() -> None:
    furniture, _ = furniture_of(marks="{label: false, ruler: false}")
    (patch,) = furniture.marks
    assert patch.bits.all()
    assert patch.box.width == round(8 / 25.4 * 300)


def test_labels_are_plain_letters() -> None:
    assert plain_text("Café Zürich 😀\n.jpg") == "Café Zürich ??.jpg"
    assert plain_text("a" * 300) == "a" * 300


def test_long_lines_are_cut_to_the_room_there_is() -> None:
    font = ImageFont.load_default(20)
    for text in ("short", "a name " * 200, "?" * 1440):
        for width in (0, 100, 700):
            cut = shortened(text, font, width)
            assert cut == text or cut.endswith("...")
            assert font.getlength(cut) <= max(width, font.getlength("..."))
            if width >= 100 and cut != text:
                longer = text[: len(cut) - 2] + "..."
                assert font.getlength(longer) > width
    assert shortened("i" * 500, font, 100_000) == "i" * 500
    assert shortened("i" * 501, font, 100_000) == "i" * 500 + "..."

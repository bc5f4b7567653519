"""Label, rulers, patch, wedge and registration marks."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from PIL import ImageFont
from test_sheet_layout import BARE, profile

from filmhand.sheet.layout import Box, plan_sheet
from filmhand.sheet.marks import Furniture, _shortened, draw_furniture, plain_text


def furniture_of(art_px: tuple[int, int] = (800, 1000), **wishes: str) -> tuple[Furniture, Box]:
    chosen = profile(**wishes)
    layout = plan_sheet(chosen, art_px=art_px, art_ppi=None)

    def flat(box: Box, tone: float) -> np.ndarray:
        return np.random.default_rng(1).random((box.height, box.width)) < tone

    lines = ["poster.jpg", "small-sheet | 25.00 lpi", "printed side up"]
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
    furniture, art = furniture_of(marks="{steps: true, register: true}")
    wide = round(6 / 25.4 * 300)
    crosses = [mark.box for mark in furniture.marks if mark.box.width == mark.box.height == wide]
    lowest = max(crosses, key=lambda box: box.top)
    wedge = max(
        (mark.box for mark in furniture.marks if mark.box.left < 600), key=lambda b: b.width
    )
    assert len(crosses) == 4
    assert art.bottom < lowest.top < lowest.bottom <= wedge.top - 5


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


def test_labels_are_plain_ascii() -> None:
    assert plain_text("Café Zürich 😀\n.jpg") == "Cafe Zurich ??.jpg"
    assert plain_text("a" * 300) == "a" * 300


def test_long_lines_are_cut_to_the_room_there_is() -> None:
    font = ImageFont.load_default(20)
    for text in ("short", "a name " * 200, "?" * 1440):
        for width in (0, 100, 700):
            cut = _shortened(text, font, width)
            assert cut == text or cut.endswith("...")
            assert font.getlength(cut) <= max(width, font.getlength("..."))
            if width >= 100 and cut != text:
                longer = text[: len(cut) - 2] + "..."
                assert font.getlength(longer) > width

"""Windows on art: given sides, and the middle of a shape."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.art.crop_window import WHOLE, CropWindow, cut_sides, cut_to_shape
from filmhand.errors import Reason, Refused
from filmhand.profile.terms import Crop, Side
from filmhand.units import SheetSize

LETTER = SheetSize(21590, 27940, in_inches=True)


def test_percent_is_of_the_art_and_length_of_its_own_size():
    kept = cut_sides(
        Crop(left=Side(share=0.1), bottom=Side(mm=25.4)), inches=(2.0, 4.0), sheet=LETTER
    )
    assert kept == CropWindow(left=0.1, bottom=0.75)
    assert cut_sides(Crop(), inches=None, sheet=LETTER) == WHOLE


def test_a_length_needs_art_with_a_size_of_its_own():
    with pytest.raises(Refused) as refused:
        cut_sides(Crop(left=Side(mm=5)), inches=None, sheet=LETTER)
    assert refused.value.reason is Reason.TOO_SMALL
    assert "art: {crop: {left: 10 %}}" in refused.value.do


def test_a_crop_that_leaves_nothing_is_refused():
    with pytest.raises(Refused) as refused:
        cut_sides(Crop(left=Side(mm=30), right=Side(mm=21)), inches=(2.0, 2.0), sheet=LETTER)
    assert refused.value.reason is Reason.BLANK
    assert "2 x 2 in (50.8 x 50.8 mm) at its own size" in refused.value.say


@given(
    st.tuples(st.floats(0.1, 20), st.floats(0.1, 20)),
    st.tuples(st.floats(1, 9000), st.floats(1, 9000)),
)
def test_a_shape_is_the_largest_in_the_middle(shape, size):
    kept = cut_to_shape(shape, size)
    width, height = (kept.right - kept.left) * size[0], (kept.bottom - kept.top) * size[1]
    assert width / height == pytest.approx(shape[0] / shape[1], rel=1e-6)
    assert kept.left == pytest.approx(1 - kept.right) and kept.top == pytest.approx(1 - kept.bottom)
    assert max(width / size[0], height / size[1]) == pytest.approx(1)


@given(st.integers(1, 5000), st.integers(1, 5000), st.floats(0, 0.9), st.floats(0.05, 1))
def test_a_window_always_shows_pixels_of_the_art(width, height, first, share):
    window = CropWindow(first, first, first + (1 - first) * share, first + (1 - first) * share)
    left, top, right, bottom = window.pixels(width, height)
    assert 0 <= left < right <= width
    assert 0 <= top < bottom <= height


def test_a_window_within_a_window():
    assert CropWindow(0.5, 0, 1, 1).within(CropWindow(0.2, 0.1, 0.6, 0.9)) == CropWindow(
        0.4, 0.1, 0.6, 0.9
    )

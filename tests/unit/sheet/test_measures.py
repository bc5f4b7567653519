"""Sizes on a sheet."""

from __future__ import annotations

import pytest

from filmhand.sheet.layout import (
    Box,
    in_inches,
    in_millimeters,
    in_pixels,
    placed,
    ppi_of,
    whole_pixels,
)
from filmhand.units import Resolution


@pytest.mark.parametrize(
    ("art_px", "turned", "size", "ppi"),
    [
        ((1000, 500), 0, (3000, 1500), 100),  # 10 x 5 in
        ((1000, 505), 0, (3000, 1500), 100),  # 101 down
        ((1010, 500), 0, (3000, 1500), 100),  # 101 across
        ((505, 1000), 90, (3000, 1500), 100),
        ((500, 1010), 90, (3000, 1500), 100),
    ],
)
def test_the_coarser_direction_says_how_fine_art_is(art_px, turned, size, ppi):
    # Pixels over inches; what is told must not promise more than the eye finds along either axis.
    assert ppi_of(art_px, turned, size, Resolution(300, 300)) == pytest.approx(ppi)


def test_inches_are_of_each_direction_where_resolutions_differ():
    # 3000 and 6000 device pixels are 10 in across and 10 in down.
    assert ppi_of((1000, 1200), 0, (3000, 6000), Resolution(300, 600)) == pytest.approx(100)
    assert ppi_of((1200, 1000), 90, (3000, 6000), Resolution(300, 600)) == pytest.approx(100)


def test_across_and_down_have_their_own_resolution():
    dpi = Resolution(300, 600)
    assert in_pixels(25.4, dpi) == (300, 600)
    assert whole_pixels((2, 3), dpi) == (600, 1800)
    assert whole_pixels((0, 0), dpi) == (1, 1)
    assert in_inches(Box(7, 8, 600, 1800), dpi) == (2, 3)
    assert in_millimeters((600, 1800), dpi) == pytest.approx((50.8, 76.2))


@pytest.mark.parametrize(
    ("place", "corner"), [("top-left", (10, 20)), ("center", (35, 70)), ("bottom-right", (60, 120))]
)
def test_a_place_in_an_area(place, corner):
    assert placed(Box(10, 20, 80, 160), (30, 60), place) == Box(*corner, 30, 60)

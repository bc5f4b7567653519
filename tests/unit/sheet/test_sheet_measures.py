"""Sizes on a sheet."""

from __future__ import annotations

import pytest

from filmhand.sheet.measures import ppi_of
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

"""Cutting tone into dots: strips, threads and crops agree."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen.lattice import TileBrick, find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, ThresholdTile, build_tile
from filmhand.units import Resolution


@pytest.fixture(scope="module")
def tile():
    return build_tile(find_lattice(35, 15, Resolution(300, 300)), "ellipse")


@pytest.fixture(scope="module")
def picture():
    return np.random.default_rng(5).integers(0, FULL_TONE + 1, (300, 400)).astype(np.uint16)


def test_a_pixel_is_ink_where_the_tone_reaches_its_threshold():
    # Courses of one row, four long, each shifted by one against the row above.
    tile = ThresholdTile(np.array([[10, 20, 30, 40]], np.uint16), TileBrick(4, 1, 1))
    bits = Screener(tile, column=0, width=5).cut(np.full((3, 5), 20, np.uint16), row=0)
    assert bits.astype(int).tolist() == [[1, 1, 0, 0, 1], [0, 1, 1, 0, 0], [0, 0, 1, 1, 0]]


def test_the_phase_belongs_to_the_sheet():
    tile = ThresholdTile(np.array([[10, 20, 30, 40]], np.uint16), TileBrick(4, 1, 1))
    whole = Screener(tile, column=0, width=9).cut(np.full((6, 9), 20, np.uint16), row=0)
    part = Screener(tile, column=3, width=5).cut(np.full((4, 5), 20, np.uint16), row=2)
    assert np.array_equal(part, whole[2:6, 3:8])


@pytest.mark.parametrize("strip", [1, 7, 64, 299, 300])
def test_strips_of_any_height_join_to_the_whole(tile, picture, strip):
    screener = Screener(tile, column=12, width=400)
    whole = screener.cut(picture, row=40)
    parts = [
        screener.cut(picture[first : first + strip], row=40 + first)
        for first in range(0, 300, strip)
    ]
    assert np.array_equal(np.concatenate(parts), whole)
    assert 0.3 < whole.mean() < 0.7


@pytest.mark.parametrize("corner", [(0, 0), (1, 0), (0, 1), (113, 57), (5000, 9001)])
def test_crops_of_the_sheet_agree(tile, picture, corner):
    row, column = corner
    whole = Screener(tile, column=column, width=400).cut(picture, row=row)
    inner = Screener(tile, column=column + 31, width=200)
    part = inner.cut(np.ascontiguousarray(picture[50:150, 31:231]), row=row + 50)
    assert np.array_equal(part, whole[50:150, 31:231])


def test_a_given_array_is_written_in_place(tile, picture):
    screener = Screener(tile, column=0, width=400)
    out = np.zeros(picture.shape, np.bool_)
    assert screener.cut(picture, row=0, out=out) is out
    assert np.array_equal(out, screener.cut(picture, row=0))

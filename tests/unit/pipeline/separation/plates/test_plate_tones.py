"""Plates that art brings along, as the tones of films."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.geometry.ink_regions import InkRegions
from filmhand.pipeline.separation.geometry.ink_shapes import InkShapes
from filmhand.pipeline.separation.plates.plate_tones import PlateTones
from filmhand.units import PixelsPerInch

FULL = 65535


def half(side: int = 40) -> np.ndarray:
    """A plate that is solid in its left half."""
    plate = np.zeros((side, side), np.uint16)
    plate[:, : side // 2] = FULL
    return plate


def all_tones(source: PlateTones, height: int, step: int) -> np.ndarray:
    """All rows, asked for so many at a time."""
    parts = [source.tones(row, min(step, height - row)) for row in range(0, height, step)]
    return np.concatenate(parts, axis=1)


def test_solids_of_a_drawing_are_as_they_are() -> None:
    source = PlateTones([half(), half()[:, ::-1].copy()], (160, 160), drawn=True)
    tones = all_tones(source, 160, 50)
    assert source.screened == (False, False)
    wanted = np.repeat(np.repeat(half(), 4, axis=0), 4, axis=1)
    assert np.array_equal(tones[0], wanted) and np.array_equal(tones[1], wanted[:, ::-1])


def test_soft_edges_of_a_drawing_are_cut_and_its_tints_are_kept() -> None:
    plate = half()
    plate[:, 20] = FULL // 2  # the edge of a solid
    tint = np.zeros((40, 40), np.uint16)
    tint[10:30, 10:30] = 20_000
    source = PlateTones([plate, tint], (40, 40), drawn=True)
    tones = all_tones(source, 40, 7)
    assert source.screened == (False, True)
    assert set(np.unique(tones[0])) == {0, FULL}
    assert set(np.unique(tones[1])) == {0, 20_000} and (tones[1] > 0).sum() == 400


def test_plates_of_pictures_are_resampled() -> None:
    ramp = np.tile(np.linspace(0, FULL, 40).astype(np.uint16), (40, 1))
    source = PlateTones([ramp], (80, 80), drawn=False)
    tones = all_tones(source, 80, 33)[0]
    assert source.screened == (True,)
    assert tones.mean() == pytest.approx(ramp.mean(), rel=0.01) and len(np.unique(tones[40])) > 60


@pytest.mark.parametrize("drawn", [True, False])
def test_an_underbase_is_drawn_back_from_where_all_printing_ends(drawn) -> None:
    plate = np.zeros((60, 60), np.uint16)
    plate[20:40, 20:40] = FULL
    choke = DiscReach.of(2 * 25.4 / 100, PixelsPerInch(100, 100))  # two pixels
    source = PlateTones([plate, plate], (60, 60), drawn=drawn, underbase=0, choke=choke)
    below, above = all_tones(source, 60, 13)
    assert (above == FULL).sum() == 400
    assert (below == FULL).sum() == 16 * 16 and below[22:38, 22:38].min() == FULL


def test_strips_do_not_show() -> None:
    rng = np.random.default_rng(5)
    plate = (np.kron(rng.integers(0, 2, (12, 12)), np.ones((9, 9))) * FULL).astype(np.uint16)
    source = PlateTones([plate], (150, 150), drawn=True)
    assert np.array_equal(all_tones(source, 150, 150), all_tones(source, 150, 11))


def test_a_plate_without_tints_is_what_shapes_of_its_regions_are() -> None:
    blocks = np.random.default_rng(8).integers(0, 2, (9, 9))
    plate = (np.kron(blocks, np.ones((12, 12))) * FULL).astype(np.uint16)
    source = PlateTones([plate], (150, 150), drawn=True)
    shapes = InkShapes(InkRegions(np.stack([plate, FULL - plate]), (None,)), (150, 150))
    assert source.screened == (False,)
    assert np.array_equal(source.tones(0, 150), shapes.tones(0, 150))

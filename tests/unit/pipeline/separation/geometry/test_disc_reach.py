"""Tones that grow and shrink by device pixels."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.mesh.bitmap.disc_opening import Disc
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.units import PixelsPerInch


def test_a_distance_is_the_nearest_whole_pixels():
    reach = DiscReach.of(0.353, PixelsPerInch(600, 1200))
    assert (reach.across, reach.down) == (8, 17)


@pytest.mark.outside
@pytest.mark.parametrize(("across", "down"), [(0, 0), (1, 1), (4, 4), (9, 9), (5, 11)])
def test_growing_and_shrinking_are_those_of_another_library(across, down):
    rng = np.random.default_rng(across)
    tones = rng.choice([0, 0, 0, 20000, 65535], (40, 61)).astype(np.uint16)
    tones = np.pad(ndimage.maximum_filter(tones, 3), 20)
    disc = np.zeros((2 * down + 1, 2 * across + 1), bool)
    for row, (start, length) in zip(disc, Disc.of(2 * across + 1, 2 * down + 1).spans, strict=True):
        row[start : start + length] = True
    reach, flat = DiscReach(across, down), np.zeros(disc.shape)
    kept = np.s_[down : len(tones) - down]
    grown = ndimage.grey_dilation(tones, footprint=disc, structure=flat, mode="constant")
    shrunk = ndimage.grey_erosion(tones, footprint=disc, structure=flat, mode="constant")
    assert (reach.grown(tones) == grown[kept]).all()
    assert (reach.shrunk(tones) == shrunk[kept]).all()


def test_a_disc_reaches_as_far_every_way():
    point = np.zeros((31, 31), np.uint16)
    point[15, 15] = 1
    grown = DiscReach(10, 10).grown(np.pad(point, ((10, 10), (0, 0))))
    y, x = np.nonzero(grown)
    farthest = np.hypot(y - 15, x - 15)
    assert farthest.max() <= 10.5
    assert grown[15].sum() == grown[:, 15].sum() == 21
    assert grown.sum() == pytest.approx(np.pi * 10.5**2, rel=0.03)

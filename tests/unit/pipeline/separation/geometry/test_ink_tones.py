"""Colors of art to tones of inks that lie over each other."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

from filmhand.ink.color_table import ColorTable, grid_codes
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.geometry.ink_tones import InkTones

# Red, green and blue that lack, and their mean: linear, so the table is exact everywhere.
WEIGHTS = np.array([[1, 0, 0, 0.2], [0, 1, 0, 0.3], [0, 0, 1, 0.5]])
TABLE = ColorTable.of((1 - grid_codes(5)) @ WEIGHTS)


def picture(dtype=np.uint8, size=(17, 23)):
    rng = np.random.default_rng(2)
    return rng.integers(0, np.iinfo(dtype).max, (*size, 3), dtype, endpoint=True)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_pixels_of_the_arts_own_size_are_those_of_the_table(dtype):
    codes = picture(dtype)
    wanted = (1 - codes / np.iinfo(dtype).max) @ WEIGHTS
    tones = InkTones(codes, TABLE, (23, 17)).tones(0, 17)
    assert tones.dtype == np.uint16
    assert np.moveaxis(tones, 0, -1) / 65535 == pytest.approx(wanted, abs=1.1e-5)


def test_flats_stay_flat_at_every_size():
    codes = np.full((9, 8, 3), [10, 200, 77], np.uint8)
    tones = InkTones(codes, TABLE, (31, 50)).tones(0, 50)
    wanted = np.rint((1 - codes[0, 0] / 255) @ WEIGHTS * 65535)
    assert (tones == wanted[:, None, None]).all()


def test_a_place_never_has_more_ink_than_it_may():
    codes = picture()
    codes[:, :12], codes[:, 12:] = 0, 255
    free = InkTones(codes, TABLE, (90, 70)).tones(0, 70)
    bound = InkTones(codes, TABLE, (90, 70), total_ink=2.4).tones(0, 70)
    assert free.sum(axis=0).max() == 4 * 65535
    assert bound.sum(axis=0).max() <= 2.4 * 65535 + 4
    # All inks are drawn back alike, and what has less is as it was.
    assert (bound[:, 35, 10] == round(0.6 * 65535)).all()
    little = free.sum(axis=0) < 2.39 * 65535
    assert (bound[:, little] == free[:, little]).all()


def test_an_underbase_is_choked_where_all_printing_ends():
    codes = np.full((20, 30, 3), 255, np.uint8)
    codes[5:15, 5:15], codes[5:15, 15:25] = [0, 100, 100], [100, 0, 40]
    wide = InkTones(codes, TABLE, (300, 200)).tones(0, 200)
    choked = InkTones(codes, TABLE, (300, 200), underbase=3, choke=DiscReach(6, 6))
    tones = choked.tones(0, 200)
    assert (tones[:3] == wide[:3]).all()
    y, x = np.mgrid[-6:7, -6:7]
    inked = (wide > 655).any(axis=0)
    inside = ndimage.binary_erosion(inked, np.hypot(x, y) < 6.45)
    assert inside.sum() < inked.sum() - 1000
    assert (tones[3] == np.where(inside, wide[3], 0)).all()
    # It stays whole where two colors meet.
    assert (tones[3, 100, 70:230] > 0).all()


def test_strips_do_not_matter():
    options = {"total_ink": 2.0, "underbase": 3, "choke": DiscReach(4, 4)}
    tones = InkTones(picture(), TABLE, (40, 61), **options)
    whole = tones.tones(0, 61)
    for first in range(0, 61, 9):
        count = min(9, 61 - first)
        assert (tones.tones(first, count) == whole[:, first : first + count]).all()
    assert tones.ink_count == 4


def test_the_smoothed_edges_of_a_drawing_have_the_inks_of_its_flats_only():
    # The third ink prints what lies between black and white, the others do not.
    between = grid_codes(17).mean(axis=1)
    own = np.stack([1 - between, 1 - np.abs(2 * between - 1)], axis=1)
    codes = np.full((400, 300, 3), 255, np.uint8)
    y, x = np.mgrid[:400, :300]
    codes[:] = np.clip(127.5 + 200 * (np.hypot(y - 201, x - 150) - 120.3), 0, 255)[..., None]
    usual, drawn = (
        InkTones(codes, ColorTable.of(own), (300, 400), drawn=drawn).tones(0, 400)
        for drawn in (False, True)
    )
    assert (usual[1] > 20_000).sum() > 100
    # What is as good as even may be of a flat as well.
    assert drawn[1].max() < 0.07 * 65535
    assert drawn[0] == pytest.approx(usual[0], abs=0.01 * 65535)


def test_the_waves_that_jpeg_leaves_in_a_drawing_have_the_inks_of_its_flats_only():
    between = grid_codes(17).mean(axis=1)
    own = np.stack([1 - between, 1 - np.abs(2 * between - 1)], axis=1)
    y, x = np.mgrid[:200, :240]
    ring = np.clip(127 + 127 * (np.abs(np.hypot(y - 101, x - 120) - 60) - 20), 0, 255)
    file = BytesIO()
    Image.fromarray(ring.astype(np.uint8)).convert("RGB").save(file, "JPEG")
    codes = np.asarray(Image.open(file))
    usual, calm = (
        InkTones(codes, ColorTable.of(own), (240, 200), drawn=drawn, lossy=True).tones(0, 200)
        for drawn in (False, True)
    )
    assert (usual[1] > 16_000).sum() > 100
    assert calm[1].max() < 8_000

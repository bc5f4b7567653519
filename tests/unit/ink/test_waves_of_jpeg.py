"""What JPEG leaves around the edges of mixed drawings."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from filmhand.ink.waves_of_jpeg import WAVES_REACH, Flats, calm_edges, common_flats

BEIGE, BLACK, BROWN, WHITE = [251, 223, 153], [0, 0, 0], [138, 115, 75], [255, 255, 255]
FULL = 65535


def drawing():
    """A black ring on beige, which is on white, and far from both a brown square."""
    y, x = np.mgrid[:720, :960]
    away = np.hypot(y - 361, x - 340)
    codes = np.full((720, 960, 3), WHITE)
    codes[away < 250] = BEIGE
    codes[(away > 100) & (away < 160)] = BLACK
    codes[500:, 750:] = BROWN
    return codes.reshape(180, 4, 240, 4, 3).mean(axis=(1, 3)).round().astype(np.uint8)


def after_jpeg(codes, quality):
    file = BytesIO()
    Image.fromarray(codes).save(file, "JPEG", quality=quality)  # with half as many colors
    return np.asarray(Image.open(file))


def planes_of(codes):
    """Beige, brown and black by their own ink, and by the distance to each what is not."""
    apart = np.stack(
        [np.abs(codes - np.array(flat, float)).max(axis=-1) for flat in (BEIGE, BROWN, BLACK)]
    )
    return (np.clip(1 - apart / 120, 0, 1) * FULL).astype(np.uint16)


def flats_of(codes):
    common = common_flats(codes)
    return Flats(common, planes_of(common[None])[:, 0])


def test_the_wide_flats_of_a_drawing_are_its_colors_the_most_common_first():
    found = common_flats(after_jpeg(drawing(), 85)).astype(int)
    assert len(found) == 4
    assert np.abs(found - [WHITE, BROWN, BEIGE, BLACK]).max() <= 3


@pytest.mark.parametrize("quality", [75, 92])
def test_edges_and_waves_have_the_inks_of_the_flats_around_only(quality):
    codes = after_jpeg(drawing(), quality)
    planes, left = planes_of(codes), np.s_[:, :180]
    waves = planes[1][left] > 0.2 * FULL
    assert waves.sum() > 300
    calm_edges(planes, codes, flats_of(codes))
    assert (planes[1][left] > 0.2 * FULL).sum() < 0.01 * waves.sum()
    assert planes[1, 150:, 200:].min() == flats_of(codes).inks[1].max()
    # No edge has moved.
    areas = planes[2][left].sum() / FULL
    assert areas == pytest.approx(np.pi * (160**2 - 100**2) / 16, rel=0.04)


def test_small_things_of_their_own_color_stay():
    codes = np.full((60, 60, 3), BEIGE, np.uint8)
    codes[30, 10:50] = [220, 20, 20]
    planes = planes_of(codes)
    before = planes.copy()
    calm_edges(planes, codes, flats_of(codes))
    assert np.array_equal(planes, before)


def test_parts_with_their_surroundings_give_what_the_whole_gives():
    codes = after_jpeg(drawing(), 80).astype(np.uint16) * 257
    flats = flats_of(after_jpeg(drawing(), 80))
    deep = Flats(flats.codes.astype(np.uint16) * 257, flats.inks)
    whole = planes_of(codes // 257)
    upper, lower = whole[:, : 70 + WAVES_REACH].copy(), whole[:, 70 - WAVES_REACH :].copy()
    calm_edges(whole, codes, deep)
    calm_edges(upper, codes[: 70 + WAVES_REACH], deep)
    calm_edges(lower, codes[70 - WAVES_REACH :], deep)
    parts = np.concatenate([upper[:, :70], lower[:, WAVES_REACH:]], axis=1)
    assert np.array_equal(parts, whole)

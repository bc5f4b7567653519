"""Tints of a few pixels are part of an ink's shape, and wide ones stay tints."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.art.raster import grown
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.flat_colors import flat_colors
from filmhand.ink.wide_places import places_of
from filmhand.pipeline.separation.geometry import small_tints
from filmhand.pipeline.separation.geometry.flat_regions import regions_of_flats
from filmhand.pipeline.separation.geometry.ink_regions import InkRegions
from filmhand.pipeline.separation.geometry.small_tints import LEAST_SIDE, without_crumbs

FULL = 65535
INKS = ((242, 194, 0), (179, 38, 30), (29, 63, 143))


def regions_with(side, tone=0.1):
    """One ink of half a sheet, with a square of a tint in it."""
    areas = np.zeros((2, 30, 40), np.uint16)
    areas[0, :, :20], areas[1, :, 20:] = FULL, FULL
    tones = np.full((30, 40), FULL, np.uint16)
    tones[5 : 5 + side, 7 : 7 + side] = round(tone * FULL)
    return InkRegions(areas, (tones,))


def test_a_wide_tint_stays_as_it_is():
    regions = regions_with(LEAST_SIDE)
    found = without_crumbs(regions)
    assert found.areas is regions.areas
    assert (found.tones[0] == regions.tones[0]).all()


def test_a_crumb_becomes_area_and_no_ink_is_lost():
    regions = regions_with(LEAST_SIDE - 1)
    before = regions.areas.copy()
    found = without_crumbs(regions)
    assert found.tones == (None,)
    crumb = np.s_[5 : 4 + LEAST_SIDE, 7 : 6 + LEAST_SIDE]
    assert (found.areas[0][crumb] == round(0.1 * FULL)).all()
    assert (found.areas.astype(int).sum(axis=0) == FULL).all()
    assert (regions.areas == before).all()


def test_a_thin_line_of_a_middle_tone_stays_a_tint():
    regions = regions_with(3, tone=0.4)
    assert (without_crumbs(regions).tones[0] == regions.tones[0]).all()


def test_a_crumb_beside_a_wide_tint_goes_alone():
    regions = regions_with(8)
    regions.tones[0][20:22, 3:5] = round(0.8 * FULL)
    found = without_crumbs(regions)
    assert (found.tones[0][20:22, 3:5] == FULL).all()
    assert (found.tones[0][5:13, 7:15] == round(0.1 * FULL)).all()


@pytest.mark.parametrize("strip_pixels", [40, 40 * 7])
def test_strips_do_not_matter(monkeypatch, strip_pixels):
    chance = np.random.default_rng(3)
    blocks = chance.choice([0.1, 0.5, 0.9, 1.0], (12, 8)).repeat(5, axis=0).repeat(5, axis=1)
    tones = np.rint(blocks * FULL).astype(np.uint16)
    tones[chance.random(tones.shape) < 0.03] = FULL
    areas = np.zeros((2, *tones.shape), np.uint16)
    areas[0] = FULL
    whole = without_crumbs(InkRegions(areas, (tones,)))
    monkeypatch.setattr(small_tints, "_STRIP_PIXELS", strip_pixels)
    parts = without_crumbs(InkRegions(areas, (tones,)))
    assert (parts.areas == whole.areas).all()
    assert (parts.tones[0] == whole.tones[0]).all()
    assert (whole.areas[0] < FULL).any()
    assert (whole.tones[0] < FULL).any()


@pytest.mark.parametrize("side", [1, 2, 3, 4, 5, 7])
def test_places_are_those_that_a_square_lies_on(side):
    mask = np.random.default_rng(side).random((24, 31)) < 0.9
    slow = np.zeros_like(mask)
    for y in range(25 - side):
        for x in range(32 - side):
            if mask[y : y + side, x : x + side].all():
                slow[y : y + side, x : x + side] = True
    assert (places_of(mask, side) == slow).all()


def test_wide_masks_and_small_arrays():
    one = np.zeros((7, 9), bool)
    one[3, 4] = True
    assert np.argwhere(grown(one, 2)).tolist() == [[y, x] for y in range(1, 6) for x in range(2, 7)]
    assert not places_of(np.ones((3, 9), bool), 4).any()


@pytest.mark.parametrize("quality", [None, 85, 50])
def test_flat_art_stays_solid_however_it_was_saved(quality):
    art = Image.new("RGB", (1600, 1600), "white")
    draw = ImageDraw.Draw(art)
    draw.ellipse((200, 200, 1400, 1400), fill=INKS[1])
    draw.ellipse((400, 400, 1200, 1200), fill=INKS[0])
    draw.rectangle((500, 750, 1500, 1550), fill=INKS[2])
    draw.polygon([(800, 850), (1200, 1480), (550, 1450)], fill="white")
    art = art.resize((800, 800), Image.Resampling.LANCZOS)
    if quality is not None:
        file = io.BytesIO()
        art.save(file, "JPEG", quality=quality)
        art = Image.open(file)
    codes = np.asarray(art)
    inks = srgb_to_lab(np.array(INKS) / 255)
    found = regions_of_flats(codes, flat_colors(codes, inks, np.array([100.0, 0, 0])))
    assert without_crumbs(found.regions).tones == (None, None, None)
    if quality == 50:
        assert any(tones is not None for tones in found.regions.tones)

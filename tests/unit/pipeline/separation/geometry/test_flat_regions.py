"""Flat art to regions, so many rows at a time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from filmhand.ink.art_pieces import art_pieces
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.flat_colors import flat_colors, share_flats
from filmhand.pipeline.separation.geometry.flat_regions import regions_of_flats
from filmhand.pipeline.separation.geometry.ink_regions import ink_regions

PALETTE = np.array([[200, 20, 30], [20, 40, 160], [255, 255, 255]], float)


@pytest.fixture
def art():
    """Disks with soft edges, a tint, and two colors that no ink comes near."""
    y, x = np.mgrid[:240, :280] / 4
    labels = np.full(x.shape, 2)
    labels[np.hypot(x - 20, y - 22) < 15] = 0
    labels[np.hypot(x - 40, y - 30) < 17] = 1
    codes = PALETTE[labels].reshape(60, 4, 70, 4, 3).mean(axis=(1, 3))
    codes[50:58, 4:24] = 0.4 * PALETTE[0] + 0.6 * PALETTE[2]
    codes[5:30, 60:62] = [30, 200, 40]
    codes[31:36, 60:62] = [240, 200, 0]
    return np.rint(codes).astype(np.uint8)


@pytest.mark.parametrize("strip_pixels", [70, 70 * 7, 70 * 25])
def test_strips_do_not_matter(art, strip_pixels):
    colors = flat_colors(art, srgb_to_lab(PALETTE[:2] / 255), srgb_to_lab(PALETTE[2] / 255))
    shares = share_flats(art, colors)
    whole = ink_regions(shares.shares)
    found = regions_of_flats(art, colors, strip_pixels=strip_pixels)
    assert (found.regions.areas == whole.areas).all()
    assert [tone is None for tone in found.regions.tones] == [tone is None for tone in whole.tones]
    assert found.regions.tones[0] is not None
    for one, other in zip(found.regions.tones, whole.tones, strict=True):
        assert one is None or (one == other).all()
    assert found.unreached_pixels == shares.unreached_pixels > 0
    assert [color.pixels for color in found.unreached] == [
        color.pixels for color in shares.unreached
    ]
    assert found.unreached[0].pixels == 50
    assert found.unreached[0].color == pytest.approx(srgb_to_lab(np.array([30, 200, 40]) / 255))


def test_wide_flats_that_are_not_looked_at_pixel_by_pixel_come_out_the_same(art):
    sides = [
        np.full((60, 90, 3), color, np.uint8) for color in (PALETTE[2], PALETTE[0], [30, 200, 40])
    ]
    art = np.concatenate([sides[0], art, sides[1], sides[2], art], axis=1)
    strip = art.shape[1] * 20
    assert sum(piece.plain for piece in art_pieces(art, 6, strip_pixels=strip)) >= 6
    covered = np.zeros(art.shape[:2], int)
    for piece in art_pieces(art, 6, strip_pixels=strip):
        covered[piece.rows, piece.columns] += 1
    assert (covered == 1).all()
    colors = flat_colors(art, srgb_to_lab(PALETTE[:2] / 255), srgb_to_lab(PALETTE[2] / 255))
    shares = share_flats(art, replace(colors, known=None))
    whole = ink_regions(shares.shares)
    found = regions_of_flats(art, colors, strip_pixels=strip)
    assert (found.regions.areas == whole.areas).all()
    for one, other in zip(found.regions.tones, whole.tones, strict=True):
        assert (one is None) == (other is None)
        assert one is None or (one == other).all()
    assert found.unreached_pixels == shares.unreached_pixels > 90 * 60

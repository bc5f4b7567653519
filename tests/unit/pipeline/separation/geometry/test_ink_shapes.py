"""Regions of inks at device resolution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.geometry.ink_regions import ink_regions
from filmhand.pipeline.separation.geometry.ink_shapes import InkShapes, Trap
from filmhand.tone import FULL

FINE = 8


def soft(labels, inks):
    """(H, W, inks + 1) shares of a drawing of whole parts of FINE by FINE to a pixel."""
    height, width = (side // FINE for side in labels.shape)
    parts = np.eye(inks + 1)[labels].reshape(height, FINE, width, FINE, -1)
    return parts.mean(axis=(1, 3)).astype(np.float32)


def pie(size, parts, inks):
    """A disk in sectors of the inks in turn, on the cloth."""
    side = FINE * size
    y, x = (np.mgrid[:side, :side] + 0.5) / side - 0.5
    sector = np.floor((np.arctan2(y, x + 0.003) + np.pi + 0.2) / (2 * np.pi) * parts).astype(int)
    return np.where(np.hypot(x, y) < 0.42, sector % inks, inks)


def shapes(labels, to, inks=3, **options):
    return InkShapes(ink_regions(soft(labels, inks)), to, **options)


@pytest.mark.parametrize("to", [(231, 187), (60, 60), (41, 37)])
def test_each_pixel_of_flats_is_in_one_ink_only(to):
    tones = shapes(pie(60, 6, 3), to).tones(0, to[1])
    assert set(np.unique(tones)) <= {0, FULL}
    assert np.count_nonzero(tones, axis=0).max() == 1
    # Inside the disk no cloth shows between the inks.
    y, x = (np.mgrid[: to[1], : to[0]] + 0.5) / np.array(to[::-1])[:, None, None] - 0.5
    assert tones[:, np.hypot(x, y) < 0.39].any(axis=0).all()


def test_areas_at_device_resolution_are_those_of_the_drawing():
    labels = pie(60, 6, 3)
    tones = shapes(labels, (480, 480)).tones(0, 480)
    for k in range(3):
        wanted = labels == k
        assert (tones[k] > 0).mean() == pytest.approx(wanted.mean(), rel=0.004)
        # Edges lie where they were drawn, to a fifteenth of a pixel of the art in the mean.
        edge = wanted & ~ndimage.binary_erosion(wanted)
        assert ((tones[k] > 0) != wanted).sum() < 0.55 * edge.sum()


@pytest.mark.parametrize("times", [1, 2, 3, 8])
def test_squares_of_whole_pixels_are_exact(times):
    labels = np.full((12, 15), 2)
    labels[3:9, 2:7], labels[3:9, 7:13] = 0, 1
    shares = np.eye(3, dtype=np.float32)[labels]
    tones = InkShapes(ink_regions(shares), (15 * times, 12 * times)).tones(0, 12 * times)
    whole = labels.repeat(times, axis=0).repeat(times, axis=1)
    for k in range(2):
        assert ((tones[k] > 0) == (whole == k)).all()


def test_ties_go_to_the_first_in_print_order():
    shares = np.full((6, 6, 3), [0.5, 0.5, 0], np.float32)
    found = InkShapes(ink_regions(shares), (6, 6))
    assert not found.owners(0, 6).any()


def test_tints_keep_their_tone_up_to_their_edge():
    shares = np.zeros((20, 24, 3), np.float32)
    shares[..., 2] = 1
    shares[4:16, 4:12] = [0.3, 0, 0.7]
    shares[4:16, 12:20] = [0, 1, 0]
    tones = InkShapes(ink_regions(shares), (96, 80)).tones(0, 80)
    assert set(np.unique(tones[0])) == {0, round(np.float32(0.3) * FULL)}
    assert set(np.unique(tones[1])) == {0, FULL}
    assert (tones[0][40, 16:48] > 0).all()
    assert (tones[1][40, 48:80] > 0).all()


def test_a_gradient_stays_one():
    shares = np.zeros((8, 64, 2), np.float32)
    shares[..., 0] = np.linspace(1, 0.2, 64)
    shares[..., 1] = 1 - shares[..., 0]
    tones = InkShapes(ink_regions(shares), (256, 32)).tones(0, 32)[0, 16].astype(int)
    assert (np.diff(tones) <= 0).all()
    at = (np.arange(64) * 4 + 1.5).astype(int)
    assert np.abs(tones[at] / FULL - shares[4, :, 0]).max() < 0.01


def test_a_trap_goes_under_the_solid_beside_it_and_nowhere_else():
    labels, reach = pie(60, 6, 3), DiscReach(7, 7)
    plain = shapes(labels, (300, 300)).tones(0, 300) > 0
    found = shapes(labels, (300, 300), traps=[Trap(0, 1)], reach=reach).tones(0, 300) > 0
    y, x = np.mgrid[-7:8, -7:8]
    disc = np.hypot(x, y) < 7.45
    grown = ndimage.binary_dilation(plain[0], disc) & plain[1]
    assert grown.any()
    assert (found[0] == (plain[0] | grown)).all()
    assert (found[1:] == plain[1:]).all()


def test_a_straight_trap_is_as_wide_as_asked():
    labels = np.zeros((80, 160), int)
    labels[:, 80:] = 1
    found = shapes(labels, (100, 50), inks=2, traps=[Trap(1, 0)], reach=DiscReach(6, 6))
    tones = found.tones(0, 50) > 0
    assert (tones[1].sum(axis=1) == 56).all()
    assert (tones[0].sum(axis=1) == 50).all()


def test_a_tint_is_trapped_as_a_tint_and_never_under_one():
    shares = np.zeros((20, 30, 4), np.float32)
    shares[:, :10, 0], shares[:, :10, 3] = 0.3, 0.7
    shares[:, 10:20, 1] = 1
    shares[:, 20:, 2], shares[:, 20:, 3] = 0.4, 0.6
    tint = round(np.float32(0.3) * FULL)
    traps = [Trap(0, 1), Trap(1, 2)]
    found = InkShapes(ink_regions(shares), (120, 80), traps=traps, reach=DiscReach(5, 5))
    tones = found.tones(0, 80)
    assert (tones[0, :, :45] == tint).all()
    assert not tones[0, :, 45:].any()
    assert (np.count_nonzero(tones[1], axis=1) == 40).all()


def test_an_underbase_is_choked_all_around():
    labels, choke = pie(60, 6, 3), DiscReach(5, 5)
    found = shapes(labels, (300, 300))
    inked = (found.tones(0, 300) > 0)[:2].any(axis=0)
    base = found.underbase(0, 300, choke, inks=(0, 1))
    y, x = np.mgrid[-5:6, -5:6]
    assert set(np.unique(base)) == {0, FULL}
    assert ((base > 0) == ndimage.binary_erosion(inked, np.hypot(x, y) < 5.45)).all()


def test_an_underbase_is_not_choked_between_a_solid_and_a_tint():
    shares = np.zeros((20, 24, 3), np.float32)
    shares[..., 2] = 1
    shares[:, 4:12] = [0.3, 0, 0.7]
    shares[:, 12:20] = [0, 1, 0]
    tint = round(np.float32(0.3) * FULL)
    found = InkShapes(ink_regions(shares), (96, 80))
    base = found.underbase(40, 1, DiscReach(3, 3), inks=(0, 1))[0]
    assert base.tolist() == [0] * 19 + [tint] * 29 + [FULL] * 29 + [0] * 19
    # Of one of the inks only, the other's area is an edge.
    base = found.underbase(40, 1, DiscReach(3, 3), inks=(1,))[0]
    assert base.tolist() == [0] * 51 + [FULL] * 26 + [0] * 19


def test_strips_do_not_matter():
    labels = pie(40, 6, 3)
    options = {"traps": [Trap(0, 1), Trap(1, 2), Trap(2, 0)], "reach": DiscReach(9, 9)}
    found = shapes(labels, (170, 190), **options)
    whole, base = found.tones(0, 190), found.underbase(0, 190, DiscReach(4, 4), inks=(0, 2))
    for size in (1, 7, 64):
        for first in range(0, 190, size):
            count = min(size, 190 - first)
            rows = np.s_[first : first + count]
            assert (found.tones(first, count) == whole[:, rows]).all()
            part = found.underbase(first, count, DiscReach(4, 4), inks=(0, 2))
            assert (part == base[rows]).all()

"""Soft edges of drawings that are mixed of several inks."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.soft_edges import CONTEXT, blend_soft_edges, soft_edges

BEIGE, BLACK, BROWN = [251, 223, 153], [0, 0, 0], [126, 112, 76]
FULL = 65535


def planes_of(codes):
    """Beige, brown and black each by their own ink; whatever else by one that has no part in it."""
    planes = np.zeros((4, *codes.shape[:2]), np.uint16)
    own = [(codes == color).all(axis=-1) for color in (BEIGE, BROWN, BLACK)]
    planes[:3], planes[3] = np.array(own) * FULL, ~np.any(own, axis=0) * FULL
    return planes


def smoothed(codes, side):
    """Means of squares of so many pixels, as drawing programs smooth edges."""
    height, width = (length // side for length in codes.shape[:2])
    squares = codes[: height * side, : width * side].reshape(height, side, width, side, 3)
    return np.rint(squares.mean(axis=(1, 3))).astype(np.uint8)


def disc(radius=31.3):
    y, x = np.mgrid[:80, :80]
    inside = (y - 40.2) ** 2 + (x - 39.7) ** 2 < radius**2
    return np.where(inside[..., None], BLACK, BEIGE)


def test_an_edge_has_the_inks_of_its_flats_by_the_area_of_each():
    fine = disc()
    codes = smoothed(fine, 4)
    planes = planes_of(codes)
    assert (planes[1:2] + planes[3] > 0).sum() > 40
    blend_soft_edges(planes, codes)
    assert np.array_equal(soft_edges(codes), (codes != BEIGE).any(-1) & (codes != BLACK).any(-1))
    area = (fine == BLACK).all(axis=-1).reshape(20, 4, 20, 4).mean(axis=(1, 3))
    assert planes[2] / FULL == pytest.approx(area, abs=0.01)
    assert planes[0] / FULL == pytest.approx(1 - area, abs=0.01)
    assert not planes[1].any() and not planes[3].any()


def test_an_edge_of_two_pixels_is_one_as_well():
    codes = np.array([[BEIGE] * 4 + [[200, 178, 122], [50, 45, 31]] + [BLACK] * 4] * 6, np.uint8)
    planes = planes_of(codes)
    blend_soft_edges(planes, codes)
    assert not planes[1].any() and not planes[3].any()
    assert planes[2, 3, 3:7] / FULL == pytest.approx([0, 0.2, 0.8, 1], abs=0.01)


def test_what_is_no_blend_or_is_even_stays():
    codes = np.full((12, 24, 3), BEIGE, np.uint8)
    codes[:, 5:7] = BROWN  # a stripe
    codes[:, 14:] = BLACK
    codes[:, 13] = [220, 20, 20]  # a line between
    planes = planes_of(codes)
    before = planes.copy()
    blend_soft_edges(planes, codes)
    assert np.array_equal(planes, before)


def test_parts_with_their_surroundings_give_what_the_whole_gives():
    codes = smoothed(disc(), 4).astype(np.uint16) * 257
    whole = planes_of(codes // 257)
    parts = [whole.copy() for _ in range(2)]
    blend_soft_edges(whole, codes)
    upper, lower = parts[0][:, : 9 + CONTEXT], parts[1][:, 9 - CONTEXT :]
    blend_soft_edges(upper, codes[: 9 + CONTEXT])
    blend_soft_edges(lower, codes[9 - CONTEXT :])
    assert np.array_equal(np.concatenate([upper[:, :9], lower[:, CONTEXT:]], axis=1), whole)

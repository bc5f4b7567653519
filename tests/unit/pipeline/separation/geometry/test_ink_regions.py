"""Shares of inks to regions with a tone each."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.pipeline.separation.geometry.ink_regions import REGION_REACH, ink_regions
from filmhand.tone import FULL


def regions(*inks):
    """Of (H, W) shares of each ink; the rest is cloth."""
    planes = np.array(inks, np.float32)
    shares = np.concatenate([planes, 1 - planes.sum(axis=0, keepdims=True)])
    return ink_regions(np.moveaxis(shares, 0, -1).astype(np.float32))


def columns(*values):
    return np.tile(np.array(values, float), (9, 1))


def parts(plane):
    return (plane[4] / FULL).round(3).tolist()


def test_soft_edges_of_solids_are_parts_and_no_tint():
    found = regions(columns(1, 1, 1, 0.4, 0, 0, 0), columns(0, 0, 0, 0.6, 1, 1, 1))
    assert parts(found.areas[0]) == [1, 1, 1, 0.4, 0, 0, 0]
    assert parts(found.areas[1]) == [0, 0, 0, 0.6, 1, 1, 1]
    assert not found.areas[2].any()
    assert found.tones == (None, None)


def test_a_tint_is_wholly_its_inks():
    found = regions(columns(0.4, 0.4, 0.4, 0.4, 0.4))
    assert parts(found.areas[0]) == [1] * 5
    assert parts(found.areas[1]) == [0] * 5
    assert parts(found.tones[0]) == [0.4] * 5


def test_a_tint_ends_as_sharply_as_a_solid():
    found = regions(columns(0.4, 0.4, 0.4, 0.1, 0, 0, 0))
    assert parts(found.areas[0]) == [1, 1, 1, 0.25, 0, 0, 0]
    assert parts(found.areas[1]) == [0, 0, 0, 0.75, 1, 1, 1]
    assert parts(found.tones[0]) == [0.4, 0.4, 0.4, 0.4, 1, 1, 1]


def test_between_tones_of_one_ink_shows_no_cloth():
    found = regions(columns(0.1, 0.1, 0.1, 0.6, 1, 1, 1))
    assert parts(found.areas[0]) == [1] * 7
    assert parts(found.tones[0]) == [0.1, 0.1, 0.1, 0.6, 1, 1, 1]


def test_between_a_tint_and_another_solid_shows_no_cloth():
    found = regions(columns(0.4, 0.4, 0.4, 0.2, 0, 0, 0), columns(0, 0, 0, 0.5, 1, 1, 1))
    assert parts(found.areas[0])[3] == pytest.approx(0.5, abs=1e-3)
    assert parts(found.areas[1])[3] == pytest.approx(0.5, abs=1e-3)
    assert not found.areas[2].any()
    assert parts(found.tones[0])[:4] == [0.4] * 4


def test_a_gradient_to_the_cloth_is_a_tint_all_along():
    tones = np.linspace(0.9, 0, 25)
    found = regions(np.tile(tones, (9, 1)))
    assert parts(found.areas[0]) == [1] * 24 + [0]
    assert parts(found.tones[0])[:24] == pytest.approx(tones[:24], abs=1e-3)


def test_a_thin_soft_line_is_a_solid_part_of_its_pixels():
    found = regions(columns(0, 0, 0, 0.7, 0, 0, 0))
    assert parts(found.areas[0]) == [0, 0, 0, 0.7, 0, 0, 0]
    assert found.tones == (None,)


def test_parts_of_a_pixel_add_up_to_it():
    rng = np.random.default_rng(3)
    shares = rng.dirichlet([0.3] * 4, (30, 31)).astype(np.float32)
    found = ink_regions(shares)
    assert np.abs(found.areas.astype(int).sum(axis=0) - FULL).max() <= 2


def test_rows_depend_on_few_others():
    rng = np.random.default_rng(4)
    shares = np.repeat(np.repeat(rng.dirichlet([0.2] * 3, (20, 9)), 2, axis=0), 3, axis=1)
    shares = np.where(shares > 0.9, 1, np.where(shares < 0.1, 0, shares)).astype(np.float32)
    whole = ink_regions(shares)
    part = ink_regions(shares[10 - REGION_REACH : 20 + REGION_REACH])
    kept = np.s_[REGION_REACH : 10 + REGION_REACH]
    assert (part.areas[:, kept] == whole.areas[:, 10:20]).all()
    for one, all_of_it in zip(part.tones, whole.tones, strict=True):
        assert (one[kept] == all_of_it[10:20]).all()

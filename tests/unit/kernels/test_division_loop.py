"""The loop that divides pixels among regions finds what NumPy does, and refuses what is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.kernels.loops import compiled
from filmhand.pipeline.separation.geometry import region_owners

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")
FULL = 65535


def shared(regions, height, width, seed):
    """(regions, H, W) areas: whole pixels, pixels of few regions, and some that lack a little."""
    chance = np.random.default_rng(seed)
    parts = chance.dirichlet([0.2] * regions, (height, width))
    parts[chance.random((height, width)) < 0.3] = np.eye(regions)[0]
    areas = np.floor(parts * FULL).astype(np.uint16)
    areas[..., -1] += (FULL - areas.sum(axis=-1, dtype=np.int64)).astype(np.uint16)
    return np.ascontiguousarray(np.moveaxis(areas, -1, 0))


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 17), st.integers(1, 9), st.integers(1, 12), st.integers(0, 99))
def test_pixels_are_divided_as_numpy_does(regions, height, width, seed):
    areas = shared(regions, height, width, seed)
    to = (width * 2 + 1, height * 3)
    with pytest.MonkeyPatch.context() as patch:
        found = region_owners.region_owners(areas, to)
        patch.setattr(region_owners, "compiled", lambda: None)
        plain = region_owners.region_owners(areas, to)
    assert (found._table == plain._table).all()
    assert (found.rows(0, to[1]) == plain.rows(0, to[1])).all()


def test_pixels_that_stay_are_found_as_if_all_were_asked_again(monkeypatch):
    areas = np.tile(shared(3, 6, 8, 5), (1, 3, 3))
    found = region_owners.region_owners(areas, (60, 50))
    monkeypatch.setattr(
        region_owners, "_beside", lambda mask, rows, columns: np.ones(len(rows), np.bool_)
    )
    assert (found._table == region_owners.region_owners(areas, (60, 50))._table).all()


@pytest.mark.parametrize("wrong", ["regions", "width", "rows", "out"])
def test_arrays_that_do_not_go_together_are_refused(wrong):
    place, table = np.zeros((2, 3), np.int32), np.zeros((2, 2), np.uint16)
    sizes = {"width": 3, "regions": 2, "rows": 4, "out": 4}
    sizes[wrong] += 16
    rows, columns = np.zeros(sizes["rows"], np.int32), np.zeros(4, np.int32)
    shares, out = np.zeros((4, 2), np.int32), np.zeros((sizes["out"], 2), np.int32)
    with pytest.raises(ValueError, match="do not go together"):
        compiled().divide_pixels(
            place, sizes["width"], table, sizes["regions"], 1, 1, rows, columns, shares, out
        )

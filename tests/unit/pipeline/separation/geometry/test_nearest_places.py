"""The nearest of some places, held against SciPy's exact Euclidean feature transform."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from filmhand.pipeline.separation.geometry.nearest_places import REACH, NearestPlaces


@pytest.mark.parametrize(
    ("shape", "share"), [((90, 70), 0.05), ((300, 210), 0.0002), ((40, 1), 0.1)]
)
def test_the_nearest_is_exact_within_reach_and_a_cell_beyond(shape, share):
    sources = np.random.default_rng(5).random(shape) < share
    sources[-1, 0] = True
    y, x = (side.ravel() for side in np.mgrid[: shape[0], : shape[1]])
    place = NearestPlaces(sources).of(y, x)
    assert sources.ravel()[place].all()
    found = np.hypot(place // shape[1] - y, place % shape[1] - x)
    exact = ndimage.distance_transform_edt(~sources).ravel()
    near = exact <= REACH
    assert np.allclose(found[near], exact[near])
    assert (found - exact).max() < 12  # a cell of eight from corner to corner
    assert near.all() or exact.max() > 2 * REACH

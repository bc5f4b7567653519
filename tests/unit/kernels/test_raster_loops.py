"""The loops that filter gray pictures give what NumPy gives, to the last bit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.art import raster
from filmhand.kernels.loops import compiled

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")

SHAPES = st.tuples(st.integers(1, 60), st.integers(1, 60))


@settings(max_examples=200, deadline=None)
@given(SHAPES, st.integers(0, 40), st.integers(0, 2**32 - 1), st.booleans())
def test_pictures_of_all_shapes(shape, half, seed, turned):
    field = np.random.default_rng(seed).normal(0, 1, shape).astype(np.float32)
    field = field.T if turned else field
    size = 2 * half + 1
    assert np.array_equal(raster.local_maximum(field, size), raster._local_maximum(field, size))
    assert np.array_equal(raster.smooth(field), raster._smooth(field))


def test_a_part_of_a_picture_and_doubles_are_filtered_too():
    field = np.random.default_rng(5).random((40, 50))
    part = field.astype(np.float32)[3:30:2, 5:44]
    assert np.array_equal(raster.local_maximum(part, 7), raster._local_maximum(part, 7))
    assert raster.local_maximum(field, 5).dtype == np.float64
    assert raster.smooth(field)[20, 20] == pytest.approx(raster.smooth(field.astype("f4"))[20, 20])


def test_what_a_loop_is_told_must_fit():
    rows, out = np.zeros((3, 4), np.float32), np.zeros((3, 4), np.float32)
    loops = compiled()
    for wrong in ((rows, 0, 3, out), (rows, 4, 2, out), (rows, 4, -1, out), (rows, 4, 3, out[:2])):
        with pytest.raises(ValueError, match=r"windows|buffer"):
            loops.local_maximum(*wrong)
    for wrong in ((rows, 0, out), (rows, 4, out[:2])):
        with pytest.raises(ValueError, match=r"rows|buffer"):
            loops.smooth(*wrong)

"""Numbers that are there once, against NumPy's own."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.arrays import distinct, distinct_rows


@pytest.mark.parametrize("most", [1, 40, 10**9])
def test_each_number_is_there_once(most):
    numbers = np.random.default_rng(most).integers(0, most, 300)
    assert distinct(numbers).tolist() == sorted(set(numbers.tolist()))
    assert not distinct(numbers[:0]).size
    assert distinct(numbers.reshape(30, 10)).tolist() == distinct(numbers).tolist()


@pytest.mark.parametrize("most", [1, 4, 10**9])
@pytest.mark.parametrize("count", [0, 1, 300])
def test_each_row_is_there_once(most, count):
    rows = np.random.default_rng(most).integers(-most, most, (count, 3))
    assert np.array_equal(distinct_rows(rows), np.unique(rows, axis=0))

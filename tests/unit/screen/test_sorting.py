"""Orders of whole numbers, against NumPy's own."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen.sorting import stable_order


@pytest.mark.parametrize("most", [1, 3, 1000, 2**40, 2**61])
def test_equal_keys_keep_their_order(most):
    keys = np.random.default_rng(most).integers(-most, most, 5000)
    assert np.array_equal(stable_order(keys), np.argsort(keys, kind="stable"))


@pytest.mark.parametrize("keys", [[], [5], [2**62, -(2**62), 2**62, 0]])
def test_few_keys_and_keys_that_leave_no_room(keys):
    keys = np.array(keys, np.int64)
    assert stable_order(keys).tolist() == np.argsort(keys, kind="stable").tolist()

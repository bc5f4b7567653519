"""How far a print is from its art."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.recombination import recombination


def test_the_same_is_nothing_apart():
    art = np.random.default_rng(1).random((8, 9, 3)) * 50
    found = recombination(art, art)
    assert (found.mean, found.p95) == pytest.approx((0, 0), abs=1e-6)


def test_mean_and_what_95_of_100_are_not_above():
    art = np.zeros((100, 1, 3))
    printed = art.copy()
    printed[:4, 0, 0] = 100  # four in a hundred are black for white
    few = recombination(art, printed)
    assert few.mean == pytest.approx(4)
    assert few.p95 == pytest.approx(0, abs=1e-6)
    printed[:20, 0, 0] = 100
    assert recombination(art, printed).p95 == pytest.approx(100)

"""Interpolation in a table of colors as colour-science has it."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.color_table import ColorTable

pytestmark = pytest.mark.outside


@pytest.mark.parametrize("size", [2, 9, 17])
def test_a_table_of_random_values(size, colour_science):
    rng = np.random.default_rng(size)
    values = rng.random((size, size, size, 3))
    codes = rng.random((5000, 3))
    theirs = colour_science.algebra.table_interpolation_tetrahedral(codes, values)
    assert np.abs(ColorTable(values).at(codes) - theirs).max() < 1e-12

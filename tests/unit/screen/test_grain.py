"""Scattered centers of the stochastic screen."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen.grain import find_grain, scatter
from filmhand.units import Resolution


def spacings(grain, one, other):
    """Distances between all centers of both, on the torus, in mean spacings."""
    apart = np.abs(one[:, None] - other[None])
    inches = np.minimum(apart, 1 - apart) * [
        grain.width / grain.resolution.x,
        grain.height / grain.resolution.y,
    ]
    return np.hypot(inches[..., 0], inches[..., 1]) * grain.lpi


def closest(grain, one, other):
    between = spacings(grain, one, other)
    return between[between > 0].min()


@pytest.mark.parametrize(("lpi", "dpi"), [(25, (300, 300)), (30, (600, 300))])
def test_dots_and_holes_keep_apart(lpi, dpi):
    # The best that n centers can do is the hexagonal lattice, (2 / sqrt 3) ** 0.5 = 1.07 spacings
    # apart, and 0.76 where dots and holes together are twice as many. Blue noise reaches about two
    # thirds of it (no source); at random the closest of hundreds would all but touch.
    grain = find_grain(lpi, Resolution(*dpi))
    found = []
    for seed in range(1, 6):
        dots, holes = scatter(grain, seed=seed)
        assert len(dots) == len(holes) == grain.dots
        assert spacings(grain, dots, holes).min() > 0
        found.append([closest(grain, *pair) for pair in ((dots, dots), (holes, holes))])
        found[-1].append(closest(grain, dots, holes))
    apart_dots, apart_holes, apart_both = np.mean(found, axis=0)
    assert apart_dots > 0.66 * 1.07
    assert min(apart_holes, apart_both) > 0.66 * 0.76

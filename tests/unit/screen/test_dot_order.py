"""The order in which dots appear."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.screen.growth import dot_order, dot_positions
from filmhand.screen.lattice import find_lattice
from filmhand.units import Resolution


def nearest_distances(points):
    """Distance of each point to the nearest other, on the unit torus."""
    apart = np.abs(points[:, None] - points[None])
    apart = np.minimum(apart, 1 - apart)
    distance = np.hypot(apart[..., 0], apart[..., 1])
    np.fill_diagonal(distance, np.inf)
    return distance.min(axis=1)


@pytest.fixture(scope="module")
def lattice():
    return find_lattice(45, 22.5, Resolution(300, 300))


def test_every_dot_has_a_place_of_its_own(lattice):
    place = dot_order(dot_positions(lattice), seed=1)
    ranks = np.sort(place * lattice.dots - 0.5)
    assert ranks == pytest.approx(np.arange(lattice.dots))


def test_every_dot_lies_somewhere_else(lattice):
    positions = dot_positions(lattice)
    assert positions.shape == (lattice.dots, 2)
    # A square lattice: every dot has its nearest neighbor one cell away.
    assert nearest_distances(positions) == pytest.approx(lattice.dots**-0.5, rel=0.01)


@pytest.mark.parametrize("share", [0.02, 0.05, 0.1, 0.25])
def test_any_first_part_is_spread_evenly(lattice, share):
    positions, place = dot_positions(lattice), dot_order(dot_positions(lattice), seed=1)
    first = nearest_distances(positions[place < share])
    generator = np.random.default_rng(0)
    count = first.size
    picked = [
        nearest_distances(positions[generator.permutation(lattice.dots)[:count]]) for _ in range(20)
    ]
    # Even at random the nearest pair is close and the distances scatter; here neither.
    assert first.min() > 1.5 * np.median([p.min() for p in picked])
    assert first.mean() > 1.2 * np.mean([p.mean() for p in picked])
    assert first.std() / first.mean() < 0.6 * np.mean([p.std() / p.mean() for p in picked])


def test_the_seed_decides(lattice):
    assert np.array_equal(
        dot_order(dot_positions(lattice), seed=3), dot_order(dot_positions(lattice), seed=3)
    )
    assert not np.array_equal(
        dot_order(dot_positions(lattice), seed=3), dot_order(dot_positions(lattice), seed=4)
    )

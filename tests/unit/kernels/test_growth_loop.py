"""The compiled way to the pixels of a tile gives what NumPy's gives, bit for bit."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.kernels.loops import compiled
from filmhand.screen import growth
from filmhand.screen.lattice import TileBrick, find_lattice
from filmhand.screen.tile import build_tile
from filmhand.units import Resolution

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops are not compiled here")
# One course and several, with a shift and without, and a single pixel beside itself.
WALLS = [(61, 1, 11), (7, 5, 0), (6, 6, 5), (40, 2, 17), (2, 1, 1), (1, 1, 0)]


def plainly(monkeypatch, call):
    with monkeypatch.context() as patch:
        patch.setattr(growth, "compiled", lambda: None)
        return call()


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("wall", WALLS, ids=str)
def test_levels_of_any_values_and_owners(monkeypatch, wall, seed):
    random, brick = np.random.default_rng(seed), TileBrick(*wall)
    count = brick.length * brick.height
    members = random.permutation(count)[: max(1, count * 3 // 4)]
    center = random.integers(0, 1 + seed, members.size)
    # Values that are often equal, or one step apart.
    value = np.round(random.integers(-4, 4, members.size) * 10.0 ** -random.integers(1, 10), 9)

    def lowered():
        return growth._in_one_piece(brick, members, center, value)

    assert lowered().tobytes() == plainly(monkeypatch, lowered).tobytes()


@pytest.mark.parametrize("dot", ["line", "ellipse", "square"])
def test_whole_tiles(monkeypatch, dot):
    lattice = find_lattice(35, 22.5, Resolution(400, 300))

    def tile():
        return build_tile(lattice, dot, smallest_dot=9, smallest_shadow_dot=11).thresholds

    assert np.array_equal(tile(), plainly(monkeypatch, tile))


@pytest.mark.parametrize("wall", [(0, 1, 0), (4, 0, 0), (4, 1, 4), (4, 1, -1), (2**30, 2, 0)])
def test_what_is_no_wall_is_not_walked_through(wall):
    four = np.zeros(4)
    with pytest.raises(ValueError, match="no such brick"):
        compiled().reach_pixels(*wall, four.astype(np.int32), four, 1e-9, four, four < 0)


@pytest.mark.parametrize("short", range(4))
def test_arrays_of_another_size_are_not_taken(short):
    arrays = [np.zeros(6, np.int32), np.zeros(6), np.zeros(6), np.zeros(6, np.bool_)]
    arrays[short] = arrays[short][:5].copy()
    owner, value, reached, waits = arrays
    with pytest.raises(ValueError, match="bytes"):
        compiled().reach_pixels(3, 2, 1, owner, value, 1e-9, reached, waits)

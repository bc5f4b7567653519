from __future__ import annotations

import numpy as np
import pytest

from filmhand.kernels.loops import compiled
from filmhand.mesh.bitmap import packed_morphology
from filmhand.mesh.bitmap.packed_morphology import PackedMorphology, octagon

ROWS, CELLS, BORDER = 96, 192, 40


def packed(bits):
    return np.packbits(bits, axis=1, bitorder="little").view(np.uint64).ravel().copy()


def unpacked(grid):
    rows = grid.view(np.uint8).reshape(ROWS, CELLS // 8)
    return np.unpackbits(rows, axis=1, bitorder="little").astype(bool)


def grown(bits, across, down):
    return unpacked(
        PackedMorphology(ROWS * CELLS // 64).grow(packed(bits), octagon(CELLS, across, down))
    )


def shrunk(bits, across, down):
    return unpacked(
        PackedMorphology(ROWS * CELLS // 64).shrink(packed(bits), octagon(CELLS, across, down))
    )


def one_cell():
    bits = np.zeros((ROWS, CELLS), bool)
    bits[ROWS // 2, CELLS // 2] = True
    return bits


@pytest.mark.parametrize(("across", "down"), [(0, 0), (1, 1), (2, 3), (5, 5), (9, 12), (31, 30)])
def test_a_cell_becomes_as_wide_and_high_as_asked(across, down):
    shape = grown(one_cell(), across, down)
    assert np.flatnonzero(shape.any(axis=0)).size == across + 1
    assert np.flatnonzero(shape.any(axis=1)).size == down + 1
    middle = np.argwhere(shape).mean(axis=0)
    assert middle == pytest.approx([ROWS / 2, CELLS / 2], abs=1)


@pytest.mark.parametrize("size", range(1, 40, 3))
def test_an_octagon_has_no_holes_and_nearly_the_area_of_a_disc(size):
    shape = grown(one_cell(), size, size)
    for row in shape[shape.any(axis=1)]:
        filled = np.flatnonzero(row)
        assert filled.size == filled[-1] - filled[0] + 1
    # A regular octagon has 2 (sqrt 2 - 1) w^2; a disc pi / 4 w^2, 5 % less. Small ones are squarer.
    if size > 10:
        assert shape.sum() == pytest.approx(2 * (2**0.5 - 1) * (size + 1) ** 2, rel=0.06)


def test_growing_is_the_union_of_the_shape_moved_and_shrinking_its_counterpart():
    rng = np.random.default_rng(3)
    bits = np.zeros((ROWS, CELLS), bool)
    bits[BORDER:-BORDER, BORDER:-BORDER] = (
        rng.random((ROWS - 2 * BORDER, CELLS - 2 * BORDER)) < 0.02
    )
    shape = np.argwhere(grown(one_cell(), 7, 10)) - [ROWS // 2, CELLS // 2]
    union = np.zeros_like(bits)
    for down, across in shape:
        union |= np.roll(bits, (down, across), (0, 1))
    assert (grown(bits, 7, 10) == union).all()
    meeting = np.ones_like(bits)
    for down, across in shape:
        meeting &= np.roll(union, (-down, -across), (0, 1))
    # Closing: the shape is kept, and what it shuts in is filled.
    assert (shrunk(union, 7, 10) == meeting).all()
    assert (meeting | bits == meeting).all()


@pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")
@pytest.mark.parametrize("size", [1, 2, 9, 1200])
def test_the_loop_in_c_does_as_numpy_does_also_at_both_ends(size, monkeypatch):
    chance = np.random.default_rng(size)
    every = np.arange(1, 64 * size)
    steps = chance.permutation(np.concatenate([every, -every, [0]]))[:150]
    for meets, share in ((False, 0.01), (True, 0.99)):
        for step in [(int(one),) for one in steps] + [(1, -3, 64 * size // 2), ()]:
            bits = chance.random(64 * size) < share
            bits[[0, -1]] = not meets  # what would come in where nothing does
            given = np.packbits(bits, bitorder="little").view(np.uint64)
            found = PackedMorphology(size)._swept(given.copy(), step, meets=meets)
            with monkeypatch.context() as plain:
                plain.setattr(packed_morphology, "compiled", lambda: None)
                wanted = PackedMorphology(size)._swept(given.copy(), step, meets=meets)
            assert np.array_equal(found, wanted)


@pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")
def test_what_the_loop_in_c_is_told_must_fit():
    grid, steps = np.ones(2, np.uint64), np.array([1], np.int64)
    compiled().join_moved(grid, steps, False)
    assert grid.tolist() == [3, 3]
    for wrong in (steps * 128, steps * -128):
        with pytest.raises(ValueError, match="step"):
            compiled().join_moved(grid, wrong, False)

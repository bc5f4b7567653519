"""The loop that opens with discs gives what NumPy gives, and refuses what is no disc."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.kernels.loops import compiled
from filmhand.mesh.bitmap.disc_opening import Disc, RowWindow

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")


def window(words, row, disc):
    core = (slice(0, len(words) // row), slice(0, row))
    return RowWindow(words, np.full_like(words, 2**64 - 1), row, core, disc, 1, 0)


@settings(max_examples=150, deadline=None)
@given(
    st.integers(1, 90),
    st.integers(1, 30),
    st.integers(2, 4),
    st.floats(0.5, 1),
    st.integers(0, 2**32 - 1),
)
def test_shapes_of_all_kinds(across, down, row, share, seed):
    chance = np.random.default_rng(seed)
    bits = chance.random((40, 64 * row)) < share
    bits[5:36, 3:150] |= chance.random() < 0.7
    words = np.packbits(bits).view(">u8").astype(np.uint64)
    seen = window(words, row, Disc.of(across, down))
    assert np.array_equal(seen._opened(), seen._opened_by_numpy())


def test_a_disc_must_be_one_and_fit_into_the_shape():
    shape, swept = np.full(8, 2**64 - 1, np.uint64), np.empty(8, np.uint64)
    lengths, rows = np.array([1, 3], np.int32), np.array([[1, 0], [0, 1], [1, 0]], np.int32)
    loops = compiled()
    loops.disc_opening(shape, 2, lengths, rows, swept)
    assert (swept[1:-2] == 2**64 - 1).all()
    beyond = np.array([1, 64 * 8], np.int32)
    for wrong in (
        (shape, 2, lengths, rows, swept[:7]),
        (shape, 0, lengths, rows, swept),
        (shape, 3, lengths, rows, swept),
        (shape, 2, lengths[::-1].copy(), rows, swept),
        (shape, 2, beyond, rows, swept),
        (shape, 2, lengths, rows + 1, swept),
        (shape, 2, lengths, -rows, swept),
    ):
        with pytest.raises(ValueError, match=r"disc|buffer"):
            loops.disc_opening(*wrong)


@settings(max_examples=150, deadline=None)
@given(
    st.integers(1, 4),
    st.integers(3, 30),
    st.floats(0.3, 1),
    st.integers(0, 9),
    st.sampled_from((0, 0, 3, 10**6)),
    st.integers(0, 2**32 - 1),
)
def test_pixels_spread_within_shapes_of_all_kinds(row, height, share, steps, enough, seed):
    chance = np.random.default_rng(seed)
    bits = chance.random((2, height, 64 * row)) < [[[share]], [[0.02]]]
    shape, kept = (np.packbits(one).view(">u8").astype(np.uint64) for one in bits)
    kept &= shape
    first, stop = sorted(chance.integers(0, row + 1, 2))
    core = (slice(1, height - 1), slice(int(first), int(stop)))
    seen = RowWindow(shape, shape, row, core, Disc.of(1, 1), steps, 0)
    counted = seen._part(shape)
    by_numpy = seen._forgiven_by_numpy(kept.copy(), counted, enough)
    assert np.array_equal(seen._forgiven(kept.copy(), counted, enough), by_numpy)


def test_pixels_spread_in_a_picture_and_a_part_of_it():
    words, counted = np.zeros(8, np.uint64), np.zeros(2, np.uint64)
    loops = compiled()
    part = (1, 3, 0, 1)
    words[2] = 1
    loops.spread_within(words, np.full(8, 2**64 - 1, np.uint64), 2, part, counted + 1, 1, 0)
    assert list(words) == [1, 0, 3, 2**63, 1, 0, 0, 0]
    for wrong in (
        (words, words[:7].copy(), 2, part, counted, 1, 0),
        (words, words.copy(), 0, part, counted, 1, 0),
        (words, words.copy(), 3, part, counted, 1, 0),
        (words, words.copy(), 8, (0, 1, 0, 1), counted, 1, 0),
        (words, words.copy(), 2, (1, 5, 0, 1), counted, 1, 0),
        (words, words.copy(), 2, (1, 3, 0, 3), counted, 1, 0),
        (words, words.copy(), 2, part, counted[:1].copy(), 1, 0),
    ):
        with pytest.raises(ValueError, match=r"part|buffer"):
            loops.spread_within(*wrong)

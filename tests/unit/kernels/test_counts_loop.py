"""The loops that count codes, flat blocks and numbers count what NumPy counts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.art.analysis import auto_levels, exact_flats
from filmhand.film.bits import box_sums, ink_in_boxes
from filmhand.kernels.loops import compiled

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")

SHAPES = st.tuples(st.integers(1, 90), st.integers(1, 90))


def codes(shape, seed, kinds=65536):
    """Codes of so many kinds, most of them in flat parts."""
    rng = np.random.default_rng(seed)
    small = rng.integers(0, kinds, (shape[0] // 7 + 1, shape[1] // 7 + 1)) * (65535 // (kinds - 1))
    coded = np.kron(small, np.ones((7, 7), int))[: shape[0], : shape[1]].astype(np.uint16)
    grainy = rng.random(shape) < 0.02
    coded[grainy] += 1
    return np.ascontiguousarray(coded)


@settings(max_examples=100, deadline=None)
@given(SHAPES, st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_codes_of_every_so_many_th_row_and_column(shape, step, seed):
    coded = codes(shape, seed)
    by_loop = auto_levels.code_counts(coded, step)
    assert np.array_equal(by_loop, auto_levels._code_counts(coded, step))
    assert by_loop.sum() == coded[::step, ::step].size
    assert np.array_equal(auto_levels.code_counts(coded.T, step), by_loop)


@settings(max_examples=100, deadline=None)
@given(SHAPES, st.integers(0, 2**32 - 1))
def test_flat_blocks_of_pictures_of_all_shapes(shape, seed):
    coded = codes(shape, seed, kinds=9)
    counts, total = exact_flats.flat_codes(coded)
    turned = np.asfortranarray(coded)  # which the loop does not take
    wanted, wanted_total = exact_flats.flat_codes(turned)
    assert np.array_equal(counts, wanted)
    assert total == wanted_total
    if min(shape) >= 40:  # smaller ones may be grainy everywhere
        assert counts.sum()


def test_blocks_of_a_wide_picture_are_sampled():
    coded = codes((12, 9000), 3, kinds=9)
    assert exact_flats.flat_codes(coded)[1] == exact_flats.flat_codes(np.asfortranarray(coded))[1]
    counts = exact_flats.flat_codes(coded)[0]
    assert np.array_equal(counts, exact_flats.flat_codes(np.asfortranarray(coded))[0])


@settings(max_examples=150, deadline=None)
@given(
    st.integers(1, 140), st.integers(1, 40), st.integers(0, 7), st.floats(0, 1), st.integers(0, 99)
)
def test_ink_in_boxes_of_all_sizes(across, down, skip, chance, seed):
    rng = np.random.default_rng(seed)
    columns, rest = int(rng.integers(1, 9)), int(rng.integers(0, 20))
    bits = rng.random((down * 3 + 1, skip + columns * across + rest)) < chance
    sums = ink_in_boxes(
        np.packbits(bits, axis=1), skip=skip, columns=columns, across=across, down=down
    )
    within = bits[:, skip : skip + columns * across]
    assert np.array_equal(sums, box_sums(within, across=across, down=down))


def test_boxes_that_are_solid_ink():
    rows = np.full((256, 10), 255, np.uint8)
    sums = ink_in_boxes(rows, skip=0, columns=1, across=80, down=256)
    assert sums.tolist() == [[80 * 256]]


def test_boxes_must_lie_in_their_rows():
    rows = np.zeros((4, 3), np.uint8)
    for skip, columns, across in ((1, 2, 12), (8, 1, 1), (-1, 1, 1), (0, 1, 25)):
        sums = np.empty((4, columns), np.uint32)
        with pytest.raises(ValueError, match="no such boxes"):
            compiled().count_ink(rows, 3, skip, across, 1, columns, sums)
    with pytest.raises(ValueError, match="bytes"):
        compiled().count_ink(rows, 3, 0, 24, 1, 1, np.empty((3, 1), np.uint32))


FLOATS = st.floats(width=32, allow_nan=False).map(lambda one: one + 0.0)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(FLOATS, min_size=1, max_size=60),
    st.lists(st.floats(0, 1, exclude_max=True), max_size=5),
    st.integers(1, 40),
)
def test_numbers_by_their_rank(numbers, shares, times):
    values = np.repeat(np.array(numbers, np.float32), times)
    places = np.sort(np.array([int(share * values.size) for share in shares], np.int64))
    found = np.empty(len(places), np.float32)
    compiled().pick_floats(values, places, found)
    assert np.array_equal(found, np.sort(values)[places])


def test_numbers_by_their_rank_must_be_there():
    values, found = np.ones(6, np.float32), np.empty(2, np.float32)
    compiled().pick_floats(values, np.array([0, 5]), found)
    for wrong in ([0, 6], [-1, 3], [3, 2], [0, 1, 2], [1]):
        with pytest.raises(ValueError, match="places"):
            compiled().pick_floats(values, np.array(wrong), found)


def test_what_a_loop_is_told_must_fit():
    loops, coded = compiled(), np.zeros((6, 8), np.uint16)
    counts, few = np.zeros(65536, np.int64), np.zeros(256, np.int64)
    for wrong in ((coded, 0, 1, counts), (coded, 8, 0, counts), (coded, 7, 1, counts)):
        with pytest.raises(ValueError, match="rows"):
            loops.count_codes(*wrong)
    tops = np.array([0, 2])
    for wrong in (
        (coded, 3, tops, 1, few),
        (coded, 8, tops + 1, 1, few),
        (coded, 8, tops - 1, 1, few),
        (coded, 8, tops, 0, few),
    ):
        with pytest.raises(ValueError, match="bands"):
            loops.count_flats(*wrong)

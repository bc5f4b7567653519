"""The loops over blocks of codes, and over strokes on paper, give what NumPy gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.art.analysis import line_work
from filmhand.art.analysis.paper_estimate import reduced_light
from filmhand.art.files.gray import light_of_codes
from filmhand.art.repair import stroke_depth
from filmhand.kernels.loops import compiled
from filmhand.pipeline.render import seen_small

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")


def codes(shape, seed=0):
    return np.random.default_rng(seed).integers(0, 65536, shape, np.uint16)


@pytest.mark.parametrize("factor", [*range(1, 20), 31, 64, 127, 128, 129])
def test_light_of_blocks_of_all_sizes(without_loops, factor):
    coded = codes((3 * factor + 1, 5 * factor + factor // 2), factor)
    by_loop = reduced_light(coded, factor), reduced_light(coded, factor, negative=True)
    without_loops()
    assert np.array_equal(by_loop[0], reduced_light(coded, factor))
    assert np.array_equal(by_loop[1], reduced_light(~coded, factor))


def test_art_that_is_no_block_has_no_light():
    assert reduced_light(codes((3, 40)), 4).shape == (0, 10)


@settings(max_examples=100, deadline=None)
@given(
    st.tuples(st.integers(1, 60), st.integers(1, 60)),
    st.tuples(st.integers(1, 12), st.integers(1, 12)),
    st.integers(0, 2**32 - 1),
)
def test_counts_of_blocks_of_all_sizes(shape, size, seed):
    kind = np.random.default_rng(seed).choice([0, 1, 256], 65536).astype(np.uint16)
    coded = codes(shape, seed)
    whole = coded[:, : shape[1] // size[1] * size[1]]
    by_loop = (
        line_work.block_counts(coded, kind, size=size)
        if size[1] <= shape[1]
        else np.zeros((shape[0] // size[0], 0), np.uint16)
    )
    assert np.array_equal(by_loop, line_work._block_counts(whole, kind, size))


@settings(max_examples=100, deadline=None)
@given(
    st.tuples(st.integers(1, 20), st.integers(1, 40)), st.integers(1, 9), st.integers(0, 2**32 - 1)
)
def test_depths_below_paper(shape, known, seed):
    rng = np.random.default_rng(seed)
    inverse = rng.uniform(1, 9, (known, shape[1])).astype(np.float32)
    below = rng.integers(0, known, shape[0], np.int32)
    part = rng.random(shape[0], np.float32)
    given_ = codes(shape, seed), inverse, below, part
    by_loop = stroke_depth._depth_below(*given_)
    assert np.array_equal(by_loop, stroke_depth._depth_by_rows(*given_))


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 9), st.integers(1, 12), st.integers(1, 60), st.integers(0, 2**32 - 1))
def test_rows_between_their_columns(height, known, width, seed):
    rng = np.random.default_rng(seed)
    rows = rng.uniform(1, 9, (height, known)).astype(np.float32)
    places = np.sort(rng.uniform(-1, known, width))
    places[rng.random(width) < 0.2] //= 1
    by_loop = stroke_depth._stretched_rows(rows, places)
    assert np.array_equal(by_loop, stroke_depth._rows_between(rows, places))


@settings(max_examples=50, deadline=None)
@given(
    st.tuples(st.integers(1, 50), st.integers(1, 50)),
    st.sampled_from([0.3, 0.5, 1.0, 1.37, 4.0]),
    st.integers(0, 2**32 - 1),
)
def test_codes_on_clear_film(shape, gain, seed):
    paper = np.random.default_rng(seed).uniform(-1e-4, 1, shape).astype(np.float32)
    given_ = codes(shape, seed), paper, gain
    assert np.array_equal(seen_small._bare_codes(*given_), seen_small._codes_by_paper(*given_))


def test_what_a_loop_is_told_must_fit():
    loops, coded, light = compiled(), codes((6, 8)), light_of_codes()
    kind, small = np.zeros(65536, np.uint16), np.empty((3, 4), np.float32)
    for wrong in (
        (coded, 8, light, 2, 2, 5, small),
        (coded, 8, light, 2, 2, 4, small[:2]),
        (coded, 8, light, 2, 1, 4, small),
        (coded, 7, light, 2, 2, 3, small),
        (coded, 8, light[:-1], 2, 2, 4, small),
        (coded, 8, kind, 2, 2, 4, small),
        (coded, 8, kind, 0, 2, 4, small),
        (coded, 8, light, 129, 129, 1, small[:0]),
    ):
        with pytest.raises(ValueError, match="blocks"):
            loops.sum_blocks(*wrong)
    inverse, out = np.ones((2, 8), np.float32), np.empty((6, 8), np.float32)
    below, part = np.zeros(6, np.int32), np.zeros(6, np.float32)
    for wrong in (
        (coded, 8, light, inverse, below + 2, part, out),
        (coded, 8, light, inverse, below - 1, part, out),
        (coded, 8, light, inverse, below[:5], part, out),
        (coded, 8, light, inverse[:, :7].copy(), below, part, out),
        (coded, 0, light, inverse, below, part, out),
    ):
        with pytest.raises(ValueError, match="go together"):
            loops.depth_below(*wrong)
    paper, coded_light = np.ones((6, 8), np.float32), np.zeros(65536, np.uint16)
    loops.bare_codes(coded, light, paper, 1.0, coded_light, coded.copy())
    for wrong in (
        (coded, light, paper[:5], 1.0, coded_light, coded.copy()),
        (coded, light, paper, 1.0, coded_light, coded[:5].copy()),
        (coded, light[1:], paper, 1.0, coded_light, coded.copy()),
        (coded, light, paper, 1.0, coded_light[1:], coded.copy()),
    ):
        with pytest.raises(ValueError, match=r"go together|needed"):
            loops.bare_codes(*wrong)
    rows, since, part = np.ones((3, 5), np.float32), np.zeros(8, np.int32), np.zeros(8)
    out = np.empty((3, 8), np.float32)
    loops.stretch_rows(rows, 5, since, part, out)
    for wrong in (
        (rows, 5, since + 5, part, out),
        (rows, 5, since - 1, part, out),
        (rows, 4, since, part, out),
        (rows, 0, since, part, out),
        (rows, 5, since, part[:7], out),
        (rows, 5, since, part, out[:2]),
        (rows[:0], 5, since, part, out[:0]),
    ):
        with pytest.raises(ValueError, match="go together"):
            loops.stretch_rows(*wrong)

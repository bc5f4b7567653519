"""The compiled count of a strip's components gives what NumPy's gives, entry by entry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from same_values import assert_same

from filmhand.kernels.loops import compiled
from filmhand.mesh.bitmap import components, joined_strips, sealed_strip
from filmhand.mesh.bitmap.components import Census
from filmhand.mesh.bitmap.sealed_strip import seal_strip

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops are not compiled here")


def both_ways(rows, **wishes):
    """The strip sealed by the compiled loop and by NumPy."""
    with pytest.MonkeyPatch.context() as patch:
        one = seal_strip(rows, **wishes)
        patch.setattr(sealed_strip, "compiled", lambda: None)
        return one, seal_strip(rows, **wishes)


@st.composite
def strips(draw):
    """Packed rows of noise, blobs, stripes and mazes, with anything in the bits beside them."""
    height = draw(st.integers(1, 24))
    width = draw(st.integers(1, 90) | st.sampled_from([63, 64, 65, 127, 128, 129, 1000]))
    skip = draw(st.integers(0, 7))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    kind = draw(st.sampled_from(["noise", "blobs", "rows", "columns", "maze", "plain"]))
    row_bytes = (skip + width + 7) // 8 + draw(st.integers(0, 9))
    noise = rng.random((height, 8 * row_bytes))
    if kind == "blobs":
        for axis in (0, 1):
            noise = noise + np.roll(noise, 1, axis) + np.roll(noise, -1, axis)
    bits = noise > np.quantile(noise, draw(st.floats(0, 1)))
    if kind == "rows":
        bits |= np.arange(height)[:, None] % 2 == 0
    if kind == "columns":
        bits &= np.arange(8 * row_bytes) % 2 == 0
    if kind == "maze":
        bits[::2, ::2] = True
        bits[1::2, 1::2] = False
    if kind == "plain":
        bits[:] = draw(st.booleans())
    beyond = rng.random((height, width)) < draw(st.sampled_from([0.0, 0.02, 0.5]))
    return np.packbits(bits, axis=1), skip, width, beyond


@settings(max_examples=400, deadline=None)
@given(
    strip=strips(),
    top=st.sampled_from([0, 128, 5000]),
    barred=st.booleans(),
    keep=st.tuples(*(st.sampled_from([0, 1, 2, 9, 10**6]) for _ in range(2))),
)
def test_a_strip_is_sealed_alike(strip, top, barred, keep):
    rows, skip, width, beyond = strip
    one, other = both_ways(
        rows, skip=skip, width=width, top=top, beyond=beyond if barred else None, keep=keep
    )
    assert_same(one, other)


HOOK = """
................
.........#......
...####..#......
####..####......
................
"""


@pytest.mark.parametrize("barred", [False, True])
def test_a_border_cuts_what_is_joined_later_in_the_row(barred):
    """The lowest row touches the left side, and so do both parts that its other run joins."""
    bits = np.array([[one == "#" for one in row] for row in HOOK.split()])
    if barred:
        bits = np.pad(bits, ((0, 0), (1, 1)))
    beyond = np.zeros(bits.shape, np.bool_)
    beyond[3, 1] = True
    one, other = both_ways(
        np.packbits(bits, axis=1),
        skip=0, width=bits.shape[1], top=100, beyond=beyond if barred else None, keep=(500, 500),
    )  # fmt: skip
    assert_same(one, other)
    assert one.cut_inside[1] == 1
    assert not one.small[1].row.size


def halftone(width, height):
    """Round dots of a 9 degree screen from bare film to solid, with some noise."""
    y, x = np.mgrid[:height, :width]
    wave = np.cos(x / 2.7 + y / 17) + np.cos(x / 17 - y / 2.7)
    noise = np.random.default_rng(4).normal(0, 0.2, wave.shape)
    return wave + noise > np.linspace(-2.2, 2.2, width)


@pytest.mark.parametrize("barred", [False, True])
def test_a_whole_film_is_counted_alike(barred):
    bits = halftone(1500, 700)
    rows = np.packbits(bits, axis=1)
    beyond = np.zeros(bits.shape, np.bool_)
    beyond[300:340, 700:900] = True

    def counted():
        census = Census(
            (1500 - 3, 700),
            skip=3,
            small_dot=30,
            small_shadow_dot=25,
            outside=(lambda a, b: beyond[a:b, 3:]) if barred else None,
        )
        census.take(lambda a, b: rows[a:b], census.strips, threads=2)
        return census

    one = counted()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sealed_strip, "compiled", lambda: None)
        for room in (components, joined_strips):
            patch.setattr(room, "compiled", lambda: None)
        other = counted()
    assert one.strips != other.strips  # the two ways have strips of their own heights
    for found, wanted in zip(one.result(), other.result(), strict=True):
        assert_same(found.areas, wanted.areas)
        assert (found.cut, found.pixels) == (wanted.cut, wanted.pixels)
        assert found.small.row.size > 100
        assert_same(by_component(found.small), by_component(wanted.small))


def by_component(runs):
    return runs.picked(np.lexsort((runs.start, runs.row, runs.component)))


@pytest.mark.parametrize(
    ("rows", "skip", "width"),
    [
        (np.zeros((2, 3), np.uint8), 8, 10),
        (np.zeros((2, 3), np.uint8), -1, 10),
        (np.zeros((2, 3), np.uint8), 1, 24),
        (np.zeros((2, 3), np.uint8), 0, 0),
        (np.zeros((0, 3), np.uint8), 0, 9),
    ],
)
def test_rows_that_are_too_short_are_an_error(rows, skip, width):
    with pytest.raises(ValueError, match="do not fit together"):
        compiled().label_strip(rows, 3, skip, width, None, True, (0, 0))


def test_what_lies_beyond_must_have_the_strips_size():
    rows, beyond = np.zeros((2, 3), np.uint8), np.zeros((2, 23), np.bool_)
    with pytest.raises(ValueError, match="46 bytes"):
        compiled().label_strip(rows, 3, 0, 24, beyond, True, (0, 0))


@pytest.mark.parametrize("rows", [np.ones((2, 8), bool), np.ones((2, 1), np.uint8)])
def test_rows_that_are_not_packed_or_too_short_are_no_strip(rows):
    with pytest.raises(ValueError, match="packed bits"):
        seal_strip(rows, skip=1, width=8, top=0, beyond=None, keep=(0, 0))

"""Joining small components to their neighbors, keeping the tone, mending by taking away only."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.mesh.bitmap.bridges import NONE, NearbyPixels, _boxes, find_bridges


def components(bits):
    """Pixels of every component, by scipy, smallest first."""
    labels, count = ndimage.label(bits)
    return sorted(np.bincount(labels.ravel(), minlength=count + 1)[1:].tolist())


def parted(gap, *, speck=(2, 4), bridge_rows=None):
    """A small component of ink (rows, columns) beside a large body, with bare film between."""
    bits = np.zeros((24, 40), bool)
    bits[8:16, 4:14] = True
    rows = slice(11, 11 + speck[0])
    bits[rows, 14 + gap : 14 + gap + speck[1]] = True
    return bits


@pytest.mark.parametrize("ink", [True, False])
def test_a_speck_close_to_a_neighbor_is_joined_where_that_is_cheapest(mended, ink):
    bits = parted(1) == ink
    after, done = mended(bits, dot=16, shadow_dot=16, bridge=(2, 2))
    # Eight of 16 pixels: 8 to take away, 8 to grow, 2 to join.
    assert (done.joined, done.count, done.pixels) == (1, 1, 2)
    assert components(after == ink) == [80 + 8 + 2]
    assert ((after != bits) == (parted(0) & ~parted(1) & (np.arange(40) == 14))).all()
    assert done.places in ([(16, 12)], [(16, 11)])


def test_without_a_bridge_nothing_is_joined(mended):
    _, done = mended(parted(1), dot=16)
    assert done.joined == 0
    assert done.count == 1


def test_a_bridge_is_never_narrower_than_asked(mended):
    for width in (1, 2, 3):
        bits = parted(1, speck=(3, 3))
        after, done = mended(bits, dot=18, bridge=(width, width))
        changed = after & ~bits
        assert done.joined == 1
        assert changed.sum() == width
        # The new ink, with the body beside it, is swept by a square of that width.
        assert (ndimage.binary_opening(after, np.ones((width, width))) & changed).sum() == width


def test_shapes_that_touch_at_a_corner_are_joined_by_a_block_around_it(mended):
    bits = np.zeros((20, 20), bool)
    bits[4:10, 4:10] = True
    bits[10:12, 10:14] = True
    after, done = mended(bits, dot=16, bridge=(2, 2))
    assert (done.joined, done.pixels) == (1, 2)
    assert after[9, 10] and after[10, 9]
    assert components(after) == [36 + 8 + 2]


def test_a_speck_is_not_joined_across_barred_film(mended):
    bits = parted(1)
    barred = np.zeros_like(bits)
    barred[:, 14] = True
    after, done = mended(bits, dot=16, bridge=(2, 2), barred=barred)
    assert done.joined == 0
    assert not (after & barred).any()


def test_two_specks_are_not_joined_to_one_another(mended):
    bits = np.zeros((12, 20), bool)
    bits[4:6, 4:8] = bits[4:6, 9:13] = True
    _, done = mended(bits, dot=20, bridge=(2, 2))
    assert done.joined == 0


def test_joining_is_dearer_than_taking_away_a_speck(mended):
    bits = parted(2, speck=(1, 1))
    after, done = mended(bits, dot=16, bridge=(2, 2))
    assert (done.specks, done.pixels) == (1, 1)
    assert components(after) == [80]


def field_of(size, *, count=10, pitch=14):
    """A square field of equal small components."""
    bits = np.zeros((pitch * count, pitch * count), bool)
    y, x = (axis.ravel() for axis in np.mgrid[-4:5, -4:5])
    which = np.argsort(np.hypot(y, x), kind="stable")[:size]
    for row in range(count):
        for column in range(count):
            bits[pitch * row + pitch // 2 + y[which], pitch * column + pitch // 2 + x[which]] = True
    return bits


@pytest.mark.parametrize("ink", [True, False])
@pytest.mark.parametrize("size", [2, 4, 7, 11, 14])
def test_every_neighborhood_keeps_its_ink_to_half_a_speck(mended, size, ink):
    bits = field_of(size, count=18) == ink  # 252 pixels each way: four squares of 128
    after, done = mended(bits, dot=15, shadow_dot=15, keep_tone=True)
    assert min(components(after == ink)[:-1] or [15]) >= 15
    assert done.count == 18 * 18
    for y in (0, 128):
        for x in (0, 128):
            # Crumbs on the seam of two squares are in both, so the squares are looked at whole.
            part = np.s_[y : y + 128, x : x + 128]
            seam = 2 * 9 * size
            assert abs(int(after[part].sum()) - int(bits[part].sum())) <= 8 + seam
    assert abs(int(after.sum()) - int(bits.sum())) <= 4 * 8


def test_without_keeping_the_tone_small_specks_all_go(mended):
    after, done = mended(field_of(4), dot=15)
    assert not after.any()
    assert done.specks == 100


def test_the_tone_is_kept_only_as_far_as_the_allowance_goes(mended):
    bits = field_of(4)
    _, free = mended(bits, dot=15, keep_tone=True)
    assert free.pixels > 400
    after, done = mended(bits, dot=15, allowance=400, keep_tone=True)
    assert done.pixels == 400
    assert not after.any()


@st.composite
def dirty(draw):
    height, width = draw(st.integers(3, 60)), draw(st.integers(3, 60))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    noise = ndimage.gaussian_filter(rng.random((height, width)), draw(st.sampled_from([0, 0.7, 2])))
    return noise > np.quantile(noise, draw(st.floats(0.1, 0.9)))


@settings(max_examples=150, deadline=None)
@given(
    bits=dirty(),
    size=st.integers(2, 24),
    bridge=st.integers(1, 4),
    keep_tone=st.booleans(),
    share=st.floats(0, 1),
)
def test_the_allowance_holds_for_bridges_too(mended, bits, size, bridge, keep_tone, share):
    allowance = int(share * bits.sum())
    after, done = mended(
        bits,
        dot=size,
        shadow_dot=size,
        allowance=allowance,
        bridge=(bridge, bridge),
        keep_tone=keep_tone,
    )
    assert (after != bits).sum() <= done.pixels <= allowance
    assert len(done.places) == done.count
    assert set(np.flatnonzero((after != bits).any(1)).tolist()) <= done.rows


@settings(max_examples=80, deadline=None)
@given(bits=dirty(), size=st.integers(2, 24))
def test_taking_away_comes_to_an_end_with_nothing_small_left(mended, bits, size):
    for _ in range(30):
        bits, done = mended(bits, dot=size, shadow_dot=size, only_turn=True)
        assert done.enlarged == done.joined == 0
        if not done.count:
            break
    for color in (bits, ~bits):
        labels, count = ndimage.label(color)
        areas = np.bincount(labels.ravel(), minlength=count + 1)
        areas[np.r_[labels[0], labels[-1], labels[:, 0], labels[:, -1]]] = size
        areas[0] = size
        assert areas.min() >= size


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("gap", [1, 2])
def test_a_long_specks_far_end_is_no_place_to_join_at(turns, gap):
    # A hook whose end lies a pixel farther from its middle than bridges are looked for, and a body
    # opposite. A bridge of one pixel reaches over a gap of one and not of two.
    speck, body = np.zeros((2, 21, 21), bool)
    speck[10, 10:13] = speck[6:10, 12] = True
    body[11 + gap :, :] = True
    speck, body = np.rot90(speck, turns), np.rot90(body, turns)
    row, column = np.nonzero(speck)
    found = find_bridges(
        NearbyPixels(speck | body, speck, None, reach=3, bridge=(1, 1)),
        np.array([10]),
        np.array([10]),
        (np.zeros_like(row), row, column),
    )
    if gap == 2:
        assert found.cost.tolist() == [NONE]
        return
    assert found.cost.tolist() == [1]
    joined = speck | body
    joined[found.row[0], found.column[0]] = True
    assert len(components(joined)) == 1


@pytest.mark.parametrize("places", [((0, 3), (1, 0)), ((1, 0), (0, 3)), ((0, 0), (1, 6))])
def test_the_ink_of_one_neighborhood_does_not_make_up_for_another_far_off(mended, places):
    """Specks in one square of 128 pixels and as many pinholes in another, on a wide sheet."""
    bits = np.zeros((256, 1024), bool)
    specks, holes = (np.s_[128 * y : 128 * y + 128, 128 * x : 128 * x + 128] for y, x in places)
    field = np.pad(field_of(4, count=8), 8)  # 112 pixels and a margin
    bits[specks], bits[holes] = field, True
    bits[holes] &= ~field
    after, done = mended(bits, dot=15, shadow_dot=15, keep_tone=True)
    for part in (specks, holes):
        assert abs(int(after[part].sum()) - int(bits[part].sum())) <= 8
    assert done.enlarged > 20 and done.specks > 20 and done.pinholes > 20


@pytest.mark.parametrize(("across", "down"), [(1, 1), (3, 2), (2, 5), (7, 6)])
def test_boxes_are_counted_by_their_top_left_corner(across, down):
    bits = np.random.default_rng(4).random((3, 6, 7)) < 0.5
    counts = _boxes(bits, across, down)
    windows = np.lib.stride_tricks.sliding_window_view(bits, (down, across), axis=(1, 2))
    assert np.array_equal(counts, windows.sum(axis=(3, 4)))

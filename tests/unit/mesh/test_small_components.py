"""Mending stray bits: what is reached, what is left alone, and what it costs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.mesh.bitmap.small_components import SmallComponents
from filmhand.mesh.bitmap.small_runs import SmallRuns

PLENTY = 10**9


def areas(bits):
    """Pixels of the components that the border does not cut, by scipy."""
    labels, count = ndimage.label(bits)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    sizes[np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])] = 0
    sizes[0] = 0
    return np.sort(sizes[sizes > 0])


def specks(sizes, *, pitch=14):
    """A row of compact small components, one of each size, too far apart to meet."""
    bits = np.zeros((pitch, pitch * len(sizes)), bool)
    y, x = (axis.ravel() for axis in np.mgrid[-4:5, -4:5])
    nearest = np.argsort(np.hypot(y, x), kind="stable")
    for number, size in enumerate(sizes):
        which = nearest[:size]
        bits[y[which] + pitch // 2, x[which] + pitch // 2 + pitch * number] = True
    return bits


@pytest.mark.parametrize("ink", [True, False])
def test_specks_under_half_the_size_go_and_larger_ones_grow_to_it(mended, ink):
    bits = specks(range(1, 13)) == ink
    after, done = mended(bits)
    # 1 to 4 of 9 pixels cost less to take away, 5 to 8 less to grow, 9 to 12 are held.
    assert areas(after == ink).tolist() == [9, 9, 9, 9, 9, 10, 11, 12]
    assert done.enlarged == 4
    assert (done.specks, done.pinholes) == ((4, 0) if ink else (0, 4))
    assert done.count == 8
    assert done.pixels == (after != bits).sum() == 10 + 10


def test_growing_and_removing_keep_the_balance_of_ink(mended):
    bits = specks(list(range(1, 9)) * 5)
    after, _ = mended(bits)
    assert after.sum() == bits.sum()


def test_a_speck_grows_around_barred_film(mended):
    # A diamond of 13 pixels grows to 25, the square around it; a corner of that touches no speck.
    bits = specks([13])
    barred = np.zeros_like(bits)
    free, _ = mended(bits, dot=25)
    assert free[5:10, 5:10].all() and free.sum() == 25
    barred[9, 9] = True
    after, done = mended(bits, dot=25, barred=barred)
    assert done.enlarged == 1 and areas(after).tolist() == [25]
    assert not after[9, 9]


def test_what_was_done_says_where(mended):
    bits = specks([3, 7, 12])
    after, done = mended(bits)
    assert sorted(done.places) == [(7, 7), (21, 7)]
    assert done.rows == set(np.flatnonzero((after != bits).any(1)).tolist())


def test_nothing_too_small_means_nothing_done(mended):
    bits = specks([9, 12])
    after, done = mended(bits)
    assert np.array_equal(after, bits)
    assert (done.count, done.pixels, done.places, done.rows) == (0, 0, [], set())


@pytest.mark.parametrize("allowance", [0, 1, 2, 3, 5, 9, 19, 20])
def test_the_least_changes_come_first_and_the_allowance_is_kept(mended, allowance):
    bits = specks(range(1, 9))
    after, done = mended(bits, allowance=allowance)
    # The changes cost 1, 1, 2, 2, 3, 3, 4 and 4 pixels.
    wanted, left = 0, allowance
    for cost in (1, 1, 2, 2, 3, 3, 4, 4):
        left -= cost
        if left < 0:
            break
        wanted += 1
    assert done.count == wanted
    assert done.pixels == (after != bits).sum() <= allowance


@st.composite
def dirty(draw):
    height, width = draw(st.integers(3, 60)), draw(st.integers(3, 60))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    noise = ndimage.gaussian_filter(rng.random((height, width)), draw(st.sampled_from([0, 0.7, 2])))
    bits = noise > np.quantile(noise, draw(st.floats(0.1, 0.9)))
    barred = rng.random((height, width)) < draw(st.sampled_from([0, 0, 0.05, 0.5]))
    barred = ndimage.binary_opening(barred, np.ones((2, 2)))
    return bits & ~barred, barred if barred.any() else None


@settings(max_examples=150, deadline=None)
@given(art=dirty(), dot=st.integers(1, 20), shadow_dot=st.integers(1, 20))
def test_barred_pixels_are_never_inked_and_the_count_is_true(mended, art, dot, shadow_dot):
    bits, barred = art
    after, done = mended(bits, dot=dot, shadow_dot=shadow_dot, barred=barred)
    if barred is not None:
        assert not (after & barred).any()
    # Places where a dot and a shadow dot both take a pixel may count it twice, never too seldom.
    assert done.pixels >= (after != bits).sum()
    assert len(done.places) == done.count
    assert set(np.flatnonzero((after != bits).any(1)).tolist()) <= done.rows


@settings(max_examples=150, deadline=None)
@given(art=dirty(), dot=st.integers(1, 20), shadow_dot=st.integers(1, 20), share=st.floats(0, 1))
def test_the_allowance_is_kept_wherever_specks_lie(mended, art, dot, shadow_dot, share):
    bits, barred = art
    allowance = int(share * bits.sum())
    after, done = mended(bits, dot=dot, shadow_dot=shadow_dot, allowance=allowance, barred=barred)
    assert (after != bits).sum() <= done.pixels <= allowance


@settings(max_examples=60, deadline=None)
@given(art=dirty(), size=st.integers(2, 16))
def test_every_round_leaves_fewer_small_components_or_none_changed(mended, art, size):
    bits, _ = art
    small = [(areas(bits) < size).sum() + (areas(~bits) < size).sum()]
    for _ in range(4):
        bits, done = mended(bits, dot=size, shadow_dot=size)
        small.append((areas(bits) < size).sum() + (areas(~bits) < size).sum())
    assert small[-1] <= small[0]
    assert small[-1] == 0 or done.count > 0 or small[-1] == small[-2]


def test_a_speck_grows_into_its_neighbor_where_that_is_nearer(mended):
    bits = np.zeros((20, 30), bool)
    bits[8:12, 4:14] = True
    bits[9:11, 16:19] = True  # 6 of 9 pixels, two pixels from a body
    after, done = mended(bits)
    assert done.enlarged == 1
    assert areas(after).min() >= 9
    assert not (bits & ~after).any()


def test_a_crooked_speck_whose_middle_is_bare_is_taken_away(mended):
    bits = np.zeros((12, 12), bool)
    bits[3:8, 3] = bits[3, 3:8] = True  # an angle of 9 pixels; its middle lies off it
    after, done = mended(bits, dot=14)
    assert not bits[round(float(np.nonzero(bits)[0].mean())), 5]
    assert not after.any()
    assert done.specks == 1


def test_a_crooked_speck_counts_in_full_against_the_allowance(mended):
    bits = np.zeros((12, 12), bool)
    bits[3:8, 3] = bits[3, 3:8] = True  # growing would cost 5 pixels, but it can only go: 9
    for allowance in range(5, 12):
        after, done = mended(bits, dot=14, allowance=allowance)
        assert (after != bits).sum() == done.pixels <= allowance


def test_a_hole_over_barred_film_is_not_filled(mended):
    bits = np.ones((20, 20), bool)
    barred = np.zeros((20, 20), bool)
    bits[8:10, 8:10] = False
    barred[8, 8] = True
    after, done = mended(bits, barred=barred)
    assert not after[8, 8]
    assert done.pinholes == 0


def test_bands_do_not_show(mended):
    # Crumbs on and about the rows where the work is divided, and some near the edges.
    rng = np.random.default_rng(4)
    bits = np.zeros((600, 80), bool)
    for row in [*range(6, 600, 12), 250, 262]:
        for column in range(6, 74, 12):
            size = int(rng.integers(1, 9))
            bits[row, column : column + min(size, 4)] = True
            bits[row + 1, column : column + max(0, size - 4)] = True
    whole, _ = mended(bits)
    assert (areas(whole) >= 9).all()
    # Middles between two rows go to the even one, so the shifts are even.
    for shift in (2, 100, 254):
        moved = np.vstack([np.zeros((shift, 80), bool), bits])
        after, _ = mended(moved)
        assert np.array_equal(after[shift:], whole)


def test_specks_are_gathered_from_their_runs():
    runs = SmallRuns(*(np.array(a, np.int64) for a in ([1, 0, 1], [7, 3, 8], [2, 5, 2], [6, 6, 4])))
    found = SmallComponents.of(runs)
    assert found.area.tolist() == [1, 6]
    assert found.top.tolist() == [3, 7]
    assert found.bottom.tolist() == [4, 9]
    assert (found.row.tolist(), found.column.tolist()) == ([3, 7], [5, 3])
    assert found.first_run.tolist() == [0, 1, 3]
    none = SmallComponents.of(SmallRuns.joined([]))
    assert none.area.size == 0
    assert none.first_run.tolist() == [0]

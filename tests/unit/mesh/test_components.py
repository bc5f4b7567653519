"""Components against scipy.ndimage.label, for bitmaps of every kind and strips of any height."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.mesh.bitmap.components import Census


def by_scipy(bits, outside=None):
    """(areas of the uncut, number of the cut, pixels, labels) of one color, 4-connected."""
    labels, count = ndimage.label(bits)  # scipy's default structure joins edge to edge
    edge = np.zeros(bits.shape, bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    if outside is not None:
        edge |= ndimage.binary_dilation(outside)
    cut = np.unique(labels[edge & bits])
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    whole = np.setdiff1d(np.arange(1, count + 1), cut)
    return np.sort(areas[whole]), cut.size, int(bits.sum()), labels, set(whole.tolist())


def packed(bits):
    """Reads rows a .. b of the bits, packed."""
    return lambda a, b: np.packbits(bits[a:b], axis=1)


def listed(components):
    """The areas of all components, ascending."""
    return np.repeat(components.areas.area, components.areas.count)


def counted(bits, *, outside=None, threads=1, **settings_):
    height, width = bits.shape
    barred = None if outside is None else lambda a, b: outside[a:b]
    census = Census((width, height), outside=barred, **settings_)
    census.take(packed(bits), census.strips, threads=threads)
    return census.result()


def pixels_of(runs):
    """{component number: set of pixels}."""
    found = {}
    for component, row, start, stop in zip(
        runs.component.tolist(),
        runs.row.tolist(),
        runs.start.tolist(),
        runs.stop.tolist(),
        strict=True,
    ):
        found.setdefault(component, set()).update((row, x) for x in range(start, stop))
    return found


def assert_agrees(bits, *, outside=None, small_dot=0, small_shadow_dot=0, **settings_):
    both = counted(
        bits, outside=outside, small_dot=small_dot, small_shadow_dot=small_shadow_dot, **settings_
    )
    for found, color, small in ((both[0], bits, small_dot), (both[1], ~bits, small_shadow_dot)):
        areas, cut, pixels, labels, whole = by_scipy(color, outside)
        assert np.array_equal(listed(found), areas)
        assert (found.cut, found.pixels) == (cut, pixels)
        wanted = {
            frozenset(zip(*(axis.tolist() for axis in np.nonzero(labels == label)), strict=True))
            for label in whole
        }
        kept = pixels_of(found.small)
        assert set(kept) == set(range(len(kept)))
        assert {frozenset(p) for p in kept.values()} == {p for p in wanted if len(p) < small}


@st.composite
def bitmaps(draw):
    """Noise, blobs, mazes and stripes, so that components of every shape turn up."""
    height, width = draw(st.integers(1, 40)), draw(st.integers(1, 40))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    kind = draw(st.sampled_from(["noise", "blobs", "maze", "fine"]))
    noise = rng.random((height, width))
    if kind == "blobs":
        noise = ndimage.gaussian_filter(noise, 1.5, mode="wrap")
    bits = noise > np.quantile(noise, draw(st.floats(0.05, 0.95)))
    if kind == "maze":
        # Walls on every second row and column with gaps: long winding components.
        bits[::2, ::2] = True
        bits[1::2, 1::2] = False
    if kind == "fine":
        bits ^= np.indices(bits.shape).sum(0) % 2 == 0
    return bits


@settings(max_examples=120, deadline=None)
@given(
    bits=bitmaps(),
    strip=st.integers(1, 45),
    small_dot=st.sampled_from([0, 2, 7, 1000]),
    small_shadow_dot=st.sampled_from([0, 3, 9, 1000]),
    threads=st.sampled_from([1, 2]),
)
def test_components_are_those_of_scipy(bits, strip, small_dot, small_shadow_dot, threads):
    assert_agrees(
        bits, strip=strip, small_dot=small_dot, small_shadow_dot=small_shadow_dot, threads=threads
    )


@settings(max_examples=50, deadline=None)
@given(
    bits=bitmaps(),
    share=st.floats(0, 0.3),
    seed=st.integers(0, 2**32 - 1),
    strip=st.integers(1, 45),
)
def test_what_lies_outside_cuts_what_it_touches(bits, share, seed, strip):
    outside = np.random.default_rng(seed).random(bits.shape) < share
    assert_agrees(bits, outside=outside, strip=strip, small_dot=12, small_shadow_dot=12)


def test_pixels_that_touch_at_a_corner_are_two_dots():
    bits = np.zeros((6, 6), bool)
    bits[2, 2] = bits[3, 3] = True
    dots, shadow_dots = counted(bits)
    assert listed(dots).tolist() == [1, 1]
    assert shadow_dots.cut == 1  # all bare film hangs together
    dots, shadow_dots = counted(~bits)
    assert listed(shadow_dots).tolist() == [1, 1]


def spiral(turns):
    """One winding line, two pixels apart, that joins up only at its middle."""
    side = 4 * turns + 3
    bits = np.zeros((side, side), bool)
    place, step = np.array([1, 1]), np.array([0, 1])
    for leg in range(2 * turns):
        for _ in range(side - 3 - 2 * max(0, (leg - 1) // 2)):
            bits[tuple(place)] = True
            place = place + step
        step = np.array([step[1], -step[0]])
    bits[tuple(place)] = True
    return bits


@pytest.mark.parametrize("strip", [1, 2, 3, 7, 50])
def test_shapes_that_close_late_are_one_component(strip):
    for bits in (spiral(9), spiral(9).T, spiral(9)[::-1]):
        assert_agrees(
            np.ascontiguousarray(bits), strip=strip, small_dot=2000, small_shadow_dot=2000
        )
    comb = np.zeros((30, 61), bool)
    comb[2:28, 1:60:2] = True  # teeth that only the last row joins
    comb[27, 1:60] = True
    dots, _ = counted(comb, strip=strip)
    assert listed(dots).tolist() == [int(comb.sum())]


def test_the_whole_area_of_one_color_is_one_cut_component():
    for bits, ink in ((np.ones((20, 30), bool), 0), (np.zeros((20, 30), bool), 1)):
        found = counted(bits, strip=7)
        assert (found[ink].cut, found[ink].pixels, found[ink].areas.total) == (1, 600, 0)
        assert (found[1 - ink].cut, found[1 - ink].pixels, found[1 - ink].areas.total) == (0, 0, 0)


@settings(max_examples=40, deadline=None)
@given(bits=bitmaps(), strip=st.integers(1, 20), seed=st.integers(0, 2**32 - 1))
def test_changed_strips_are_counted_anew(bits, strip, seed):
    rng = np.random.default_rng(seed)
    height, width = bits.shape
    census = Census((width, height), small_dot=5, small_shadow_dot=5, strip=strip)
    # Strips may come in any order.
    census.take(packed(bits), rng.permutation(list(census.strips)).tolist(), threads=2)
    rows = rng.integers(0, height, 3)
    changed = bits.copy()
    changed[rows] ^= rng.random((3, width)) < 0.4
    touched = census.holding(rows.tolist())
    assert all(any(a <= row < b for a, b in map(census.rows_of, touched)) for row in rows)
    census.take(packed(changed), touched)
    for found, color in zip(census.result(), (changed, ~changed), strict=True):
        areas, cut, pixels, _, _ = by_scipy(color)
        assert np.array_equal(listed(found), areas)
        assert (found.cut, found.pixels) == (cut, pixels)


@pytest.mark.parametrize("strip", [1, 17, 128, 131, 1000])
def test_small_components_have_an_order_that_no_strip_changes(strip):
    bits = np.zeros((400, 50), bool)
    bits[380:382, 5] = True
    bits[126:130, 7] = True  # goes on into the next 128 rows
    bits[100:128, 9] = True  # ends with its 128 rows
    bits[128:131, 11] = True  # begins with them
    bits[200, [40, 20]] = True
    bits[5, 6] = bits[1, 30] = True
    dots, _ = counted(bits, strip=strip, small_dot=40)
    runs = dots.small
    first = [np.flatnonzero(runs.component == number)[0] for number in range(8)]
    places = [(int(runs.row[k]), int(runs.start[k])) for k in first]
    assert [column for _, column in places] == [30, 6, 20, 40, 9, 7, 11, 5]


def test_a_large_halftone_like_sheet_agrees():
    rng = np.random.default_rng(3)
    y, x = np.mgrid[:700, :900]
    wave = np.cos(x / 3.1 + y / 4.7) + np.cos(x / 4.7 - y / 3.1)
    bits = wave + rng.normal(0, 0.25, wave.shape) > np.linspace(-2, 2, 900)
    dots, shadow_dots = counted(bits, threads=2)
    for found, color in ((dots, bits), (shadow_dots, ~bits)):
        areas, cut, pixels, _, _ = by_scipy(color)
        assert np.array_equal(listed(found), areas)
        assert (found.cut, found.pixels) == (cut, pixels)

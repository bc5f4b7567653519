"""Dots and shadow dots counted by strips, against the labeling of scipy.ndimage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.mesh.bitmap.components import Census

pytestmark = pytest.mark.outside


def labeled(bits, outside):
    """Sizes of the whole components and the number of cut ones, by scipy; 4-connected."""
    labels, count = ndimage.label(bits)
    areas = np.bincount(labels.ravel(), minlength=count + 1)[1:]
    border = np.zeros(bits.shape, np.bool_)
    border[[0, -1]] = border[:, [0, -1]] = True
    border |= ndimage.binary_dilation(outside)
    cut = np.unique(labels[border & (labels > 0)]) - 1
    return labels, areas, cut


def picture_of(kind, seed, height, width):
    generator = np.random.default_rng(seed)
    noise = generator.random((height, width))
    if kind == "noise":
        return noise < generator.random()
    if kind == "blobs":
        return ndimage.gaussian_filter(noise, 1.2) < np.quantile(noise, 0.5)
    if kind == "spirals":  # long winding components that meet themselves again and again
        row, column = np.ogrid[:height, :width]
        y, x = row - height / 2, column - width / 2
        return (np.hypot(x, y) - 2 * np.arctan2(y, x)) % 5 < 2.2
    return np.full((height, width), kind == "solid")


@settings(max_examples=100, deadline=None)
@given(
    kind=st.sampled_from(["noise", "blobs", "spirals", "solid", "bare"]),
    seed=st.integers(0, 2**32 - 1),
    height=st.integers(1, 70),
    width=st.integers(1, 70),
    strip=st.sampled_from([1, 2, 7, 16, 128]),
    keep=st.tuples(st.integers(0, 12), st.integers(0, 12)),
    masked=st.booleans(),
)
def test_dots_and_holes_are_those_of_scipy(kind, seed, height, width, strip, keep, masked):
    bits = picture_of(kind, seed, height, width)
    outside = np.zeros(bits.shape, np.bool_)
    if masked:
        corner = np.random.default_rng(seed).integers(0, (height, width))
        outside[corner[0] : corner[0] + 9, corner[1] : corner[1] + 9] = True
    census = Census(
        (width, height),
        small_dot=keep[0],
        small_shadow_dot=keep[1],
        outside=(lambda a, b: outside[a:b]) if masked else None,
        strip=strip,
    )
    census.take(lambda a, b: np.packbits(bits[a:b], axis=1), census.strips, threads=1 + seed % 2)
    found = census.result()
    for color, components, below in zip((bits, ~bits), found, keep, strict=True):
        labels, areas, cut = labeled(color, outside)
        whole = np.delete(areas, cut)
        assert np.array_equal(
            np.repeat(components.areas.area, components.areas.count), np.sort(whole)
        )
        assert components.cut == cut.size
        assert components.pixels == color.sum()
        # The small ones, pixel by pixel.
        small = np.setdiff1d(np.flatnonzero(areas < below), cut) + 1
        painted = np.full(bits.shape, -1)
        runs = components.small
        for number, row, start, stop in zip(
            runs.component, runs.row, runs.start, runs.stop, strict=True
        ):
            assert (painted[row, start:stop] == -1).all()
            painted[row, start:stop] = number
        assert np.array_equal(painted >= 0, np.isin(labels, small))
        pairs = set(zip(painted[painted >= 0], labels[painted >= 0], strict=True))
        assert len(pairs) == small.size
        assert {number for number, _ in pairs} == set(range(small.size))


@settings(max_examples=80, deadline=None)
@given(
    kind=st.sampled_from(["noise", "blobs", "spirals"]),
    seed=st.integers(0, 2**32 - 1),
    sizes=st.tuples(st.integers(1, 14), st.integers(1, 14)),
    allowance=st.sampled_from([0, 3, 25, 200, 10_000]),
    masked=st.booleans(),
)
def test_mending_keeps_to_its_allowance_and_off_the_mask(
    mended, kind, seed, sizes, allowance, masked
):
    bits = picture_of(kind, seed, 90, 60)
    barred = np.zeros(bits.shape, np.bool_)
    if masked:
        barred[20:50, 10:30] = True
        bits &= ~barred
    made, done = mended(
        bits,
        dot=sizes[0],
        shadow_dot=sizes[1],
        allowance=allowance,
        barred=barred if masked else None,
    )
    changed = made != bits
    assert changed.sum() <= done.pixels <= allowance
    assert not (made & barred).any()
    assert set(np.flatnonzero(changed.any(axis=1))) <= done.rows


def test_specks_that_stand_apart_are_gone_or_large_enough(mended):
    # Blots of 1 to 9 pixels, each in a field of its own.
    generator = np.random.default_rng(8)
    bits = np.zeros((400, 400), np.bool_)
    for row in range(10, 390, 20):
        for column in range(10, 390, 20):
            blot = np.ones((3, 3), np.bool_).ravel()
            blot[generator.integers(1, 10) :] = False
            bits[row : row + 3, column : column + 3] = blot.reshape(3, 3)
    for picture in (bits, ~bits):
        made, done = mended(picture, dot=10, shadow_dot=10, allowance=10**6)
        foreground = made if picture is bits else ~made
        labels, count = ndimage.label(foreground)
        areas = np.bincount(labels.ravel())[1:]
        assert done.count == 361
        assert count == done.enlarged > 100
        assert (areas == 10).all()
        # Blots of 1 .. 5 pixels are taken away and those of 6 .. 9 want 4 .. 1: 15 against 10.
        lost = int(picture.sum()) - int(made.sum())
        assert abs(lost) == pytest.approx((15 - 10) / (15 + 10) * done.pixels, rel=0.2)


def test_the_smallest_changes_come_first(mended):
    bits = np.zeros((60, 60), np.bool_)
    bits[10, 10] = True  # one pixel to take away
    bits[30:33, 30:33] = True  # nine: one to add
    bits[45:47, 10:12] = True  # four to take away
    made, done = mended(bits, dot=10, shadow_dot=1, allowance=2)
    assert (done.specks, done.enlarged, done.pixels) == (1, 1, 2)
    assert not made[10, 10]
    assert made[28:35, 28:35].sum() == 10
    assert made[45:47, 10:12].all()

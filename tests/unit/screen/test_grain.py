"""Scattered centers of the stochastic screen."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import ndimage

from filmhand.screen.grain import build_grain, find_grain, scatter
from filmhand.units import Resolution


def spacings(grain, one, other):
    """Distances between all centers of both, on the torus, in mean spacings."""
    apart = np.abs(one[:, None] - other[None])
    inches = np.minimum(apart, 1 - apart) * [
        grain.width / grain.resolution.x,
        grain.height / grain.resolution.y,
    ]
    return np.hypot(inches[..., 0], inches[..., 1]) * grain.lpi


def closest(grain, one, other):
    between = spacings(grain, one, other)
    return between[between > 0].min()


@pytest.mark.parametrize(("lpi", "dpi"), [(25, (300, 300)), (30, (600, 300))])
def test_dots_and_holes_keep_apart(lpi, dpi):
    # The best that n centers can do is the hexagonal lattice, (2 / sqrt 3) ** 0.5 = 1.07 spacings
    # apart, and 0.76 where dots and shadow dots together are twice as many. Blue noise reaches
    # about two thirds of it (no source); at random the closest of hundreds would all but touch.
    grain = find_grain(lpi, Resolution(*dpi))
    found = []
    for seed in range(1, 6):
        dots, shadow_dots = scatter(grain, seed=seed)
        assert len(dots) == len(shadow_dots) == grain.dots
        assert spacings(grain, dots, shadow_dots).min() > 0
        found.append([closest(grain, *pair) for pair in ((dots, dots), (shadow_dots, shadow_dots))])
        found[-1].append(closest(grain, dots, shadow_dots))
    apart_dots, apart_holes, apart_both = np.mean(found, axis=0)
    assert apart_dots > 0.66 * 1.07
    assert min(apart_holes, apart_both) > 0.66 * 0.76


@pytest.fixture(scope="module", params=[(300, 300), (300, 450)], ids=str)
def grain(request):
    return find_grain(30, Resolution(*request.param))


@pytest.fixture(scope="module")
def tile(grain):
    return build_grain(grain)


@pytest.mark.parametrize(("lpi", "dpi"), [(25, (300, 300)), (17, (300, 600)), (61, (720, 360))])
def test_the_torus_is_long_enough_and_its_spacing_as_near_as_one_so_long_can_have(lpi, dpi):
    found = find_grain(lpi, Resolution(*dpi))
    least = max(0.5, 12 / lpi)
    assert least <= found.width / dpi[0] <= 1.1 * least + 1 / dpi[0]
    assert found.height == round(found.width * dpi[1] / dpi[0])
    # Lines per inch of a square lattice: the root of the dots to the square inch.
    errors = []
    for width in range(math.ceil(least * dpi[0]), int(math.ceil(least * dpi[0]) * 1.1) + 1):
        inches = width * round(width * dpi[1] / dpi[0]) / (dpi[0] * dpi[1])
        errors.append(abs((round(lpi**2 * inches) / inches) ** 0.5 - lpi))
    assert found.lpi == pytest.approx(
        (found.dots * dpi[0] * dpi[1] / (found.width * found.height)) ** 0.5
    )
    # A longer torus must be a tenth better to be worth its pixels.
    assert abs(found.lpi - lpi) <= min(errors) / 0.9


def test_the_tile_repeats_by_its_leaning_sides(grain, tile, flat):
    bits = flat(tile, 0.3, width=4 * grain.width, height=4 * grain.height)
    assert np.array_equal(bits[1:, grain.width :], bits[:-1, : -grain.width])
    assert np.array_equal(bits[grain.height :, :-1], bits[: -grain.height, 1:])
    assert tile.thresholds.size == grain.width * grain.height + 1


@pytest.mark.parametrize("holes", [False, True])
def test_every_dot_and_hole_begins_with_the_pixel_at_its_center(grain, tile, flat, holes):
    tone = grain.dots / tile.thresholds.size
    bits = flat(tile, 1 - tone if holes else tone, width=grain.width, height=grain.height) ^ holes
    row, column = np.nonzero(bits)
    assert abs(row.size - grain.dots) <= 2  # the tile is a pixel more than a torus
    sides = np.array([[grain.width, 1], [-1, grain.height]], float)
    places = np.linalg.solve(sides.T, np.stack([column + 0.5, row + 0.5])).T
    centers = scatter(grain, seed=1)[int(holes)]
    apart = (places[:, None] - centers[None] + 0.5) % 1 - 0.5
    pixels = np.abs(apart) * [grain.width, grain.height]
    inches = np.hypot(*(pixels / [grain.resolution.x, grain.resolution.y]).T)
    # No point of a pixel is farther from its middle than a corner.
    half_diagonal = np.hypot(1 / grain.resolution.x, 1 / grain.resolution.y) / 2
    assert inches.min(axis=0).max() <= half_diagonal * 1.02
    assert np.unique(inches.argmin(axis=0)).size == row.size


def test_dots_and_holes_below_the_least_size_are_left_out_separately(grain, flat, areas):
    tone = 0.5 * grain.dots / (grain.width * grain.height)  # half a pixel to a dot
    for dot, hole in ((7, 1), (1, 7)):
        tile = build_grain(grain, smallest_dot=dot, smallest_shadow_dot=hole)
        dots = areas(flat(tile, tone, width=300, height=500))
        holes = areas(~flat(tile, 1 - tone, width=300, height=500))
        assert dots.size > 50 and holes.size > 50
        assert np.median(dots) == dots.min() == dot
        assert np.median(holes) == holes.min() == hole


def test_unless_told_otherwise_dots_and_holes_begin_with_a_single_pixel(grain, tile, flat, areas):
    tone = 0.5 * grain.dots / (grain.width * grain.height)
    assert areas(flat(tile, tone)).max() == 1
    assert areas(~flat(tile, 1 - tone)).max() == 1


@pytest.mark.parametrize("holes", [False, True])
def test_no_speck_is_left_between_dots_that_have_met(grain, tile, flat, holes):
    # Bare film that dots close in on without a hole in it would be a speck that no stencil holds,
    # and so would ink between holes: all that is bare in a lighter tone is joined to what still is
    # at half, and all that is ink in a darker one to what already was.
    half = flat(tile, 0.5, width=300, height=400) ^ (not holes)
    for tone in np.linspace(0.2, 0.8, 61)[30 * holes :][:31]:
        bits = flat(tile, tone, width=300, height=400) ^ (not holes)
        labels, count = ndimage.label(bits)
        cut = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
        held = np.union1d(labels[half & bits], cut)
        assert np.setdiff1d(np.arange(1, count + 1), held).size == 0, tone


def test_the_seed_of_a_grain_decides_and_is_1_unless_given(grain, tile):
    assert np.array_equal(build_grain(grain, seed=1).thresholds, tile.thresholds)
    assert not np.array_equal(build_grain(grain, seed=2).thresholds, tile.thresholds)

"""The threshold tile: exact tone, equal dots, whole dots."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import ndimage, spatial

from filmhand.screen.dot_shapes import Dot, DotFunction
from filmhand.screen.lattice import find_lattice
from filmhand.screen.tile import FULL_TONE, build_tile, rank_pixels
from filmhand.units import Resolution

DOT_FUNCTIONS = {str(dot): dot.row.function for dot in Dot if dot.row.function is not None}
SCREENS = [
    (Resolution(300, 300), 45, 22.5),
    (Resolution(300, 300), 25, 45),
    (Resolution(300, 600), 35, 75),
]
NAMES = [f"{dpi}-{lpi}-{angle}" for dpi, lpi, angle in SCREENS]


@cache
def tile_of(lattice, dot, *, smallest_dot=1, smallest_shadow_dot=1):
    return build_tile(
        lattice, dot, smallest_dot=smallest_dot, smallest_shadow_dot=smallest_shadow_dot
    )


@pytest.fixture(scope="module", params=SCREENS, ids=NAMES)
def lattice(request):
    dpi, lpi, angle = request.param
    return find_lattice(lpi, angle, dpi)


@pytest.mark.parametrize("dot", DOT_FUNCTIONS)
def test_ranks_are_a_permutation(lattice, dot):
    ranks = rank_pixels(lattice, DOT_FUNCTIONS[dot], smallest_dot=1, smallest_shadow_dot=1, seed=1)
    assert np.array_equal(np.sort(ranks), np.arange(lattice.pixels))


@pytest.mark.parametrize("dot", DOT_FUNCTIONS)
@pytest.mark.parametrize("tones", [101, 257])
def test_every_tone_inks_exactly_its_share_of_a_period(lattice, dot, tones):
    thresholds = np.sort(tile_of(lattice, dot).thresholds.ravel())
    codes = np.rint(np.linspace(0, 1, tones) * FULL_TONE).astype(np.int64)
    inked = np.searchsorted(thresholds, codes, side="right")
    wanted = (2 * codes * lattice.pixels + FULL_TONE) // (2 * FULL_TONE)  # halves rounded up
    assert np.array_equal(inked, wanted)
    assert (inked[0], inked[-1]) == (0, lattice.pixels)


@pytest.mark.parametrize("tone", [0.03, 0.5, 0.77])
def test_any_window_of_a_whole_period_holds_the_exact_tone(flat, tone):
    # 300 dpi, 45 lpi, 22.5 degrees: the same period laid out in rows and in columns.
    lattice = find_lattice(45, 22.5, Resolution(300, 300))
    tile = tile_of(lattice, "round")
    code = round(tone * FULL_TONE)
    wanted = (2 * code * lattice.pixels + FULL_TONE) // (2 * FULL_TONE)
    (a, _), (c, _) = lattice.period
    along = tile.brick.length, tile.brick.height
    columns = np.gcd(a, c)
    upright = int(columns), lattice.pixels // int(columns)
    for width, height in (along, upright):
        for row, column in ((0, 0), (3, 17), (1001, 777)):
            window = flat(tile, tone, width=width, height=height, row=row, column=column)
            assert window.sum() == wanted


@pytest.mark.parametrize("dot", DOT_FUNCTIONS)
def test_bare_is_bare_and_solid_is_solid(lattice, dot, flat):
    for tile in (
        tile_of(lattice, dot),
        tile_of(lattice, dot, smallest_dot=7, smallest_shadow_dot=12),
    ):
        assert not flat(tile, 0, width=300, height=300).any()
        assert flat(tile, 1, width=300, height=300).all()


@pytest.mark.parametrize(
    ("dot", "highest"), [("round", 0.4), ("square", 0.3), ("diamond", 0.3), ("ellipse", 0.25)]
)
def test_dots_and_holes_are_equal_to_a_pixel_until_they_join(lattice, dot, highest, flat, areas):
    # ``highest`` stays as far below the tone where dots join that a pixel more makes no bridge.
    cell = lattice.pixels / lattice.dots
    tile = tile_of(lattice, dot)
    for tone in (0.02, 0.1, 0.23, highest):
        for bits in (flat(tile, tone), ~flat(tile, 1 - tone)):
            sizes = areas(bits)
            assert sizes.size > 100
            # Below one pixel a dot, some have one and the others none.
            assert sizes.min() >= max(1, np.floor(tone * cell))
            assert sizes.max() <= max(1, np.ceil(tone * cell))


@pytest.mark.parametrize("dot", DOT_FUNCTIONS)
def test_nothing_smaller_than_the_smallest_dot_or_hole(lattice, dot, flat, areas):
    tile = tile_of(lattice, dot, smallest_dot=7, smallest_shadow_dot=12)
    for tone in (0.004, 0.03, 0.07, 0.2, 0.35, 0.45):
        for bits, smallest in ((flat(tile, tone), 7), (~flat(tile, 1 - tone), 12)):
            sizes = areas(bits)
            assert not (sizes < smallest).any(), (tone, sizes.min())
    assert areas(flat(tile, 0.03)).size > 5


@pytest.mark.parametrize("dot", DOT_FUNCTIONS)
def test_the_mean_tone_stays_within_half_a_smallest_dot(lattice, dot):
    dot_size, shadow_dot_size = 7, 12
    tile = tile_of(lattice, dot, smallest_dot=dot_size, smallest_shadow_dot=shadow_dot_size)
    thresholds = np.sort(tile.thresholds.ravel())
    tones = np.linspace(0, 1, 1001)
    inked = np.searchsorted(thresholds, np.rint(tones * FULL_TONE), side="right")
    off = np.abs(inked - tones * lattice.pixels)
    # The quantum of a 16-bit tone, and the half pixel of the rounding, come on top.
    spare = lattice.pixels / FULL_TONE / 2 + 1
    assert off[tones < 0.5].max() <= dot_size / 2 + spare
    assert off[tones > 0.5].max() <= shadow_dot_size / 2 + spare


def test_dropped_dots_are_spread_evenly(flat):
    # Where two in three dots are left out, the distance from each to the next hardly scatters.
    lattice = find_lattice(45, 22.5, Resolution(300, 300))
    cell = lattice.pixels / lattice.dots
    tile = tile_of(lattice, "round", smallest_dot=12)
    labels, count = ndimage.label(flat(tile, 4 / cell, width=900, height=900))
    rows, columns = np.nonzero(labels)
    owner = labels[rows, columns]
    size = np.bincount(owner)[1:]
    middles = np.stack([np.bincount(owner, axis)[1:] / size for axis in (rows, columns)], 1)

    def scatter(points):
        inside = ((points > 60) & (points < 840)).all(axis=1)
        nearest = spatial.KDTree(points).query(points[inside], k=2)[0][:, 1]
        return nearest.mean(), nearest.std() / nearest.mean()

    mean, spread = scatter(middles)
    at_random = np.random.default_rng(1).random((count, 2)) * 900
    random_mean, random_spread = scatter(at_random)
    # A Poisson field has a spread of sqrt(4 / pi - 1) = 0.52.
    assert random_spread == pytest.approx(0.52, abs=0.06)
    assert spread < 0.25
    assert mean > 1.5 * random_mean


def test_shadow_dots_come_in_an_order_of_their_own(flat):
    # Common practice, no source: lights and shadows of a picture must not show one pattern. Of two
    # orders that know nothing of each other, the first tenths have a tenth in common.
    lattice = find_lattice(25, 45, Resolution(300, 300))
    tile = tile_of(lattice, "round", smallest_dot=12, smallest_shadow_dot=12)
    tone = 0.1 * 12 * lattice.dots / lattice.pixels

    def centers(bits):
        labels, count = ndimage.label(bits)
        middles = ndimage.center_of_mass(bits, labels, range(1, count + 1))
        return np.array(middles)[:, ::-1] * [1, -1]  # x, and y up

    width = 900
    dots, shadow_dots = (
        centers(bits)
        for bits in (flat(tile, tone, width=width), ~flat(tile, 1 - tone, width=width))
    )
    assert dots.shape[0] > 25
    beside = shadow_dots - lattice.dot_vectors.sum(axis=0) / 2
    within = spatial.KDTree(dots).query(beside)[0] < 2
    assert within.mean() < 0.4


@pytest.mark.parametrize("dot", DOT_FUNCTIONS)
def test_every_dot_grows_in_one_piece(dot, flat, areas):
    # At 45 degrees the tips of diamonds run along the pixels' diagonal, and thin slanting lines
    # step; by spot value alone both leave pixels that touch at a corner only.
    lattice = find_lattice(25, 45, Resolution(300, 300))
    tile = tile_of(lattice, dot, smallest_dot=7, smallest_shadow_dot=12)
    for tone in (0.05, 0.3, 0.35, 0.4):
        assert areas(flat(tile, tone)).min(initial=99) >= 7
        assert areas(~flat(tile, 1 - tone)).min(initial=99) >= 12


def test_shadows_of_square_dots_are_holes_and_not_hairlines(flat):
    lattice = find_lattice(25, 22.5, Resolution(300, 300))
    shadow_dots = ~flat(tile_of(lattice, "square"), 0.9)
    # 14 pixels a shadow dot: as a square it is over 3 wide; a hairline net would vanish whole.
    kept = ndimage.binary_opening(shadow_dots, np.ones((2, 2)))
    assert kept.sum() > 0.8 * shadow_dots.sum()


def test_the_same_screen_is_built_the_same(lattice):
    first = build_tile(lattice, "ellipse", smallest_dot=5).thresholds
    again = build_tile(lattice, "ellipse", smallest_dot=5).thresholds
    assert np.array_equal(first, again)
    assert first.dtype == np.uint16
    assert first.min() >= 1


@pytest.mark.parametrize("center", [(0.5, 0.5), (0.0, 0.5), (0.25, -0.125)])
def test_shadow_dots_of_their_own_function_are_asked_for_places_around_their_center(center):
    lattice = find_lattice(45, 22.5, Resolution(300, 300))
    asked = {}

    def remember(name):
        def value(xp, x, y):
            asked[name] = x, y
            return -(x**2) - y**2

        return value

    spot = DotFunction(
        remember("dot"), shadow_dot_center=center, shadow_dot_value=remember("shadow dot")
    )
    rank_pixels(lattice, spot, smallest_dot=1, smallest_shadow_dot=1, seed=1)
    for of_dot, of_shadow_dot, shift in zip(asked["dot"], asked["shadow dot"], center, strict=True):
        assert np.abs(of_dot).max() <= 1 and np.abs(of_shadow_dot).max() <= 1
        # A cell is 2 wide, and repeats.
        apart = of_dot - of_shadow_dot - 2 * shift
        assert np.abs((apart + 1) % 2 - 1).max() < 1e-9

"""Every dot shape against the standard's table, its joining tones, and scipy's labels.

Spot functions: ISO 32000-1:2008, 10.5.3, table 128. The stochastic screen: void and cluster of
R. Ulichney, Proc. SPIE 1913, 1993; green noise of D. L. Lau, G. R. Arce, N. C. Gallagher,
Proc. IEEE 86(12), 1998, whose principal frequency is sqrt(g / M) for clusters of M pixels
(from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage, spatial

from filmhand.expression import read_expression
from filmhand.pipeline.render.screen_plan import spot_of
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.screen.grain import _nearest, build_grain, find_grain, scatter
from filmhand.screen.lattice import find_lattice
from filmhand.screen.screener import Screener
from filmhand.screen.tile import FULL_TONE, build_tile
from filmhand.units import Resolution

pytestmark = pytest.mark.outside

DOT_FUNCTIONS = {str(dot): dot.row.function for dot in Dot if dot.row.function is not None}
DPI = Resolution(300, 300)


def flat(tile, tone, *, side=600):
    strip = np.full((side, side), round(tone * FULL_TONE), np.uint16)
    return Screener(tile, column=0, width=side).cut(strip, row=0)


def areas(bits):
    """Pixels of the 4-connected components that the border does not cut."""
    labels, count = ndimage.label(bits)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    edge = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    sizes[np.unique(edge)] = 0
    return sizes[1:][sizes[1:] > 0]


def joining_tones(spot):
    """Tones at which the dots of a fine cell meet their neighbors along x and along y."""
    side = 256
    cell = (np.arange(side) + 0.5) / side * 2 - 1
    value = spot.value(np, *np.meshgrid(cell, cell)).ravel()
    rank = np.empty(side * side, np.int64)
    rank[np.argsort(-value, kind="stable")] = np.arange(side * side)
    tiled = np.tile(rank.reshape(side, side), (2, 2))
    middle = side // 2
    found = []
    for other in ((middle, middle + side), (middle + side, middle)):
        low, high = 0.0, 1.0
        while high - low > 1e-3:
            tone = (low + high) / 2
            labels, _ = ndimage.label(tiled < tone * side * side)
            joined = labels[middle, middle] == labels[other]
            low, high = (low, tone) if joined else (tone, high)
        found.append(high)
    return found


@pytest.mark.parametrize("ratio", [0.4, 0.6, 0.75, 0.95])
def test_ellipses_join_in_two_steps_that_their_ratio_sets(ratio):
    # The contour through the middle of the sides is the rhombus |x| + |y| / ratio = 1.
    spot = spot_of(DotShape(Dot.ELLIPSE, ratio=ratio))
    assert joining_tones(spot) == pytest.approx([ratio / 2, 1 - ratio / 2], abs=0.01)
    assert spot.joins == pytest.approx((ratio / 2, 1 - ratio / 2))


def test_the_usual_ellipse_is_the_standards():
    cell = np.linspace(-0.997, 0.991, 101)  # off the borders, where a last bit picks the branch
    x, y = np.meshgrid(cell, cell)
    ax, ay = np.abs(x), np.abs(y)
    w = 3 * ax + 4 * ay - 3
    standard = np.where(
        w < 0,
        1 - (x**2 + (ay / 0.75) ** 2) / 4,
        np.where(w > 1, ((1 - ax) ** 2 + ((1 - ay) / 0.75) ** 2) / 4 - 1, 0.5 - w),
    )
    assert DOT_FUNCTIONS["ellipse"].value(np, x, y) == pytest.approx(standard, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "joins"),
    [
        ("1 - (x*x + y*y)", (np.pi / 4, np.pi / 4)),  # SimpleDot
        ("cos(180*x)/2 + cos(180*y)/2", (0.5, 0.5)),  # CosineDot
        ("1 - (x*x + 0.9*y*y)", (0.811, 0.745)),  # EllipseA
        ("1 - sqrt(x*x + 5/8*y*y)", (0.878, 0.621)),  # EllipseB
    ],
)
def test_the_standards_functions_can_be_written_out(text, joins):
    # The tones are areas inside the contour through the middle of a side, worked out by integration
    # of the formulas in the table.
    spot = spot_of(DotShape(Dot.SPOT, spot=text))
    assert joining_tones(spot) == pytest.approx(joins, abs=0.012)


@pytest.mark.parametrize(
    ("text", "dot", "shadow_dot"),
    [
        ("1 - (x*x + y*y)", (0, 0), (0.5, 0.5)),
        ("x*x + y*y - 1", (0.5, 0.5), (0, 0)),  # InvertedSimpleDot: black starts at the corners
        ("-abs(y)", (0, 0), (None, 0.5)),
    ],
)
def test_own_functions_start_and_end_where_they_say(text, dot, shadow_dot):
    spot = spot_of(DotShape(Dot.SPOT, spot=read_expression(text).text))
    for found, wanted in ((spot.dot_center, dot), (spot.shadow_dot_center, shadow_dot)):
        for axis, place in zip(found, wanted, strict=True):
            assert place is None or abs(axis) == pytest.approx(place)


def test_the_scale_of_an_own_function_does_not_matter():
    lattice = find_lattice(35, 22.5, DPI)
    tiles = [
        build_tile(lattice, spot_of(DotShape(Dot.SPOT, spot=text))).thresholds
        for text in ("1 - (x*x + y*y)", "-900000*(x*x + y*y)", "7 - 0.000001*(x*x + y*y)")
    ]
    assert np.array_equal(tiles[0], tiles[1])
    assert np.array_equal(tiles[0], tiles[2])


@pytest.mark.parametrize(
    "shape",
    [
        DotShape(Dot.ELLIPSE, ratio=0.6),
        DotShape(Dot.SPOT, spot="cos(180*x)/2 + cos(180*y)/2"),
        DotShape(Dot.SPOT, spot="x*x + y*y - 1"),
        DotShape(Dot.SPOT, spot="x"),
    ],
    ids=str,
)
def test_own_shapes_are_as_exact_as_the_usual_ones(shape):
    lattice = find_lattice(35, 22.5, DPI)
    tile = build_tile(lattice, spot_of(shape))
    thresholds = np.sort(tile.thresholds.ravel())
    codes = np.rint(np.linspace(0, 1, 101) * FULL_TONE).astype(np.int64)
    wanted = (2 * codes * lattice.pixels + FULL_TONE) // (2 * FULL_TONE)
    assert np.array_equal(np.searchsorted(thresholds, codes, side="right"), wanted)
    if shape.spot == "x":
        return  # stripes, not dots
    cell = lattice.pixels / lattice.dots
    for tone in (0.1, 0.25):
        for bits in (flat(tile, tone), ~flat(tile, 1 - tone)):
            sizes = areas(bits)
            assert sizes.size > 100
            assert (sizes.min(), sizes.max()) == (int(tone * cell), int(tone * cell) + 1)


GRAINS = [(DPI, 35), (Resolution(600, 600), 45), (Resolution(300, 600), 25)]
GRAIN_IDS = [f"{dpi} {lpi}" for dpi, lpi in GRAINS]


@pytest.fixture(scope="module", params=GRAINS, ids=GRAIN_IDS)
def grain(request):
    dpi, lpi = request.param
    found = find_grain(lpi, dpi)
    assert found.lpi == pytest.approx(lpi, rel=1e-3)
    return found


def test_grain_is_exact_at_every_tone(grain):
    thresholds = np.sort(build_grain(grain).thresholds.ravel())
    pixels = thresholds.size
    codes = np.rint(np.linspace(0, 1, 257) * FULL_TONE).astype(np.int64)
    wanted = (2 * codes * pixels + FULL_TONE) // (2 * FULL_TONE)
    assert np.array_equal(np.searchsorted(thresholds, codes, side="right"), wanted)


def test_grain_has_equal_dots_and_equal_holes(grain):
    tile = build_grain(grain)
    side = 2 * max(grain.width, grain.height)
    cell = tile.thresholds.size / grain.dots
    for tone in (0.05, 0.1, 0.2):
        for bits in (flat(tile, tone, side=side), ~flat(tile, 1 - tone, side=side)):
            sizes = areas(bits)
            # A few of the closest pairs may have met at 20 %.
            near = (sizes >= np.floor(tone * cell) - 1) & (sizes <= np.ceil(tone * cell))
            assert near.mean() > 0.95, (tone, np.unique(sizes))
            assert sizes.min() >= np.floor(tone * cell) - 1


def test_grain_leaves_out_what_is_too_small(grain):
    cell = grain.width * grain.height / grain.dots
    smallest = int(0.2 * cell)
    tile = build_grain(grain, smallest_dot=smallest, smallest_shadow_dot=smallest)
    side = 2 * max(grain.width, grain.height)
    for tone in (0.01, 0.05, 0.15, 0.3, 0.5):
        for bits in (flat(tile, tone, side=side), ~flat(tile, 1 - tone, side=side)):
            assert areas(bits).min(initial=smallest) >= smallest, tone
    assert not flat(tile, 0, side=side).any()
    assert flat(tile, 1, side=side).all()


def test_centers_of_grain_are_blue_noise_and_no_lattice(grain):
    dots, shadow_dots = scatter(grain, seed=1)
    assert len(dots) == len(shadow_dots) == grain.dots
    inches = np.array([grain.width / grain.resolution.x, grain.height / grain.resolution.y])
    spacing = 1 / grain.lpi

    def nearest(points, others, k):
        tree = spatial.KDTree(others * inches, boxsize=inches)
        return tree.query(points * inches, k=k)[0]

    between = nearest(dots, dots, 2)[:, 1] / spacing
    # A Poisson field has a mean of 0.5 and a spread of 0.52; a square lattice 1 and none.
    assert 0.75 < between.mean() < 1.0
    assert 0.03 < between.std() / between.mean() < 0.2
    # Shadow dots lie in the voids: none near a dot.
    assert nearest(shadow_dots, dots, 1).min() > 0.4 * spacing


def test_the_nearest_centers_are_found(grain):
    dots, _ = scatter(grain, seed=1)
    places = np.random.default_rng(2).random((4000, 2))
    found, away = _nearest(grain, places, dots)
    inches = np.array([grain.width / grain.resolution.x, grain.height / grain.resolution.y])
    distance, number = spatial.KDTree(dots * inches, boxsize=inches).query(places * inches)
    assert away == pytest.approx(distance)
    assert (found == number).mean() > 0.999  # ties apart


def test_the_spectrum_of_grain_peaks_at_its_mean_spacing_in_all_directions():
    grain = find_grain(45, Resolution(600, 600))
    bits = flat(build_grain(grain), 0.2, side=4 * grain.width)
    # Blocks of their own phase, averaged: single blocks scatter.
    side, power = 256, []
    window = np.outer(np.hanning(side), np.hanning(side))
    for top in range(0, bits.shape[0] - side, side // 2):
        for left in range(0, bits.shape[1] - side, side // 2):
            block = bits[top : top + side, left : left + side] - 0.2
            power.append(np.abs(np.fft.fft2(block * window)) ** 2)
    power = np.mean(power, axis=0)
    fy, fx = np.meshgrid(*[np.fft.fftfreq(side, 1 / 600)] * 2, indexing="ij")
    radius = np.hypot(fx, fy)
    rings = np.arange(6, 150, 3.0)
    ring_mean = np.array([power[(radius >= r) & (radius < r + 3)].mean() for r in rings])
    peak = rings[ring_mean.argmax()] + 1.5
    assert peak == pytest.approx(45, rel=0.15)
    # Low frequencies, which would show as mottle, are far below the peak.
    assert ring_mean[rings < 20].max() < 0.1 * ring_mean.max()
    # No direction stands out at the peak: that is why it cannot beat with a mesh.
    ring = (np.abs(radius - peak) < 5) & (fy >= 0)
    angle = np.degrees(np.arctan2(fy, fx))[ring] % 180
    by_angle = [power[ring][(angle >= a) & (angle < a + 20)].mean() for a in range(0, 180, 20)]
    assert max(by_angle) < 2.5 * min(by_angle)

"""The places that a mesh loses first: where they are told to be, and how wide."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.bitmap.components import count_components
from filmhand.mesh.bitmap.strokes import InkShape
from filmhand.mesh.bitmap.worst_places import (
    WorstPlace,
    _taken_by_square,
    disc_over,
    narrowest_places,
    smallest_components,
)
from filmhand.mesh.limits import Feature
from filmhand.units import Resolution

DPI = Resolution(600, 600)
PIXEL = 25400 / 600


def packed(bits):
    """Reads rows a .. b of the bits, packed."""
    return lambda a, b: np.packbits(bits[a:b], axis=1)


def places(bits, *, ink=True, disc=8, resolution=DPI, skip=0):
    """The worst places under a disc of so many pixels."""
    packed = np.packbits(np.pad(bits, ((0, 0), (skip, 0)), constant_values=True), axis=1)
    shape = InkShape(
        lambda a, b: packed[a:b],
        (bits.shape[1], bits.shape[0]),
        resolution=resolution,
        ink=ink,
        near_um=20 * PIXEL,
        skip=skip,
    )
    return narrowest_places(shape, disc * max(resolution.pixel_um()))


def three_strokes():
    """A broad bar, and strokes of 2, 4 and 6 pixels that are 120, 60 and 30 long."""
    bits = np.zeros((900, 1500), bool)
    bits[700:800, 100:1400] = True
    bits[100:102, 200:320] = True
    bits[100:104, 900:960] = True
    bits[500:506, 500:530] = True
    return bits


@pytest.mark.parametrize("ink", [True, False])
@pytest.mark.parametrize("skip", [0, 3])
def test_the_places_are_on_the_strokes_and_tell_their_widths(ink, skip):
    bits = three_strokes()
    # As gaps the strokes are bare, in a sheet of solid ink.
    found = places(bits == ink, ink=ink, skip=skip)
    assert {spot.feature for spot in found} == {"stroke" if ink else "gap"}
    assert all(bits[spot.y_px, spot.x_px] for spot in found)
    told = sorted((spot.y_px // 100, spot.x_px // 500, spot.width_um / PIXEL) for spot in found)
    assert told == [(1, 0, 2), (1, 1, 4), (5, 1, 6)]


def test_what_loses_most_comes_first():
    assert [spot.width_um / PIXEL for spot in places(three_strokes())] == [2, 4, 6]


def test_nothing_lost_means_no_place():
    bits = three_strokes()
    bits[:600] = False
    assert places(bits) == []


def test_of_places_close_together_one_is_told():
    bits = np.zeros((600, 600), bool)
    bits[100:500:10, 100:160] = True  # forty hair-lines within 17 mm
    found = places(bits)
    assert 1 <= len(found) <= 3
    for one in range(len(found)):
        for other in range(one):
            apart = np.hypot(
                found[one].x_px - found[other].x_px, found[one].y_px - found[other].y_px
            )
            assert apart / 600 * 25.4 >= 5


@pytest.mark.parametrize("at", [1, 63, 64, 511, 512, 890])
def test_places_at_seams_and_edges(at):
    bits = np.zeros((900, 200), bool)
    bits[at : at + 3, 40:160] = True
    (spot,) = places(bits)
    assert at <= spot.y_px < at + 3
    assert spot.width_um == pytest.approx(3 * PIXEL)


def test_beyond_the_edge_a_stroke_goes_on():
    bits = np.zeros((900, 200), bool)
    bits[:3, 40:160] = True
    assert places(bits) == []


def test_unequal_pixels_are_measured_in_the_coarser():
    bits = np.zeros((900, 400), bool)
    bits[100:700, 200:202] = True  # two pixels of 300 dpi: 169 um
    resolution = Resolution(300, 600)
    (spot, *_) = places(bits, resolution=resolution)
    assert spot.width_um == pytest.approx(2 * 25400 / 300)


@pytest.mark.parametrize("ink", [True, False])
def test_the_smallest_components_are_told_once_a_neighborhood(ink):
    bits = np.zeros((1000, 1000), bool)
    for row, column, side in (
        (100, 100, 2),
        (110, 100, 1),
        (500, 500, 3),
        (900, 900, 4),
        (900, 100, 5),
    ):
        bits[row : row + side, column : column + side] = True
    dots, shadow_dots = count_components(
        packed(bits == ink), (1000, 1000), small_dot=30, small_shadow_dot=30
    )
    found = smallest_components((dots if ink else shadow_dots).small, DPI, ink=ink)
    assert [(spot.x_px, spot.y_px) for spot in found] == [(100, 110), (501, 501), (902, 902)]
    assert [spot.feature for spot in found] == ["dot" if ink else "shadow dot"] * 3
    assert found[0].width_um == pytest.approx(PIXEL * (4 / np.pi) ** 0.5)


def test_a_disc_over_a_limit_is_wider_by_a_pixel_at_most():
    for limit in (10.0, PIXEL, 2 * PIXEL, 77.8, 113.1):
        assert limit < disc_over(limit, DPI) <= limit + PIXEL * (1 + 1e-9)


def test_a_disc_over_a_limit_of_whole_pixels_is_one_wider():
    for pixels in (0, 1, 2, 3, 7):
        assert disc_over(pixels * PIXEL, DPI) == pytest.approx((pixels + 1) * PIXEL)
        assert disc_over((pixels + 0.5) * PIXEL, DPI) == pytest.approx((pixels + 1) * PIXEL)
    # Of pixels that are not square the longer side counts.
    assert disc_over(100, Resolution(254, 600)) == pytest.approx(200)


@pytest.mark.parametrize(("apart", "told"), [(99, 1), (100, 2)])
@pytest.mark.parametrize("down", [False, True])
def test_places_5_mm_apart_are_told_both(down, apart, told):
    """At 508 and 254 dpi 5 mm are 100 pixels and 50."""
    resolution = Resolution(254, 508) if down else Resolution(508, 254)
    bits = np.zeros((300, 300), bool)
    bits[20, 20] = bits[20 + apart * down, 20 + apart * (not down)] = True
    dots, _ = count_components(packed(bits), (300, 300), small_dot=9, small_shadow_dot=1)
    assert len(smallest_components(dots.small, resolution, ink=True)) == told


def test_three_places_are_told_at_most():
    bits = np.zeros((700, 700), bool)
    bits[50::150, 50::150] = True
    dots, _ = count_components(packed(bits), (700, 700), small_dot=9, small_shadow_dot=1)
    assert len(smallest_components(dots.small, DPI, ink=True)) == 3


def test_what_is_lost_is_gathered_by_squares_of_64_pixels():
    # Of hairlines a broad disc takes every pixel: what each square holds is what it loses.
    chance = np.random.default_rng(3)
    height, width = 700, 1300
    bits = np.zeros((height, width), bool)
    bits[20:-20:23, 30:-30] = chance.random((29, width - 60)) < 0.9
    packed = np.packbits(bits, axis=1)
    shape = InkShape(lambda a, b: packed[a:b], (width, height), resolution=DPI, ink=True, near_um=0)
    taken = _taken_by_square(shape, 8 * PIXEL)
    padded = np.pad(bits, ((0, -height % 64), (0, -width % 64)))
    by_square = padded.reshape(11, 64, 21, 64).sum(axis=(1, 3))
    assert np.array_equal(taken, by_square)


def test_a_place_is_told_in_millimeters_from_the_sheets_corner():
    place = WorstPlace(254, 127, 123.456, Feature.GAP)
    resolution = Resolution(508, 254)
    assert place.millimeters(resolution) == pytest.approx((12.7, 12.7))
    assert place.moved(3, -4) == WorstPlace(257, 123, 123.456, Feature.GAP)
    told = WorstPlace(252, 126, 123.456, Feature.GAP).record(resolution)
    assert told == {"what": "gap", "x_mm": 12.6, "y_mm": 12.6, "width_um": 123.5}

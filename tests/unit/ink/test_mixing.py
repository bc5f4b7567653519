"""The print that inks make on a cloth."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.mixing import (
    MOST_INKS,
    PrintingInk,
    bands_to_lab,
    demichel_weights,
    lab_to_bands,
    print_model,
)

WHITE, BLACK = np.array([100.0, 0, 0]), np.array([0.0, 0, 0])
CYAN, MAGENTA, YELLOW = (np.array(lab) for lab in ([55, -37, -50], [48, 74, -3], [89, -5, 93]))
RED = srgb_to_lab(np.array([0.8, 0.1, 0.1]))


def same(one, other, within=1e-6):
    return color_difference(np.asarray(one), np.asarray(other)).max() <= within


def test_bands_go_there_and_back_and_hold_the_usual_inks():
    colors = np.stack([WHITE, BLACK, CYAN, MAGENTA, YELLOW, RED])
    assert same(bands_to_lab(lab_to_bands(colors)), colors, 1e-4)
    assert lab_to_bands(WHITE) == pytest.approx([1, 1, 1])


def test_a_color_beyond_the_bands_is_clipped():
    assert lab_to_bands(np.array([60.0, -120, 0])).min() == 0


def test_the_parts_of_the_area_are_products_and_add_up():
    weights = demichel_weights(np.array([0.3, 0.6, 0.1]))
    assert weights[0b000] == pytest.approx(0.7 * 0.4 * 0.9)
    assert weights[0b001] == pytest.approx(0.3 * 0.4 * 0.9)
    assert weights[0b110] == pytest.approx(0.7 * 0.6 * 0.1)
    many = demichel_weights(np.random.default_rng(1).random((5, 6, 4)))
    assert many.shape == (5, 6, 16)
    assert many.sum(axis=-1) == pytest.approx(1)


def test_without_ink_there_is_cloth_and_solid_ink_on_white_has_its_color():
    for opacity in (0, 0.4, 1):
        model = print_model([PrintingInk(RED, opacity), PrintingInk(CYAN, opacity)], WHITE)
        printed = model.screened(np.array([[0.0, 0], [1, 0], [0, 1]]))
        assert same(printed, [WHITE, RED, CYAN], 1e-4)


def test_a_filter_over_a_filter_adds_densities():
    model = print_model([PrintingInk(YELLOW), PrintingInk(CYAN)], WHITE)
    both = lab_to_bands(YELLOW) * lab_to_bands(CYAN)
    assert model.primaries[0b11] == pytest.approx(both)
    lightness, a, b = model.screened(np.array([1.0, 1.0]))
    assert a < -40  # yellow and cyan make green
    assert b > 10
    assert lightness < 55


def test_print_order_counts_for_inks_that_hide():
    red, cyan = PrintingInk(RED, 1), PrintingInk(CYAN, 1)
    solid = np.ones(2)
    assert same(print_model([red, cyan], WHITE).screened(solid), CYAN, 1e-4)
    assert same(print_model([cyan, red], WHITE).screened(solid), RED, 1e-4)


def test_on_black_cloth_a_filter_shows_nothing_and_an_underbase_brings_it_out():
    alone = print_model([PrintingInk(RED)], BLACK)
    assert same(alone.screened(np.ones(1)), BLACK)
    with_white = print_model([PrintingInk(WHITE, 1), PrintingInk(RED)], BLACK)
    assert same(with_white.screened(np.ones(2)), RED, 1e-4)


def test_a_white_ink_that_hides_nine_tenths_is_a_light_gray_on_black():
    model = print_model([PrintingInk(WHITE, 0.9)], BLACK)
    assert model.primaries[1] == pytest.approx([0.9] * 3)


def test_solid_areas_side_by_side_share_their_light():
    model = print_model([PrintingInk(RED), PrintingInk(CYAN)], WHITE)
    light = 0.25 * lab_to_bands(RED) + 0.5 * lab_to_bands(CYAN) + 0.25
    assert same(model.side_by_side(np.array([0.25, 0.5])), bands_to_lab(light))
    # Beside each other they cover more than over each other, so it is darker.
    assert model.screened(np.array([0.25, 0.5]))[0] > model.side_by_side(np.array([0.25, 0.5]))[0]


def test_light_that_spreads_makes_halftones_darker_and_leaves_solids():
    areas = np.array([[0.0], [0.5], [1]])
    lightness = [
        print_model([PrintingInk(BLACK)], WHITE, yule_nielsen=n).screened(areas)[:, 0]
        for n in (1, 1.7, 2)
    ]
    assert lightness[0][1] > lightness[1][1] > lightness[2][1]
    assert lightness[2][[0, 2]] == pytest.approx([100, 0], abs=1e-9)
    # (0.5 * 1 + 0.5 * 0) ** 2 = 0.25 of the light
    assert lightness[2][1] == pytest.approx(116 * np.cbrt(0.25) - 16)


@pytest.mark.parametrize(
    ("inks", "exponent"),
    [([PrintingInk(RED)] * (MOST_INKS + 1), 1), ([PrintingInk(RED, 1.1)], 1), ([], 0.9)],
)
def test_what_is_out_of_range_is_told(inks, exponent):
    with pytest.raises(ValueError, match=r"are more than|is not from 0 to 1|is under 1"):
        print_model(inks, WHITE, yule_nielsen=exponent)


@pytest.mark.parametrize("count", [1, 2, 5])
@pytest.mark.parametrize("exponent", [1.0, 1.7])
def test_slopes_are_those_of_small_steps(count, exponent):
    inks = [PrintingInk(color, 0.3) for color in (YELLOW, RED, BLACK, CYAN, MAGENTA)[:count]]
    model = print_model(inks, WHITE, yule_nielsen=exponent)
    coverages = 0.01 + 0.98 * np.random.default_rng(2).random((40, count))
    printed, slopes = model.screened_with_slopes(coverages)
    assert printed == pytest.approx(model.screened(coverages))
    for k, step in enumerate(1e-6 * np.eye(count)):
        by_steps = model.screened(coverages + step) - model.screened(coverages - step)
        assert pytest.approx(by_steps / 2e-6, rel=1e-3, abs=1e-2) == slopes[:, k].T

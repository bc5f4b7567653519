from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.color_table import ColorTable, grid_codes
from filmhand.ink.mixing import PrintingInk, demichel_weights, print_model
from filmhand.ink.solids import _FARTHEST, OTHER, with_solids
from filmhand.ink.solving import InkRules, separation_table

WHITE, DARK = np.array([100.0, 0, 0]), np.array([8.0, 0, 0])
RED, BLUE, BLACK = np.array([50.0, 60, 40]), np.array([40.0, 5, -50]), np.array([20.0, 0, 0])


def mixed(inks: int, part: float) -> ColorTable:
    """A table that has the same part of all inks everywhere."""
    return ColorTable.of(np.full((9**3, inks), part))


def model_on(cloth, *colors, opacity=0.9):
    return print_model([PrintingInk(color, opacity) for color in colors], cloth)


def colors_of(codes):
    """L*, a*, b* of hexadecimal codes."""
    return srgb_to_lab(np.array([list(bytes.fromhex(code)) for code in codes.split()]) / 255)


def test_the_color_of_an_ink_is_its_solid_and_that_of_the_cloth_is_bare():
    model = model_on(WHITE, RED, BLUE, BLACK)
    table = with_solids(mixed(3, 0.4), model, InkRules(black=2, black_alone=True))
    found = table.at(lab_to_srgb(np.stack([WHITE, RED, BLUE, BLACK])))
    assert found == pytest.approx(np.concatenate([np.zeros((1, 3)), np.eye(3)]))
    assert table.at(np.zeros(3)) == pytest.approx([0, 0, 1])
    far = lab_to_srgb(np.array([60.0, -50, 40]))
    assert table.at(far) == pytest.approx([0.4, 0.4, 0.4])


def test_between_a_solid_and_what_is_mixed_nothing_jumps():
    table = with_solids(mixed(2, 0.3), model_on(WHITE, RED, BLUE), InkRules())
    codes = np.linspace(lab_to_srgb(RED), lab_to_srgb(BLUE), 400)
    found = table.at(codes)
    assert np.abs(np.diff(found, axis=0)).max() < 0.05
    assert found[0] == pytest.approx([1, 0])


@pytest.mark.parametrize(
    ("inks", "ends", "most", "bare"),
    [
        # Of blue and yellow no mixture is between; the table has folds there.
        ("0000b0 f0e000 e60000 000000", "0000b0 f0e000", 2.0, 0.25),
        # The lighter is knocked out where the darker is solid; both are dots in between.
        ("00e600 00b000 808080 000000", "00e600 00b000", 5.0, 0.15),
    ],
)
def test_from_ink_to_ink_no_pale_seam_is_left(inks, ends, most, bare):
    first, last = colors_of(ends)
    colors = colors_of(inks)
    model = print_model([PrintingInk(one) for one in colors], WHITE, yule_nielsen=1.7)
    rules = InkRules(black=3, black_alone=True)
    codes = np.linspace(lab_to_srgb(first), lab_to_srgb(last), 257)[64:193]
    found = with_solids(separation_table(model, rules), model, rules).at(codes)
    assert color_difference(model.screened(found), srgb_to_lab(codes)).max() < most
    assert demichel_weights(found)[:, 0].max() < bare
    assert np.abs(np.diff(found, axis=0)).max() < 0.05


def test_bare_dark_cloth_stays_bare_beside_light_inks():
    table = with_solids(mixed(2, 0.2), model_on(DARK, WHITE, RED), InkRules(), based=True)
    assert table.at(lab_to_srgb(DARK)) == pytest.approx([0, 0])


@pytest.mark.parametrize("below", [0.0, 1.0])
def test_what_lies_below_an_ink_is_what_the_table_has_there(below):
    table = ColorTable.of(np.tile([below, 0.9], (9**3, 1)))
    model = model_on(DARK, np.array([95.0, 0, 0]), RED, opacity=1.0)
    found = with_solids(table, model, InkRules(), based=True).at(lab_to_srgb(RED))
    assert found == pytest.approx([below, 1])


@pytest.mark.parametrize(
    ("part", "kept"), [(0.015, 0), (0.985, 1), (0.04, 0.04), (0.5, 0.5), (0.96, 0.96)]
)
def test_dots_that_color_nothing_are_left_out(part, kept):
    table = with_solids(mixed(2, part), model_on(WHITE, RED, BLUE), InkRules())
    assert table.at(lab_to_srgb(np.array([60.0, -50, 40]))) == pytest.approx([kept, kept])


def test_it_has_a_value_for_each_color():
    table = with_solids(mixed(2, 0.5), model_on(WHITE, RED, BLUE), InkRules())
    found = table.at(grid_codes(17))
    assert np.isfinite(found).all()
    assert found.min() >= 0
    assert found.max() <= 1


def test_colors_that_are_far_apart_are_never_looked_at_for_nothing():
    # What with_solids leaves out, since it is too far from a solid to be drawn to it.
    colors = srgb_to_lab(grid_codes(9))
    least = np.inf
    for color in colors:
        far = colors[((colors - color) ** 2).sum(axis=1) > _FARTHEST**2]
        least = min(least, color_difference(far, color).min(initial=np.inf))
    assert OTHER < least < np.inf

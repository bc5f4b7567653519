"""How much of each ink prints a color."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.ink.solving import InkRules, separation_table, solve_inks

WHITE = np.array([100.0, 0, 0])
CYAN, MAGENTA, YELLOW, BLACK = (
    np.array(lab, float) for lab in ([55, -37, -50], [48, 74, -3], [89, -5, 93], [16, 0, 0])
)


def process(**options):
    inks = [PrintingInk(color) for color in (CYAN, MAGENTA, YELLOW, BLACK)]
    return print_model(inks, WHITE, **options)


def printed(model, count=300, seed=1):
    """Colors that the model prints, and of what."""
    coverages = np.random.default_rng(seed).random((count, model.ink_count))
    return model.screened(coverages), coverages


@pytest.mark.parametrize("exponent", [1, 1.7])
def test_three_inks_are_found_again(exponent):
    inks = [PrintingInk(color) for color in (CYAN, MAGENTA, YELLOW)]
    model = print_model(inks, WHITE, yule_nielsen=exponent)
    colors, coverages = printed(model)
    found = solve_inks(colors, model, InkRules())
    assert found.differences.max() < 0.1
    assert np.abs(found.coverages - coverages).max() < 0.02


@pytest.mark.parametrize("part", [0, 0.5, 1])
def test_four_inks_print_the_same_color_whatever_part_black_has(part):
    model = process(yule_nielsen=1.7)
    colors, _ = printed(model)
    found = solve_inks(colors, model, InkRules(black=3, black_generation=part))
    assert found.differences.mean() < 0.05
    assert found.differences.max() < 1


def test_more_black_generation_takes_more_black_and_less_ink():
    model = process()
    colors, _ = printed(model)
    found = [
        solve_inks(colors, model, InkRules(black=3, black_generation=part)).coverages
        for part in (0, 0.5, 1)
    ]
    blacks = [one[:, 3].mean() for one in found]
    totals = [one.sum(axis=1).mean() for one in found]
    assert blacks[0] + 0.1 < blacks[1] < blacks[2] - 0.1
    assert totals[0] > totals[1] > totals[2] + 0.1


def test_a_gray_of_black_alone_where_black_has_all():
    gray = np.array([[60.0, 0, 0]])
    model = process()
    most = solve_inks(gray, model, InkRules(black=3, black_generation=1)).coverages[0]
    assert most[:3].max() < 0.02
    least = solve_inks(gray, model, InkRules(black=3, black_generation=0)).coverages[0]
    assert least[3] < 0.03
    assert least[:3].min() > 0.2


def test_no_place_has_more_ink_than_the_limit():
    model = process()
    colors, _ = printed(model)
    found = solve_inks(colors, model, InkRules(black=3, black_generation=0, total_ink=2.2))
    assert found.coverages.sum(axis=1).max() < 2.2 + 1e-9
    assert np.median(found.differences) < 0.05
    dark = solve_inks(np.array([[0.0, 0, 0]]), model, InkRules(black=3, total_ink=2.2))
    assert dark.coverages.sum() == pytest.approx(2.2, abs=0.01)


def test_what_cannot_be_printed_goes_to_a_near_color_of_about_its_hue():
    green = srgb_to_lab(np.array([[0.0, 1, 0]]))
    model = process(yule_nielsen=1.7)
    found = solve_inks(green, model, InkRules(black=3))
    print_ = model.screened(found.coverages)[0]
    assert found.differences[0] > 5
    assert found.coverages.min() >= 0
    assert found.coverages.max() <= 1
    hue, wanted = (np.degrees(np.arctan2(lab[2], lab[1])) for lab in (print_, green[0]))
    assert abs(hue - wanted) < 12
    # Nothing of a fine grid of all that prints is clearly nearer.
    steps = np.linspace(0, 1, 9)
    grid = np.stack(np.meshgrid(steps, steps, steps, [0, 0.2]), axis=-1).reshape(-1, 4)
    assert found.differences[0] < color_difference(model.screened(grid), green).min() + 2


def test_white_is_bare_cloth_and_a_solid_ink_is_itself():
    colors = np.stack([WHITE, MAGENTA])
    found = solve_inks(colors, process(), InkRules(black=3)).coverages
    assert found[0] == pytest.approx([0, 0, 0, 0], abs=0.01)
    assert found[1] == pytest.approx([0, 1, 0, 0], abs=0.02)


def test_on_black_cloth_white_takes_white_ink_and_black_takes_none():
    layers = (([96, 0, 0], 0.9), ([50, 65, 45], 0.8), ([35, 15, -55], 0.8))
    inks = [PrintingInk(np.array(lab, float), opacity) for lab, opacity in layers]
    model = print_model(inks, np.array([12.0, 0, 0]))
    found = solve_inks(np.array([[92.0, 0, 0], [12, 0, 0]]), model, InkRules()).coverages
    assert found[0, 0] > 0.95
    assert found[0, 1:].max() < 0.05
    assert found[1].max() < 0.01
    colors, _ = printed(model)
    assert solve_inks(colors, model, InkRules()).differences.max() < 1


def test_the_table_gives_what_is_solved_and_between_its_colors_nearly_so():
    model = process(yule_nielsen=1.7)
    rules = InkRules(black=3, total_ink=3)
    table = separation_table(model, rules, size=9, compensate_black=False)
    codes = np.random.default_rng(3).random((400, 3))
    colors = srgb_to_lab(codes)
    direct = solve_inks(colors, model, rules)
    prints = direct.differences < 1
    assert prints.sum() > 100
    off = color_difference(model.screened(table.at(codes[prints])), colors[prints])
    assert off.mean() < 1.5
    corner = table.at(np.array([1.0, 1, 1]))
    assert corner == pytest.approx([0, 0, 0, 0], abs=0.01)


@pytest.mark.slow
def test_a_table_of_inks_that_can_stand_for_each_other_is_smooth():
    # Solved color by color alone, neighbors get different inks, and between them it is 8 off.
    inks = ([64, 8, 30], [40, 0, -17], [28, 1, -24], [25, 4, 4], [20, 2, -21], [12, 1, -11])
    layers = [PrintingInk(np.array(lab, float), 0.5) for lab in inks]
    model = print_model(layers, WHITE, yule_nielsen=1.7)
    codes = lab_to_srgb(printed(model)[0])
    table = separation_table(model, InkRules(), compensate_black=False)
    off = color_difference(model.screened(table.at(codes)), srgb_to_lab(codes))
    assert off.mean() < 5


def test_black_is_the_darkest_that_prints_and_shadows_stay_apart():
    inks = [PrintingInk(np.array([30.0, 0, 0]))]
    model = print_model(inks, WHITE)
    grays = np.array([[0.0] * 3, [0.1] * 3, [0.2] * 3, [1.0] * 3])
    without = separation_table(model, InkRules(), size=9, compensate_black=False).at(grays)[:, 0]
    assert without[:2] == pytest.approx([1, 1], abs=0.01)
    found = separation_table(model, InkRules(), size=9).at(grays)[:, 0]
    assert found[0] == pytest.approx(1, abs=0.01)
    assert found[3] == pytest.approx(0, abs=0.01)
    assert found[0] > found[1] + 0.005 > found[2] + 0.01


@pytest.mark.parametrize(
    "rules", [InkRules(black=4), InkRules(total_ink=0), InkRules(black_generation=1.2)]
)
def test_rules_that_cannot_be_are_told(rules):
    with pytest.raises(ValueError, match=r"there is no ink|leaves no ink|is not from 0 to 1"):
        solve_inks(WHITE[None], process(), rules)


def test_what_is_wholly_black_is_of_black_alone_only_where_that_is_asked():
    model, black = process(yule_nielsen=1.7), np.zeros((1, 3))
    rich = separation_table(model, InkRules(black=3), size=9).at(black)[0]
    alone = separation_table(model, InkRules(black=3, black_alone=True), size=9).at(black)[0]
    assert rich[3] > 0.9 and rich[:3].min() > 0.5
    assert model.screened(alone)[0] == pytest.approx(model.screened(np.eye(4)[3])[0], abs=1)
    assert alone[:3].max() < rich[:3].min()


def test_colors_that_print_as_they_are_stay_where_shadows_are_made_lighter():
    model = process(yule_nielsen=1.7)
    codes = lab_to_srgb(model.screened(np.array([[0, 0.9, 0.7, 0], [0.5, 0, 0.4, 0.0]])))
    with_shadows = separation_table(model, InkRules(), size=17)
    bare = separation_table(model, InkRules(), size=17, compensate_black=False)
    assert with_shadows.at(codes) == pytest.approx(bare.at(codes), abs=0.02)

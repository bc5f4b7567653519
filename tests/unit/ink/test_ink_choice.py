from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.ink_choice import AskedColors, choose_inks
from filmhand.ink.mixing import PrintingInk, print_model

WHITE = np.array([100.0, 0, 0])
RED, BLUE, BLACK, GRAY = np.array([[50.0, 60, 40], [40, 5, -50], [10, 0, 0], [60, 0, 0]])
NEARLY_RED = RED + 1.5


def asked(colors, areas, *, flat=True):
    return AskedColors(np.array(colors), np.sqrt(areas), np.full(len(colors), flat))


def chosen(colors, areas, count, *, flat=True, worth=6.0):
    lab = np.array(colors)
    return sorted(choose_inks(asked(colors, areas, flat=flat), lab, WHITE, count, worth=worth))


def tints(ink, parts):
    model = print_model([PrintingInk(ink, 0.5)], WHITE, yule_nielsen=1.7)
    return list(model.screened(np.array(parts)[:, None]))


def test_a_gradient_of_one_ink_asks_for_no_other():
    assert chosen([BLUE, *tints(BLUE, [0.2, 0.4, 0.6, 0.8])], [0.2] * 5, 3, flat=False) == [0]


def test_a_flat_gray_has_an_ink_where_there_is_one_and_else_is_a_tint_of_black():
    colors, areas = [RED, BLUE, BLACK, tints(BLACK, [0.4])[0]], [0.3, 0.3, 0.2, 0.2]
    assert chosen(colors, areas, 4) == [0, 1, 2, 3]
    assert chosen(colors, areas, 3) == [0, 1, 2]


def test_a_small_accent_is_worth_more_than_a_tint_of_much():
    colors, areas = [BLACK, tints(BLACK, [0.5])[0], RED], [0.49, 0.49, 0.02]
    assert chosen(colors, areas, 2) == [0, 2]


def test_no_two_inks_are_of_one_color():
    assert len(chosen([RED, NEARLY_RED], [0.5, 0.5], 2, worth=0.0)) == 1


@pytest.mark.parametrize("count", [1, 2, 3])
def test_no_more_are_chosen_than_asked(count):
    assert len(chosen([RED, BLUE, GRAY, BLACK], [0.25] * 4, count)) == count


def test_a_later_ink_makes_an_earlier_one_give_way():
    # The middle of two is the best single ink; of two, both ends are.
    middle = (RED + BLUE) / 2
    colors, areas = [RED, middle, BLUE], [0.3, 0.4, 0.3]
    assert chosen(colors, areas, 1, flat=False) == [1]
    assert chosen(colors, areas, 2, flat=False) == [0, 2]

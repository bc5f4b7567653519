"""Plain names of colors."""

from __future__ import annotations

import re

import numpy as np
import pytest

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_names import color_name, ink_names
from filmhand.ink.color_words import ColorWord


def lab(*colors):
    return srgb_to_lab(np.array([list(bytes.fromhex(color)) for color in colors]) / 255)


@pytest.mark.parametrize(
    ("color", "word"),
    [
        ("000000", "black"), ("808080", "gray"), ("ffffff", "white"), ("8b0000", "dark red"),
        ("b3261e", "red"), ("fa8072", "pink"), ("ff91a4", "pink"), ("ffc0cb", "light pink"),
        ("101848", "dark blue"), ("7a4a20", "brown"), ("f2c418", "yellow"),
        ("008080", "dark turquoise"),
    ],
)  # fmt: skip
def test_colors_are_called_what_people_call_them(color, word):
    assert color_name(lab(color)[0]) == word


def test_every_name_is_given_to_some_color():
    steps = np.linspace(0, 1, 14)
    grid = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3)
    assert {color_name(color) for color in srgb_to_lab(grid)} == set(ColorWord)


def test_names_can_end_a_file_name_and_no_two_are_equal():
    names = ink_names(lab("8b0000", "800010", "ffffff", "8c0404"))
    assert names == ["dark-red", "dark-red-2", "white", "dark-red-3"]
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)?", name) for name in ink_names(lab("9acd32")))


def test_no_inks_have_no_names():
    assert ink_names(np.zeros((0, 3))) == []

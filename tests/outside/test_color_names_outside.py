"""Plain names against the named colors of CSS (W3C, CSS Color Module Level 4, section 6.1)."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import ImageColor

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_names import color_name

pytestmark = pytest.mark.outside

TERMS = ("red", "pink", "orange", "yellow", "green", "turquoise", "blue", "purple", "magenta",
         "gray", "white", "black")  # fmt: skip
# Whites that are cream.
OTHERS = {"navajowhite", "antiquewhite"}
NAMED = [name for name in ImageColor.colormap if name.endswith(TERMS) and name not in OTHERS]


def named(name):
    return color_name(srgb_to_lab(np.array(ImageColor.getrgb(name)[:3]) / 255)).value


def test_the_base_colors_have_their_own_names():
    for term in TERMS:
        assert named(term).endswith(term), term


def test_most_names_that_end_in_a_base_color_agree():
    same = [name for name in NAMED if next(t for t in TERMS if name.endswith(t)) in named(name)]
    assert len(NAMED) > 50
    assert len(same) >= 0.8 * len(NAMED), sorted(set(NAMED) - set(same))


def test_dark_and_light_agree_where_css_says_so():
    for name in ("darkred", "darkgreen", "darkblue", "lightgreen", "lightblue", "lightpink",
                 "lightyellow", "lightgray"):  # fmt: skip
        assert named(name).split()[0] == name[: -len(named(name).split()[1])], name


def test_all_pinks_and_salmons_are_pink():
    for name in ("pink", "hotpink", "deeppink", "lightpink", "salmon", "darksalmon", "lightsalmon",
                 "lightcoral"):  # fmt: skip
        assert named(name).endswith("pink"), name

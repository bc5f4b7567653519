"""Inks for colors against SciPy's least squares within bounds, begun at many places."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.ink.solving import InkRules, solve_inks

pytestmark = pytest.mark.outside

STARTS = ((0.1,), (0.5,), (0.9,), (0.1, 0.9), (0.9, 0.1))
WHITE = np.array([100.0, 0, 0])
TRANSPARENT = [([55, -37, -50], 0), ([48, 74, -3], 0), ([89, -5, 93], 0)]
OPAQUE = [([95, 0, 0], 0.9), ([50, 65, 45], 0.7), ([85, 0, 80], 0.7), ([35, 15, -55], 0.7)]


def nearest_of_several_starts(color, model):
    """The least CIEDE2000 that SciPy comes to."""

    def off(coverages):
        return model.screened(coverages) - color

    starts = [np.resize(start, model.ink_count) for start in STARTS]
    found = [least_squares(off, start, bounds=(0, 1), max_nfev=100).x for start in starts]
    return color_difference(model.screened(np.array(found)), color).min()


@pytest.mark.parametrize(
    ("inks", "cloth"), [(TRANSPARENT, WHITE), (OPAQUE, np.array([15.0, 0, 0]))]
)
def test_no_start_of_the_library_prints_a_color_that_ours_does_not(inks, cloth):
    layers = [PrintingInk(np.array(lab, float), opacity) for lab, opacity in inks]
    model = print_model(layers, cloth, yule_nielsen=1.7)
    rng = np.random.default_rng(9)
    beyond, within = rng.random((6, 3)), rng.random((6, model.ink_count))
    colors = np.concatenate([srgb_to_lab(beyond), model.screened(within)])
    ours = solve_inks(colors, model, InkRules()).differences
    theirs = np.array([nearest_of_several_starts(color, model) for color in colors])
    printable = theirs < 0.5
    assert printable.sum() >= 6
    assert ours[printable].max() < 0.5
    # Beyond what prints, each weighs hue in its own way.
    assert (ours < theirs + 3).all()

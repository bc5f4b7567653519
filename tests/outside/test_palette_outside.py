"""Inks found in open photographs against palettes that Pillow finds (median cut, then k-means).

What counts is what they print: each pixel the nearest color that the dots of all inks can mix.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from skimage import data

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.ink.palette import find_inks
from filmhand.ink.solving import InkRules, solve_inks

pytestmark = pytest.mark.outside

WHITE = np.array([100.0, 0.0, 0.0])


def mean_difference(codes, palette):
    model = print_model([PrintingInk(lab, 0.5) for lab in palette], WHITE, yule_nielsen=1.7)
    colors = srgb_to_lab(codes.reshape(-1, 3)[::97] / 255)
    return solve_inks(colors, model, InkRules()).differences.mean()


@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea", "rocket"])
def test_they_print_pictures_nearer(name):
    codes = getattr(data, name)()[::2, ::2, :3]
    ours = find_inks(codes, WHITE, count=6).colors
    quantized = Image.fromarray(codes).quantize(6, Image.Quantize.MEDIANCUT, kmeans=20)
    theirs = srgb_to_lab(np.array(quantized.getpalette()[:18]).reshape(-1, 3) / 255)
    assert mean_difference(codes, ours) < 0.9 * mean_difference(codes, theirs)

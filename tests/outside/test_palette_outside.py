"""Inks found in open photographs against palettes that Pillow finds (median cut, then k-means)."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from skimage import data

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import nearest_color
from filmhand.ink.palette import find_inks

pytestmark = pytest.mark.outside

NOWHERE = np.array([0.0, -120.0, 0.0])  # a cloth that no picture has the color of


def mean_difference(codes, palette):
    return nearest_color(srgb_to_lab(codes.reshape(-1, 3) / 255), palette)[1].mean()


@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea", "rocket"])
def test_pictures_lie_as_near_to_them(name):
    codes = getattr(data, name)()[::2, ::2, :3]
    ours = find_inks(codes, NOWHERE, count=6).colors
    quantized = Image.fromarray(codes).quantize(6, Image.Quantize.MEDIANCUT, kmeans=20)
    theirs = srgb_to_lab(np.array(quantized.getpalette()[:18]).reshape(-1, 3) / 255)
    assert mean_difference(codes, ours) < 1.05 * mean_difference(codes, theirs)

"""sRGB to CIELAB against two libraries and the numbers of their standards.

colour-science and scikit-image, each with its own matrices: theirs are the standard's four-digit
ones, which part from full precision in the fourth place.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageCms
from skimage import color as skimage_color

from filmhand.ink.cielab import (
    D50,
    D65,
    SRGB_PRIMARIES,
    lab_to_light,
    lab_to_srgb,
    lab_to_xyz,
    srgb_to_lab,
    white_of,
    xyz_matrix,
    xyz_to_lab,
)

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def codes():
    return np.random.default_rng(3).random((5000, 3))


def test_the_matrix_is_that_of_the_profile_of_srgb():
    # The colorants of the ICC's own profile of sRGB (sRGB2014.icc), rounded to s15Fixed16.
    colorants = [
        [0.43607, 0.38515, 0.14307],
        [0.22249, 0.71687, 0.06061],
        [0.01392, 0.09708, 0.71410],
    ]
    assert np.abs(xyz_matrix(SRGB_PRIMARIES) - colorants).max() < 3e-4


def test_srgb_as_colour_science_has_it(codes, colour_science):
    xyz = colour_science.RGB_to_XYZ(
        colour_science.models.eotf_sRGB(codes),
        colour_science.RGB_COLOURSPACES["sRGB"],
        illuminant=np.array(D50),
        chromatic_adaptation_transform="Bradford",
    )
    theirs = colour_science.XYZ_to_Lab(xyz, np.array(D50))
    assert np.abs(srgb_to_lab(codes) - theirs).max() < 0.02


def test_xyz_as_colour_science_and_scikit_image_have_it(colour_science):
    xyz = np.random.default_rng(4).random((5000, 3)) * white_of(D50)
    ours = xyz_to_lab(xyz)
    assert np.abs(ours - colour_science.XYZ_to_Lab(xyz, np.array(D50))).max() < 1e-9
    theirs = skimage_color.xyz2lab(xyz, illuminant="D50")
    assert np.abs(ours - theirs).max() < 0.02  # whose white is ASTM E308's
    back = colour_science.Lab_to_XYZ(ours, np.array(D50))
    assert np.abs(lab_to_xyz(ours) - back).max() < 1e-12


def test_the_whites_are_those_of_colour_science(colour_science):
    for name, ours in (("D50", D50), ("D65", D65)):
        table = colour_science.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
        assert np.abs(np.array(ours) - table[name]).max() < 1e-12


def test_the_way_back_is_that_of_littlecms():
    # CIELAB of 8 bits, as littlecms takes it.
    rng = np.random.default_rng(6)
    lab = srgb_to_lab(rng.uniform(0.1, 0.9, (400, 3))).round()
    coded = np.round(np.stack([lab[:, 0] * 2.55, lab[:, 1], lab[:, 2]], axis=1))
    stored = np.stack([coded[:, 0], coded[:, 1] % 256, coded[:, 2] % 256], axis=1)
    picture = Image.frombytes("LAB", (400, 1), stored.astype(np.uint8).tobytes())
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("LAB", 5000),
        ImageCms.createProfile("sRGB"),
        "LAB",
        "RGB",
        flags=ImageCms.Flags.NOOPTIMIZE,  # else by a table that is coarse in the shadows
    )
    theirs = np.asarray(ImageCms.applyTransform(picture, transform))[0]
    exact = np.stack([coded[:, 0] / 2.55, lab[:, 1], lab[:, 2]], axis=1)
    within = (np.abs(lab_to_light(exact) - 0.5) < 0.495).all(axis=1)
    ours = lab_to_srgb(exact[within]) * 255
    assert within.sum() > 300
    assert np.abs(ours - theirs[within]).max() < 1

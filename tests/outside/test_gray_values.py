"""Gray and lightness against published formulas and values.

Sources: IEC 61966-2-1:1999 (sRGB), luminance row of its primaries from ITU-R BT.709; CIE 15 and
the CIE e-ILV 17-23-076 (lightness, rational constants). The numbers below are those formulas
evaluated to the digits shown, and scikit-image's color conversions and littlecms (through Pillow)
as a second and a third opinion.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageCms

from filmhand.art.files.gray import (
    GrayTables,
    codes_of_light,
    light_of_codes,
    lightness,
    lightness_of_codes,
)
from filmhand.tone import linear_to_srgb, srgb_to_linear

pytestmark = pytest.mark.outside

# code, relative luminance, L* (IEC 61966-2-1; CIE 15)
NEUTRALS = [
    (32, 0.014444, 12.250), (64, 0.051269, 27.093), (96, 0.116971, 40.731), (119, 0.184475, 50.034),
    (128, 0.215861, 53.585), (160, 0.351533, 65.868), (188, 0.502886, 76.246),
    (192, 0.527115, 77.704), (224, 0.745404, 89.177),
]  # fmt: skip

# color, luminance, L*, 8-bit code of the gray of that luminance
COLORS = [
    ((255, 0, 0), 0.2126, 53.23, 127), ((0, 255, 0), 0.7152, 87.74, 220),
    ((0, 0, 255), 0.0722, 32.30, 76), ((255, 255, 0), 0.9278, 97.14, 247),
    ((0, 255, 255), 0.7874, 91.12, 229), ((255, 0, 255), 0.2848, 60.32, 145),
    ((255, 128, 0), 0.3670, 67.05, 163), ((222, 184, 155), 0.5218, 77.39, 191),
    ((0, 0, 128), 0.0156, 12.98, 33),
]  # fmt: skip


def gray(color: tuple[int, int, int], channel: str = "luminance") -> int:
    pixel = np.array([[[*color, 255]]], np.uint8)
    return int(GrayTables(channel).coded(pixel, alpha=False)[0, 0])


@pytest.mark.parametrize(("code", "light", "star"), NEUTRALS)
def test_neutral_codes(code: int, light: float, star: float) -> None:
    assert float(srgb_to_linear(np.array(code / 255))) == pytest.approx(light, abs=1e-6)
    assert light_of_codes()[code * 257] == pytest.approx(light, abs=1e-6)
    assert float(lightness(np.array(light))) == pytest.approx(star, abs=1e-3)
    assert lightness_of_codes()[code * 257] == pytest.approx(star / 100 * 65535, abs=1.5)
    assert gray((code, code, code)) == code * 257


@pytest.mark.parametrize(("color", "light", "star", "code"), COLORS)
def test_colors(color: tuple[int, int, int], light: float, star: float, code: int) -> None:
    found = gray(color)
    assert light_of_codes()[found] == pytest.approx(light, abs=1e-4)
    assert round(found / 257) == code
    assert gray(color, "lightness") / 655.35 == pytest.approx(star, abs=0.01)


def test_flat_gray_of_code_140_has_tone_45_1() -> None:
    assert 100 * (1 - gray((140, 140, 140)) / 65535) == pytest.approx(45.1, abs=0.01)


def test_curve_has_no_step_where_its_pieces_meet() -> None:
    for join in (0.04045, 0.0031308):
        for curve in (srgb_to_linear, linear_to_srgb):
            around = curve(np.array([join - 1e-9, join + 1e-9]))
            assert abs(around[1] - around[0]) < 1e-6
    around = lightness(np.array([216 / 24389 - 1e-12, 216 / 24389 + 1e-12]))
    assert abs(around[1] - around[0]) < 1e-8


def test_there_and_back() -> None:
    codes = np.arange(65536)
    back = linear_to_srgb(srgb_to_linear(codes / 65535)) * 65535
    # The standard's own rounded constants part at the joint by less than 3e-8 of full scale.
    assert np.abs(back - codes).max() < 0.01
    assert (
        np.abs(codes_of_light()[::257] - linear_to_srgb(codes[::257] / 65535) * 65535).max() <= 0.5
    )


def test_every_neutral_is_exact_for_every_weighting() -> None:
    ramp = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 4, axis=2)
    for channel in ("luminance", "red", "green", "blue", "cyan", "magenta", "yellow", "black"):
        assert np.array_equal(
            GrayTables(channel).coded(ramp, alpha=False)[0], np.arange(256) * 257
        ), channel


def test_scikit_image_agrees_on_lightness() -> None:
    color = pytest.importorskip("skimage.color")
    rgb = np.random.default_rng(1).integers(0, 256, (40, 40, 3), np.uint8)
    star = color.rgb2lab(rgb)[..., 0]
    rgbx = np.dstack([rgb, np.full((40, 40), 255, np.uint8)])
    ours = GrayTables("lightness").coded(rgbx, alpha=False) / 655.35
    assert np.abs(ours - star).max() < 0.02  # its matrix has other last digits


def test_scikit_image_agrees_on_luminance() -> None:
    color = pytest.importorskip("skimage.color")
    rgb = np.random.default_rng(2).integers(0, 256, (40, 40, 3), np.uint8)
    light = color.rgb2xyz(rgb)[..., 1]
    rgbx = np.dstack([rgb, np.full((40, 40), 255, np.uint8)])
    ours = light_of_codes()[GrayTables("luminance").coded(rgbx, alpha=False)]
    assert np.abs(ours - light).max() < 1e-4  # its matrix has other last digits


def test_littlecms_agrees_on_lightness_of_grays() -> None:
    # Only of grays: littlecms' Lab is seen under D50, to which colors are adapted and whites not.
    ramp = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB"
    )
    lab = np.asarray(ImageCms.applyTransform(Image.fromarray(ramp), transform))[0]
    rgbx = np.dstack([ramp, np.full((1, 256), 255, np.uint8)])
    ours = GrayTables("lightness").coded(rgbx, alpha=False)[0] / 257
    assert np.abs(lab[:, 0] - ours).max() <= 0.75  # it gives whole codes only
    assert np.abs(lab[:, 1:].view(np.int8)).max() <= 1


def test_littlecms_agrees_on_luminance_of_colors() -> None:
    # Its Lab is seen under D50, so the shares of the primaries are those of littlecms' own sRGB
    # profile, which are adapted to that; the rest is ours.
    rgb = np.random.default_rng(3).integers(0, 256, (40, 40, 3), np.uint8)
    srgb = ImageCms.createProfile("sRGB")
    lab = ImageCms.createProfile("LAB")
    transform = ImageCms.buildTransform(srgb, lab, "RGB", "LAB")
    star = np.asarray(ImageCms.applyTransform(Image.fromarray(rgb), transform))[..., 0] / 2.55
    shares = np.array([ImageCms.ImageCmsProfile(srgb).profile.red_colorant[0][1],
                       ImageCms.ImageCmsProfile(srgb).profile.green_colorant[0][1],
                       ImageCms.ImageCmsProfile(srgb).profile.blue_colorant[0][1]])  # fmt: skip
    codes = [GrayTables(name) for name in ("red", "green", "blue")]
    rgbx = np.dstack([rgb, np.full((40, 40), 255, np.uint8)])
    light = [light_of_codes()[table.coded(rgbx, alpha=False)] for table in codes]
    ours = lightness(np.tensordot(shares, np.array(light), 1))
    assert np.abs(ours - star).max() < 0.35  # a whole code is 0.39

"""Pixels of our own decoders, given as the base reader would give them."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.formats.decoded_pixels import DecodedPixels


@pytest.mark.parametrize(
    ("colors", "opacity", "channels", "mode"),
    [
        ("L", False, 1, "L"),
        ("L", True, 2, "LA"),
        ("RGB", False, 3, "RGB"),
        ("RGB", True, 4, "RGBA"),
        ("CMYK", False, 5, "CMYK"),
        ("LAB", True, 4, "LAB"),
    ],
)
@pytest.mark.parametrize("deep", [False, True])
def test_bands_in_their_order_and_deep_ones_by_their_upper_half(
    colors, opacity, channels, mode, deep
) -> None:
    eight = np.random.default_rng(4).integers(0, 256, (3, 5, channels), np.uint8)
    pixels = eight.astype(np.uint16) * 256 + 200 if deep else eight
    read = DecodedPixels(pixels, colors, opacity, b"profile", (300, 150))
    if deep and not read.is_deep:
        assert mode == "L"  # sixteen bits of gray are held as they are
        return
    assert read.is_deep == deep
    image = read.as_image()
    assert (image.mode, image.size) == (mode, (5, 3))
    assert (image.info["icc_profile"], image.info["dpi"]) == (b"profile", (300, 150))
    for number, name in enumerate(image.getbands()):
        assert np.array_equal(np.asarray(image.getchannel(name)), eight[..., number])


def test_deep_gray_stays_deep_and_fractions_are_never_cut() -> None:
    words = np.array([[[0], [257], [65535]]], np.uint16)
    image = DecodedPixels(words, "L").as_image()
    assert np.asarray(image).tolist() == [[0, 257, 65535]] and image.info == {}
    codes = DecodedPixels(words.astype(np.float32), "L", coded=True)
    assert not codes.is_deep and np.asarray(codes.as_image()).tolist() == [[0, 257, 65535]]
    for light in (
        DecodedPixels(words.astype(np.float32), "L"),
        DecodedPixels(np.ones((2, 2, 3), np.float32), "RGB"),
    ):
        assert light.is_deep
        with pytest.raises(TypeError, match="fractions"):
            light.as_image()

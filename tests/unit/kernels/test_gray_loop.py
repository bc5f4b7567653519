"""The loop that codes pixels: the same codes as NumPy looks up."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.files import gray
from filmhand.art.files.gray import CHANNEL_WEIGHTS, GrayTables
from filmhand.kernels.loops import compiled

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")


@pytest.mark.parametrize("alpha", [False, True])
@pytest.mark.parametrize("light", [None, (np.arange(256) / 255) ** 1.8])
@pytest.mark.parametrize("channel", CHANNEL_WEIGHTS)
def test_pixels_get_the_same_codes(monkeypatch, channel, light, alpha):
    pixels = np.random.default_rng(4).integers(0, 256, (130, 170, 4), np.uint8)
    pixels[:20, :, 3] = 255
    pixels[20:30, :, 3] = 0
    pixels[40:50] = [[255, 255, 255, 255]]
    pixels[50:60] = 0
    ours = GrayTables(channel, light=light).coded(pixels, alpha=alpha)
    part = GrayTables(channel, light=light).coded(pixels[:, 3:60], alpha=alpha)
    monkeypatch.setattr(gray, "compiled", lambda: None)
    assert np.array_equal(ours, GrayTables(channel, light=light).coded(pixels, alpha=alpha))
    assert np.array_equal(part, ours[:, 3:60])
    assert np.unique(ours).size > 200


def test_arrays_that_do_not_go_together_are_refused():
    loops = compiled()
    assert loops is not None
    pixels, shares = np.zeros((5, 4), np.uint8), np.zeros((3, 256), np.int32)
    codes, out = np.zeros(1025, np.uint16), np.empty(5, np.uint16)
    loops.code_pixels(pixels, shares, codes, False, out)
    for wrong in ((pixels[:4], shares, out), (pixels, shares[:2], out), (pixels, shares, out[:3])):
        with pytest.raises(ValueError, match=r"go together|needed are"):
            loops.code_pixels(wrong[0], wrong[1], codes, False, wrong[2])


@pytest.mark.parametrize("share", [-5, 3000])
def test_light_beyond_the_codes_is_taken_for_the_last(share):
    loops = compiled()
    assert loops is not None
    codes = np.arange(1025, dtype=np.uint16)
    for over_white in (False, True):
        out = np.empty(5, np.uint16)
        pixels = np.full((5, 4), 255, np.uint8)
        loops.code_pixels(pixels, np.full((3, 256), share, np.int32), codes, over_white, out)
        assert set(out) == {0 if share < 0 else 1024}

"""Strips of a resampled picture against Pillow's resampling of the whole."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.sheet import resample
from filmhand.sheet.resample import Resampled

Method = Image.Resampling
SHARES = np.arange(65536) / 65535


@pytest.fixture(params=["as installed", "plain"], autouse=True)
def loops(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.param == "plain":
        monkeypatch.setattr(resample, "compiled", lambda: None)


@pytest.mark.parametrize("method", [Method.LANCZOS, Method.BICUBIC, Method.HAMMING])
@pytest.mark.parametrize("strip", [64, 100, 128, 512])
@pytest.mark.parametrize(
    ("size", "to"),
    [
        ((200, 300), (517, 777)),
        ((700, 900), (211, 260)),
        ((90, 1200), (300, 333)),
        ((64, 64), (64, 200)),
    ],
)
def test_strips_join_without_a_seam(
    method: Method, strip: int, size: tuple[int, int], to: tuple[int, int]
) -> None:
    picture = np.random.default_rng(7).integers(0, 65536, (size[1], size[0]), np.uint16)
    light = Image.fromarray(SHARES[picture].astype(np.float32))
    whole = np.asarray(light.resize(to, method))
    resampled = Resampled(picture, SHARES, to, method=method)
    parts = [resampled.rows(top, min(strip, to[1] - top)) for top in range(0, to[1], strip)]
    assert np.abs(np.vstack(parts) - whole).max() < 1e-6


def test_reducing_does_not_alias() -> None:
    """A fine grating far above what the reduced picture can hold comes out as its mean."""
    x = np.arange(1200)
    wave = 0.5 + 0.5 * np.sin(2 * np.pi * x * 0.37)
    grating = np.tile((wave * 65535).astype(np.uint16), (400, 1))
    small = Resampled(grating, SHARES, (200, 66), method=Method.LANCZOS).rows(0, 66)
    assert np.abs(small[5:-5, 5:-5] - 0.5).max() < 0.01


@pytest.mark.parametrize("to", [(331, 207), (41, 33), (60, 50)])
def test_a_flat_stays_exactly_flat(to: tuple[int, int]) -> None:
    flat = np.full((50, 60), 14151, np.uint16)
    large = Resampled(flat, SHARES, to, method=Method.LANCZOS).rows(10, 20)
    assert np.unique(large).size == 1
    assert abs(float(large[0, 0]) - 14151 / 65535) < 1e-7


def test_picture_of_few_pixels_is_enlarged_as_any_other() -> None:
    picture = np.array([[0, 65535]], np.uint16)
    large = Resampled(picture, SHARES, (40, 30), method=Method.LANCZOS).rows(0, 30)
    small = Image.fromarray(SHARES[picture].astype(np.float32))
    assert np.abs(large - np.asarray(small.resize((40, 30), Method.LANCZOS))).max() < 1e-6


@pytest.mark.parametrize("method", [Method.BICUBIC, Method.BILINEAR, Method.HAMMING])
@pytest.mark.parametrize("times", [1, 3])
def test_where_middles_of_pixels_meet_they_keep_their_value_exactly(
    method: Method, times: int
) -> None:
    picture = np.random.default_rng(8).random((40, 30)) > 0.7
    resampled = Resampled(
        picture.astype(np.uint16) * 65535, SHARES, (30 * times, 40 * times), method=method
    )
    large = resampled.rows(0, 40 * times)
    assert np.array_equal(large[times // 2 :: times, times // 2 :: times], picture)

"""Strips of a resampled picture against Pillow's resampling of the whole."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.sheet.resample import resample_rows

Method = Image.Resampling


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
    picture = np.random.default_rng(7).random((size[1], size[0]), np.float32)
    whole = np.asarray(Image.fromarray(picture).resize(to, method))
    parts = [
        resample_rows(
            lambda a, b: picture[a:b], size, to, first=top, count=min(strip, to[1] - top),
            method=method,
        )
        for top in range(0, to[1], strip)
    ]  # fmt: skip
    assert np.abs(np.vstack(parts) - whole).max() < 1e-6


def test_reducing_does_not_alias() -> None:
    """A fine grating far above what the reduced picture can hold comes out as its mean."""
    x = np.arange(1200)
    grating = np.tile(0.5 + 0.5 * np.sin(2 * np.pi * x * 0.37), (400, 1)).astype(np.float32)
    small = resample_rows(
        lambda a, b: grating[a:b], (1200, 400), (200, 66), first=0, count=66, method=Method.LANCZOS
    )
    assert np.abs(small[5:-5, 5:-5] - 0.5).max() < 0.01


def test_a_flat_stays_flat() -> None:
    flat = np.full((50, 60), 0.2158605, np.float32)
    large = resample_rows(
        lambda a, b: flat[a:b], (60, 50), (331, 207), first=10, count=90, method=Method.LANCZOS
    )
    assert np.abs(large - flat[0, 0]).max() < 1e-6


@pytest.mark.parametrize("method", [Method.BICUBIC, Method.BILINEAR, Method.HAMMING])
@pytest.mark.parametrize("times", [1, 3])
def test_where_middles_of_pixels_meet_they_keep_their_value_exactly(
    method: Method, times: int
) -> None:
    picture = np.random.default_rng(8).random((40, 30)) > 0.7
    large = resample_rows(
        lambda a, b: picture[a:b].astype(np.float64),
        (30, 40),
        (30 * times, 40 * times),
        first=0,
        count=40 * times,
        method=method,
    )
    assert np.array_equal(large[times // 2 :: times, times // 2 :: times], picture)

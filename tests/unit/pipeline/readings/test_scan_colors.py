"""Large scans are read smaller: by the light of whole squares."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from filmhand.pipeline.readings import scan_colors
from filmhand.profile.model import Limits
from filmhand.tone import FULL, linear_to_srgb


def test_squares_become_their_mean_light() -> None:
    black_and_white = np.tile(np.array([[0, FULL], [FULL, 0]], np.uint16), (4, 5))[:7]
    made = np.empty((3, 5), np.uint16)
    scan_colors.shrink(black_and_white, 2, made)
    half = round(float(linear_to_srgb(np.array(0.5))) * FULL)  # IEC 61966-2-1
    assert np.abs(made.astype(int) - half).max() <= 1


@pytest.mark.parametrize("suffix", ["png", "tif", "jpg"])
def test_large_scans_are_read_smaller(
    tmp_path: Path, suffix: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / f"scan.{suffix}"
    pixels = np.zeros((40, 61, 3), np.uint8)
    pixels[:, :30], pixels[:, 30:] = (200, 100, 50), (20, 140, 240)
    Image.fromarray(pixels).save(path, dpi=(1200, 600), quality=100, subsampling=0)
    whole = scan_colors.colors_of_scan(path, name="scan", limits=Limits())
    assert whole.shrunk == 1 and whole.codes.shape == (40, 61, 3)
    monkeypatch.setattr(scan_colors, "MOST_SCAN_PIXELS", 40 * 61 // 5)
    small = scan_colors.colors_of_scan(path, name="scan", limits=Limits())
    assert small.shrunk == 3 and small.codes.shape == (13, 20, 3)
    assert small.ppi == pytest.approx((400, 200), rel=1e-3)
    flat = np.abs(small.codes[:, [2, 15]].astype(int) - whole.codes[6, [8, 47]].astype(int))
    assert flat.max() <= 600  # of 65535: a JPEG's codes differ from block to block

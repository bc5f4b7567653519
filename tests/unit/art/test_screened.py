from __future__ import annotations

import math

import numpy as np
import pytest
from degraded import as_codes, drawing, page_of_text, skimage_picture

from filmhand.art.screened import find_screen


def dots(period: float, angle: float, *, size: int = 500) -> np.ndarray:
    y, x = np.mgrid[0:size, 0:size]
    t = math.radians(angle)
    u = 2 * np.pi * (x * math.cos(t) - y * math.sin(t)) / period
    v = 2 * np.pi * (x * math.sin(t) + y * math.cos(t)) / period
    tone = 0.25 + 0.4 * x / size
    return as_codes(((np.cos(u) + np.cos(v)) / 4 + 0.5 < tone).astype(float))


@pytest.mark.parametrize(("period", "angle"), [(5, 0), (7.3, 22.5), (10, 45), (16, 75), (22, 10)])
def test_period_and_angle_are_found(period: float, angle: float) -> None:
    found = find_screen(dots(period, angle))
    assert found is not None
    assert found.period_px == pytest.approx(period, rel=0.02)
    assert abs((found.angle - angle + 45) % 90 - 45) < 1


@pytest.mark.parametrize("name", ["camera", "brick", "grass", "gravel", "chessboard_GRAY", "page"])
def test_open_pictures_have_no_screen(name: str) -> None:
    picture = skimage_picture(name)
    assert picture is not None
    assert find_screen(picture) is None


def test_drawings_pages_ramps_and_noise_have_none() -> None:
    rng = np.random.default_rng(1)
    ramp = np.tile(np.linspace(0, 1, 600), (400, 1))
    for art in (drawing(600, 500), page_of_text(), ramp, rng.random((500, 500)), np.ones((9, 900))):
        assert find_screen(as_codes(art)) is None

"""Finding a screen in a bitmap: exact on gratings made from cosines."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.spectrum import find_screen


def grating(lpi: float, angle: float, dpi: int, *, dots: bool, side: int = 900) -> np.ndarray:
    y, x = np.mgrid[:side, :side] / dpi
    y = -y  # a viewer's y points up
    turn = np.radians(angle)
    along, across = x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)
    wave = np.cos(2 * np.pi * lpi * across)
    if dots:
        wave = wave + np.cos(2 * np.pi * lpi * along)
    return (wave > 0.4).astype(float)


@pytest.mark.parametrize("lpi", [20.3, 45, 61.7])
@pytest.mark.parametrize("angle", [0, 7.5, 22.5, 45, 61])
def test_dots(lpi: float, angle: float) -> None:
    found = find_screen(grating(lpi, angle, 300, dots=True), (300, 300))
    assert found is not None and not found.lines
    assert found.lpi == pytest.approx(lpi, rel=2e-4)
    assert (found.angle - angle + 45) % 90 - 45 == pytest.approx(0, abs=0.02)


@pytest.mark.parametrize("angle", [0, 22.5, 90, 112.5, 170])
def test_lines_are_told_from_dots_and_by_their_direction(angle: float) -> None:
    found = find_screen(grating(33, angle, 300, dots=False), (300, 300))
    assert found is not None and found.lines
    assert found.lpi == pytest.approx(33, rel=2e-4)
    assert (found.angle - angle + 90) % 180 - 90 == pytest.approx(0, abs=0.02)


def test_no_screen_in_flats_or_noise() -> None:
    assert find_screen(np.zeros((200, 200)), (300, 300)) is None
    noise = (np.random.default_rng(1).random((400, 400)) < 0.5).astype(float)
    assert find_screen(noise, (300, 300)) is None

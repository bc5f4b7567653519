"""The busiest place of a picture."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.art.analysis.busiest_place import busiest_place


def gray(tone: np.ndarray) -> np.ndarray:
    return np.round((1 - tone.clip(0, 1)) * 65535).astype(np.uint16)


@pytest.mark.parametrize(("x", "y"), [(60, 40), (300, 40), (200, 150), (340, 250)])
def test_a_patch_of_fine_change_is_found(x: int, y: int) -> None:
    tone = np.full((300, 400), 0.02)
    rows, columns = np.mgrid[:300, :400]
    around = np.hypot(rows - y, columns - x) < 30
    tone[around] = (0.5 + 0.4 * np.sin(columns / 4))[around]
    found = busiest_place(gray(tone), (80, 80))
    assert abs(found[0] * 400 - x) <= 25 and abs(found[1] * 300 - y) <= 25


def test_where_nothing_prints_nothing_is_busy() -> None:
    rows, columns = np.mgrid[:300, :400]
    tone = 0.5 + np.where(columns < 200, 0.4, 0.1) * np.sin(columns / 4 + rows / 7)
    assert busiest_place(gray(tone), (80, 80))[0] < 0.5
    clear = np.zeros((6, 8), np.bool_)
    clear[:, :4] = clear[:3] = True
    x, y = busiest_place(gray(tone), (80, 80), clear=clear)
    assert x > 0.55 and y > 0.6
    assert busiest_place(gray(tone), (80, 80), clear=np.ones((1, 1), np.bool_)) == (0.5, 0.5)


def test_middle_tones_come_before_solid_and_bare_edges() -> None:
    rows, columns = np.mgrid[:200, :400]
    tone = np.where(columns % 40 < 20, 0.0, 1.0)  # solid bars at the left
    tone[:, 200:] = (0.5 + 0.3 * np.sin(columns / 6 + rows / 9))[:, 200:]
    assert busiest_place(gray(tone), (60, 60))[0] > 0.5


@pytest.mark.parametrize("size", [(50, 50), (1, 1), (4000, 10), (10, 4000)])
def test_a_flat_gives_its_middle_whatever_the_size(size: tuple[int, int]) -> None:
    for tone in (0.0, 0.5, 1.0):
        x, y = busiest_place(gray(np.full((90, 70), tone)), size)
        assert (x, y) == (0.5, 0.5)


def test_pictures_of_a_pixel_or_a_line() -> None:
    for shape in ((1, 1), (1, 500), (500, 1)):
        tone = np.linspace(0, 1, shape[0] * shape[1]).reshape(shape)
        x, y = busiest_place(gray(tone), (20, 20))
        assert 0 <= x <= 1 and 0 <= y <= 1


@pytest.mark.parametrize("across", [False, True])
def test_change_counts_alike_along_and_across(across: bool) -> None:
    """Bars of one mean tone, whose edges lie one way only, come before an even tint of it."""
    rows, columns = np.mgrid[:400, :400]
    tone = np.full((400, 400), 0.5)
    bars = 0.5 + 0.3 * np.where((columns if across else rows) % 20 < 10, 1, -1)
    tone[:, 200:] = bars[:, 200:]
    x, _ = busiest_place(gray(tone), (80, 80))
    assert x > 0.5

"""Means over parts of a wedge that do not go by how many dots happen to lie in them."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.reading.windows import Picture, RepeatedCell
from filmhand.sheet.wedge_places import BoxMm
from filmhand.tone import linear_to_srgb

PPI = 200.0
MATRIX = np.diag([PPI / 25.4, PPI / 25.4, 1.0])


def picture(lpi, angle, phase=0.0):
    """Light that swings between 0 and 1 with the cells of a screen, one half on the mean."""
    y, x = np.mgrid[:120, :120] * 25.4 / PPI
    turn = np.deg2rad(angle)
    u, v = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
    waves = np.cos(2 * np.pi * lpi / 25.4 * u + phase) * np.cos(2 * np.pi * lpi / 25.4 * v)
    codes = np.rint(65535 * linear_to_srgb(0.5 + 0.5 * waves)).astype(np.uint16)
    return Picture(np.repeat(codes[..., None], 3, axis=2), MATRIX)


BOX = BoxMm(3.1, 2.9, 5.0, 5.0)


def mean(seen, cell):
    part = seen.part(BOX)
    window = part.window(BOX, cell)
    return float((part.light[:, 1] * window).sum() / window.sum())


@pytest.mark.parametrize("angle", [0.0, 22.5, 45.0])
@pytest.mark.parametrize("phase", [0.0, 1.0, 2.5])
def test_a_window_of_whole_cells_tells_the_mean_wherever_dots_lie(angle, phase):
    assert mean(picture(18, angle, phase), RepeatedCell.of_screen(18, angle)) == pytest.approx(
        0.5, abs=0.004
    )


def test_a_plain_box_does_not():
    seen = [picture(8, 0.0, phase) for phase in (0.0, 1.0, 2.5)]
    cell = RepeatedCell.of_screen(8, 0.0)
    off = np.array([(mean(one, None) - 0.5, mean(one, cell) - 0.5) for one in seen])
    plain, whole = np.abs(off).max(axis=0)
    assert plain > 4 * whole


def test_a_box_without_room_for_a_cell_counts_all_alike():
    seen = picture(25, 0.0)
    assert mean(seen, RepeatedCell.of_screen(4, 0)) == mean(seen, None)


def test_pixels_to_an_inch_are_told_for_each_place():
    assert picture(18, 0).ppi_at(3, 3) == pytest.approx(PPI)


def test_a_large_part_is_thinned_out_and_keeps_its_mean():
    codes = np.tile(np.linspace(20_000, 40_000, 900).astype(np.uint16), (900, 1))
    seen = Picture(np.repeat(codes[..., None], 3, axis=2), np.diag([10.0, 10.0, 1.0]))
    part = seen.part(BoxMm(0, 0, 89, 89))
    assert len(part.x) < 300_000
    whole = (codes[:890, :890] / 65535 + 0.055) / 1.055
    assert part.light[:, 0].mean() == pytest.approx((whole**2.4).mean(), rel=0.01)

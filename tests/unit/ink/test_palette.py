"""Inks that are found in art."""

from __future__ import annotations

import sys
from io import BytesIO

import numpy as np
import pytest
from flat_drawings import drawn, pie
from PIL import Image

from filmhand.errors import Refused
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import nearest_color
from filmhand.ink.palette import INKS_EXTRA, find_inks
from filmhand.ink.soft_edges import soft_edges

RED, BLUE, YELLOW, BLACK, WHITE = (
    (200, 20, 30), (20, 40, 160), (250, 210, 20), (10, 10, 10), (255, 255, 255)
)  # fmt: skip


def lab(*codes):
    return srgb_to_lab(np.array(codes) / 255)


@pytest.fixture(scope="module")
def pie_of_three():
    return drawn(pie(120, 6, colors=(0, 1, 2), ground=3), (RED, BLUE, YELLOW, WHITE))


def test_the_flats_of_a_drawing_are_its_inks_the_lightest_first(pie_of_three):
    codes, areas = pie_of_three
    found = find_inks(codes, lab(WHITE)[0], count=3)
    assert found.colors == pytest.approx(lab(YELLOW, RED, BLUE))
    true = areas.sum(axis=(0, 1))[[2, 0, 1]]
    assert found.areas == pytest.approx(true / true.sum(), abs=0.01)


def test_no_more_inks_are_found_than_there_are_colors(pie_of_three):
    codes, _ = pie_of_three
    found = find_inks(codes, lab(WHITE)[0], count=8)
    assert found.colors == pytest.approx(lab(YELLOW, RED, BLUE))


def test_fewer_inks_than_colors_lie_near_all_of_them(pie_of_three):
    codes, _ = pie_of_three
    found = find_inks(codes, lab(WHITE)[0], count=2)
    assert len(found.colors) == 2
    assert found.areas.sum() == pytest.approx(1)


def test_the_color_of_the_cloth_needs_no_ink(pie_of_three):
    codes, _ = pie_of_three
    found = find_inks(codes, lab(YELLOW)[0], count=4)
    assert found.colors == pytest.approx(lab(WHITE, RED, BLUE))


def test_a_color_of_small_details_is_found_beside_large_flats():
    codes, _ = drawn(pie(120, 4, colors=(0, 1), ground=2), (RED, BLUE, WHITE))
    codes = codes.copy()
    codes[55:65, 55:65] = BLACK
    found = find_inks(codes, lab(WHITE)[0], count=3)
    assert found.colors == pytest.approx(lab(RED, BLUE, BLACK))


def test_art_after_jpeg_has_nearly_the_same_inks(pie_of_three):
    coded = BytesIO()
    Image.fromarray(pie_of_three[0]).save(coded, "JPEG", quality=80)
    codes = np.asarray(Image.open(coded))
    found = find_inks(codes, lab(WHITE)[0], count=3)
    _, difference = nearest_color(lab(YELLOW, RED, BLUE), found.colors)
    assert difference.max() < 2


def test_the_same_art_has_the_same_inks_and_deep_color_too(pie_of_three):
    codes, _ = pie_of_three
    noisy = codes // 2 + np.random.default_rng(1).integers(0, 60, codes.shape, np.uint8)
    once, again = (find_inks(noisy, lab(WHITE)[0], count=5) for _ in range(2))
    assert (once.colors == again.colors).all()
    deep = find_inks(codes.astype(np.uint16) * 257, lab(WHITE)[0], count=3)
    assert deep.colors == pytest.approx(lab(YELLOW, RED, BLUE))


def test_art_of_bare_cloth_has_none():
    found = find_inks(np.full((9, 9, 3), 255, np.uint8), lab(WHITE)[0], count=3)
    assert (found.colors.shape, found.areas.shape) == ((0, 3), (0,))


def test_one_ink_is_the_color_of_most_of_the_art():
    codes = np.full((20, 20, 3), BLUE, np.uint8)
    codes[:4, :4] = RED
    assert find_inks(codes, lab(WHITE)[0], count=1).colors == pytest.approx(lab(BLUE))


def test_art_of_one_pixel_has_its_color():
    found = find_inks(np.array([[RED]], np.uint8), lab(WHITE)[0], count=3)
    assert found.colors == pytest.approx(lab(RED))


def test_without_the_library_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "scipy.cluster.vq", None)
    with pytest.raises(Refused) as refused:
        find_inks(np.zeros((4, 4, 3), np.uint8), lab(WHITE)[0], count=2)
    assert INKS_EXTRA in refused.value.do


def test_soft_edges_that_are_known_ask_for_no_ink():
    # Stripes of green and brown, and between any two a column of the mean, on a white ground.
    green, brown = np.array([0, 180, 0]), np.array([92, 38, 0])
    stripe = [green] * 6 + [(green + brown) // 2] + [brown] * 6 + [(green + brown) // 2]
    codes = np.full((160, 168, 3), 255, np.uint8)
    codes[20:140] = np.array(stripe * 12)
    edges = soft_edges(codes)
    assert edges[30, 6] and not edges[30, 5]
    white = srgb_to_lab(np.ones(3))
    assert len(find_inks(codes, white, count=4).colors) == 3
    found = find_inks(codes, white, count=4, edges=lambda: edges).colors
    assert found == pytest.approx(srgb_to_lab(np.array([green, brown]) / 255), abs=0.01)

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from degraded import coded, drawing, line_samples, on_paper, page_of_text, tone_samples
from PIL import Image, ImageDraw

from filmhand.art.repair.deskew import find_skew, straightened

PAGE = np.pad(page_of_text(700, 900), 60, constant_values=1)


def turned(gray, degrees):
    image = Image.fromarray(gray.astype(np.float32))
    image = image.rotate(degrees, Image.Resampling.BICUBIC, fillcolor=1)
    return np.asarray(image).astype(float).clip(0, 1)


def framed(degrees, *, sides=4):
    sheet = Image.fromarray((drawing(1200, 900, seed=6) * 255).astype(np.uint8))
    pen = ImageDraw.Draw(sheet)
    corners = [(150, 130), (1050, 130), (1050, 770), (150, 770), (150, 130)]
    for one, other in list(pairwise(corners))[:sides]:
        pen.line((*one, *other), 0, 5)
    return turned(np.asarray(sheet) / 255, degrees)


@pytest.mark.parametrize("count", [3, 8])
def test_a_few_lines_that_slant_one_way_may_be_meant_so(count):
    sheet = Image.new("L", (1200, 900), 255)
    pen = ImageDraw.Draw(sheet)
    for i in range(count):
        pen.line((90 + 130 * i, 870, 120 + 130 * i, 60), 0, 5)
    assert find_skew(coded(np.asarray(sheet) / 255)) is None


@pytest.mark.parametrize("degrees", [0.4, -1.7, 3.0, -4.8])
@pytest.mark.parametrize("make", [lambda a: turned(PAGE, a), framed], ids=["page", "frame"])
def test_the_angle_is_measured(make, degrees):
    found = find_skew(coded(on_paper(make(degrees), paper=0.8, ink=0.05, noise=0.005)))
    assert found.angle == pytest.approx(degrees, abs=0.06)


@pytest.mark.parametrize("degrees", [0.0, 0.1, 8.0])
def test_straight_and_far_turned_art_is_let_be(degrees):
    assert find_skew(coded(turned(PAGE, degrees))) is None


def test_one_straight_line_is_not_certain():
    assert find_skew(coded(framed(2.0, sides=1))) is None


@pytest.mark.parametrize("seed", [1, 3, 5, 7, 8, 9])
def test_free_drawings_have_no_angle(seed):
    assert find_skew(coded(drawing(900, 700, seed=seed))) is None


def test_no_sample_lies_crooked():
    for name, art in {**line_samples(), **tone_samples()}.items():
        assert find_skew(art) is None, name


@pytest.mark.parametrize("degrees", [2.0, -3.5])
def test_straightened_art_is_straight_and_about_its_middle(degrees):
    art = coded(turned(PAGE, degrees))
    before = art.copy()
    straight = straightened(art, degrees)
    assert straight.shape == art.shape and np.array_equal(art, before)
    assert find_skew(straight) is None
    # Twice through a cubic filter leaves this much at edges; half a pixel off would leave 0.2.
    off = (straight / 65535 - coded(PAGE) / 65535)[80:-80, 80:-80]
    assert np.sqrt(np.mean(off**2)) < 0.06


def test_strips_join_without_a_seam(monkeypatch):
    art = coded(turned(PAGE, 2.0))
    whole = straightened(art, 2.0)
    monkeypatch.setattr("filmhand.art.repair.deskew._STRIP_PIXELS", 20_000)
    assert np.abs(straightened(art, 2.0).astype(int) - whole).max() <= 2


def test_opened_corners_become_the_paper_beside_them():
    art = coded(on_paper(turned(PAGE, 3.0), paper=0.5, ink=0.05, darkest=0.5))
    straight = straightened(art, 3.0)
    for y, x in ((2, 2), (2, -3), (-3, 2), (-3, -3)):
        near = np.median(art[:60, :60] if (y, x) == (2, 2) else
                         art[-60 if y < 0 else 0 : None if y < 0 else 60,
                             -60 if x < 0 else 0 : None if x < 0 else 60])  # fmt: skip
        assert abs(float(straight[y, x]) / near - 1) < 0.06


def test_nothing_is_cut_off():
    full = np.ones((700, 900))
    full[6:20, 6:-6] = full[-20:-6, 6:-6] = 0
    full[6:-6, 6:20] = full[6:-6, -20:-6] = 0
    assert straightened(coded(full), 4.0) is None

"""Drawn art held against what it would be as line art, where the figures are known beforehand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from filmhand.art.analysis.classify import ArtKind, Reading
from filmhand.pipeline.render.line_outcome import line_outcome

READING = Reading(ArtKind.FLAT, "line", [])


def darkness_of(code):
    """100 - L* of an sRGB code 0..1 (IEC 61966-2-1, CIE 15)."""
    light = ((code + 0.055) / 1.055) ** 2.4 if code > 0.04045 else code / 12.92
    return 116 * (1 - light ** (1 / 3)) if light > 0.008856 else 100 - 903.3 * light


def outcome(*shapes, size=(500, 700), level=0.5):
    """Of rectangles (top, bottom, left, right, code) on white."""
    art = np.full(size, 65535, np.uint16)
    for top, bottom, left, right, code in shapes:
        art[top:bottom, left:right] = round(code * 65535)
    return line_outcome(art, None, drawn=True, level=level)


@pytest.mark.parametrize("size", [(250, 340), (500, 700), (701, 400), (1401, 1000)])
def test_black_on_white_is_line_art_beyond_doubt(size) -> None:
    ink = outcome((60, 180, 60, 300, 0), size=size)
    assert ink.sure and ink.why_not() == ""
    assert ink.likeness.correlation == pytest.approx(1)
    assert (ink.likeness.lost, ink.likeness.gone, ink.light_gone) == (0, (), 0)
    assert (ink.spread, ink.shaded) == pytest.approx((0, 0), abs=1e-4)
    assert (ink.blank, ink.on_paper, ink.grain, ink.gradient) == (False,) * 4
    cell = max(1, -(-max(size) // 350))
    of_all = 120 * 240 / ((size[0] // cell) * (size[1] // cell) * cell**2)
    assert ink.pattern == pytest.approx(100 * (of_all * (1 - of_all)) ** 0.5, rel=1e-3)


def test_a_pale_shape_is_lost_with_its_share_of_the_darkness() -> None:
    art = (100, 200, 100, 200, 0), (300, 400, 400, 500, 0.7)
    share = darkness_of(0.7) / (darkness_of(0.7) + 100)
    lost = outcome(*art)
    # Seen from afar, edges are blurred by a cell, so it is not the share to the last figure.
    assert lost.likeness.lost == pytest.approx(share, abs=2e-3)
    (shape,) = lost.likeness.gone
    assert shape.weight == pytest.approx(share, abs=2e-3)
    assert (shape.left, shape.top, shape.right, shape.bottom) == (199, 149, 251, 201)
    assert not lost.sure and f"shapes with {100 * share:.2g} % of its ink" in lost.why_not()
    assert outcome(*art, level=0.25).likeness.gone == ()
    # Of a picture that is small itself a cell is a pixel.
    small = outcome((50, 100, 50, 100, 0), (150, 200, 200, 250, 0.7), size=(250, 340))
    (shape,) = small.likeness.gone
    assert (shape.left, shape.top, shape.right, shape.bottom) == (199, 149, 251, 201)


def test_pale_art_alone_would_be_blank() -> None:
    blank = outcome((100, 200, 100, 200, 0.7))
    assert blank.blank and not blank.sure
    assert blank.why_not().endswith("nothing of it would print as line art.")


def test_wide_ink_that_is_shaded_is_no_line_art() -> None:
    shaded = outcome((100, 400, 100, 300, 0), (100, 400, 300, 400, 0.4))
    pale = darkness_of(0.4)
    assert shaded.spread == pytest.approx(100 - pale, abs=0.1)
    # A hundred columns of three hundred are paler; the outermost two cells do not count as wide.
    assert shaded.shaded == pytest.approx((100 - pale) / 100 * (146 * 48) / (150 * 150), abs=1e-3)
    why = replace(shaded, light_gone=0).why_not()
    assert why.endswith("its wide parts are shaded, which line art would lose.")


def test_a_pale_hole_that_would_fill_is_told() -> None:
    filled = outcome((50, 450, 50, 650, 0), (150, 350, 250, 450, 0.45))
    light = 100 - darkness_of(0.45)
    assert filled.light_gone > 0.03 and not filled.sure
    white = 500 * 700 - 400 * 600
    assert filled.light_gone == pytest.approx(
        200 * 200 * light / (200 * 200 * light + 100 * white), rel=0.35
    )

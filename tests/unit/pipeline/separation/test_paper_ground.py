"""The paper under a scan, which takes an ink where it is not taken for the cloth."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import srgb_to_lab
from filmhand.pipeline.separation.paper_ground import paper_ground

WHITE = np.array([100.0, 0.0, 0.0])
CREAM = (236, 229, 215)


def art(ground, *, grain=2.0, filled=False):
    """A red and a blue shape on a ground, with grain; or over all of it."""
    codes = np.full((300, 400, 3), ground, float)
    margin = 0 if filled else 60
    codes[margin:150, margin : 400 - margin] = (190, 30, 40)
    codes[150 : 300 - margin, margin : 400 - margin] = (30, 60, 160)
    codes += np.random.default_rng(3).normal(0, grain, codes.shape[:2])[..., None]
    return np.rint(np.clip(codes, 0, 255)).astype(np.uint16) * np.uint16(257)


def test_paper_is_found_by_its_color():
    found = paper_ground(art(CREAM), WHITE)
    assert found * 255 == pytest.approx(CREAM, abs=1.5)
    assert paper_ground(art(CREAM), srgb_to_lab(np.array(CREAM) / 255)) is None


@pytest.mark.parametrize(
    "codes",
    [
        art(CREAM, grain=0),  # drawn on a ground that somebody wanted
        art((255, 255, 255)),  # the cloth itself
        art((90, 80, 70)),
        art((120, 190, 250)),  # a sky
        art(CREAM, filled=True),
    ],
    ids=["drawn", "cloth", "dark", "sky", "filled"],
)
def test_other_grounds_are_no_paper(codes):
    assert paper_ground(codes, WHITE) is None

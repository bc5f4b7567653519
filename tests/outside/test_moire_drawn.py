"""Moire as it is told, against dots and threads that are drawn pixel by pixel, and the handbooks.

All 48 set-ups are drawn by ``tests/benchmarks/moire_drawn.py``, which this takes a sample of; the
contrast sensitivity is written out there once more.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from filmhand.mesh.moire.visibility import Sight, contrast_sensitivity

sys.path.append(str(Path(__file__).parents[1] / "benchmarks"))
import moire_drawn
import ordinary_setups

pytestmark = pytest.mark.outside
# A strong long band, a short one of the middle orders, a shape of its own, a coarse printer, a mesh
# that stands askew to all, and one whose bands are weak.
SAMPLE = [
    ("62-64", 35, 45.0, 600, "round"),
    ("43-80", 25, 22.5, 600, "round"),
    ("62-64", 35, 7.5, 300, "ellipse"),
    ("43-80", 25, 15.0, 300, "round"),
    ("90-48", 55, 52.5, 600, "square"),
    ("90-48", 45, 0.0, 1200, "round"),
]


@pytest.mark.parametrize("set_up", SAMPLE, ids=str)
@pytest.mark.slow
def test_the_bands_that_are_seen_most_in_a_drawing_are_those_told(set_up):
    assert set_up in moire_drawn.SET_UPS and len(moire_drawn.SET_UPS) >= 40
    told, drawn = moire_drawn.told_and_drawn(*set_up)
    assert drawn.visibility == pytest.approx(told.visibility, rel=0.05, abs=0.0005)
    assert drawn.strength == pytest.approx(told.strength, rel=0.06, abs=0.001)
    assert drawn.period_mm == pytest.approx(told.period_mm, rel=0.04)


@pytest.mark.parametrize(("inches", "share"), [(12, 0.2255), (24, 0.0508), (48, 0.0026)])
def test_the_contrast_sensitivity_has_its_published_constants(inches, share):
    # R. Näsänen, Visibility of halftone dot textures, IEEE Trans. SMC 14(6), 1984, as S. H. Kim and
    # J. P. Allebach, IEEE Trans. Image Processing 11(3), 2002, have it: 131.6 L^0.3188 exp(-f /
    # (0.525 ln L + 3.91)). Worked by hand at 100 cd/m2 and 45 lines an inch: 0.525 x 4.605 + 3.91
    # is 6.328, and 45 x 12 x pi / 180 is 9.42 cycles a degree.
    cycles = 45 * inches * np.pi / 180
    assert contrast_sensitivity(cycles) == pytest.approx(131.6 * 100**0.3188 * share, rel=0.02)
    found = Sight(300.0, inches * 25.4).visible_share(np.array([25.4 / 45]))
    assert found == pytest.approx([share], rel=0.02)


def test_the_contrast_sensitivity_is_of_the_size_that_others_found():
    # P. G. J. Barten, Contrast sensitivity of the human eye and its effects on image quality, SPIE,
    # 1999, the short formula, at 100 cd/m2 and a field of 10 degrees (from memory).
    for cycles in (2.0, 4.0, 8.0, 16.0):
        a = 540 * (1 + 0.7 / 100) ** -0.2 / (1 + 12 / (10 * (1 + cycles / 3) ** 2))
        b = 0.3 * (1 + 100 / 100) ** 0.15
        barten = a * cycles * np.exp(-b * cycles) * np.sqrt(1 + 0.06 * np.exp(b * cycles))
        assert barten / 3.5 < contrast_sensitivity(cycles) < 1.5 * barten


@pytest.mark.slow
def test_what_72_ordinary_set_ups_say_agrees_with_the_handbooks():
    # Those of 720 and 1200 dpi, whose tiles take most of the time, warn as those of 600 do.
    found = list(ordinary_setups.set_ups((300, 600)))
    assert len(found) == 72
    by_name = Counter(name for one in found for name in one.warns)
    assert by_name.keys() == {"gray levels", "mesh to lpi ratio", "moire"}
    # One pair has less than 3.5 threads a line; ten pairs are too fine for 300 dpi, none for more.
    assert by_name["mesh to lpi ratio"] == 4
    assert by_name["gray levels"] == 20
    for one in found:
        assert ("mesh to lpi ratio" in one.warns) == (one.ratio < 3.5)
        assert ("gray levels" in one.warns) == ((one.dpi / one.lpi) ** 2 + 1 < 64)
        assert ("moire" in one.warns) == (one.visibility > 0.02)
    # SEFAR: 45 degrees is among the worst, 22.5 is advised.
    moire = Counter(one.angle for one in found if "moire" in one.warns)
    assert moire == {45: 19, 22.5: 5}
    advised = [one for one in found if one.advised]
    assert len(advised) == 34
    warned = [one for one in advised if one.warns]
    assert len(warned) == 11 <= len(advised) / 3
    against = {(one.mesh, one.lpi) for one in warned if one.statement.startswith("AGAINST")}
    assert against == {("43-80", 25)}

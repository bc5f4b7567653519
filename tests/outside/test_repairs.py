"""Repairs judged before and after, on clean originals that were degraded on purpose."""

from __future__ import annotations

import numpy as np
import pytest
from repair_cases import SIX, all_rows, screened_and_scanned, through_jpeg

from filmhand.art.opened_art import Art
from filmhand.art.repair.descreen import find_earlier_screen
from filmhand.pipeline.render.art_repairs import repair_before_judging, repair_drawing
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Treat

from degraded import drawing, line_samples, skimage_picture, tone_samples  # isort: skip

pytestmark = pytest.mark.outside
PROFILE = read_profile(
    "sheet: letter\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 6 mm\n",
    name="test",
    file="test.yaml",
)
# By measure: the largest share of the error that may be left, or the least that must be reached.
MOST_LEFT = {
    ("light, paper", "tone, rms %"): 0.3,
    ("blocks", "steps between squares, excess %"): 0.2,
    ("blocks", "tone, rms %"): 0.97,
    ("skew", "degrees"): 0.1,
    ("screened", "strongest peak, %"): 0.02,
    ("screened", "tone, rms %"): 0.35,
}
LEAST_F = {"light": 0.97, "paper": 0.97, "faded": 0.98, "skew": 0.93}


@pytest.mark.parametrize("repair", ["light", "paper", "faded", "light, paper", "blocks", "skew",
                                    "screened"])  # fmt: skip
def test_every_repair_brings_art_nearer_to_its_original(repair: str) -> None:
    rows = [row for row in all_rows() if row.repair == repair]
    assert rows
    for row in rows:
        if row.measure == "F of the ink":
            assert row.after >= LEAST_F[repair], row
            assert row.after > row.before + 0.05, row
        else:
            assert row.after <= MOST_LEFT[repair, row.measure] * row.before, row


def repaired(coded, *, drawn=False, steps=None, treated=Treat.TONE):
    art = Art(coded, None, "PNG", drawn, [], steps)
    done = repair_before_judging(art, PROFILE, name="art.png")
    done += repair_drawing(art, PROFILE, treated, masked=False)
    return art, done


@pytest.mark.parametrize("name", SIX)
@pytest.mark.parametrize("quality", [None, 75, 92])
def test_open_photographs_are_left_as_they_are(name: str, quality: int | None) -> None:
    coded, steps = skimage_picture(name), None
    if quality:
        coded, steps = through_jpeg(coded, quality)
    before = coded.copy()
    art, done = repaired(coded, steps=steps)
    assert not done
    assert art.coded is coded and np.array_equal(coded, before)


def test_clean_drawings_and_every_other_sample_are_left_as_they_are() -> None:
    # Line art is judged so; what its paper needs is told by prepare_line, not here.
    for name, coded in line_samples().items():
        art, done = repaired(coded, treated=Treat.LINE)
        assert art.coded is coded and not done, name
    for name, coded in tone_samples().items():
        if name != "the same, scanned":  # tinted paper, which is made bare
            art, done = repaired(coded)
            assert art.coded is coded and not done, name


@pytest.mark.parametrize("lpi", [65, 100, 133])
def test_a_flat_tint_and_a_drawing_that_were_screened_are_found(lpi: int) -> None:
    clean = (drawing(320, 320, stroke=9, seed=5) * 30000 + 20000).astype(np.uint16)
    scan, _ = screened_and_scanned(clean, lpi, 45)
    found = find_earlier_screen(scan)
    assert found is not None
    assert found.period == pytest.approx(300 / lpi, rel=0.02)
    assert found.angle == pytest.approx(45, abs=1.5)

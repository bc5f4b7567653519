"""What another thread has looked at meanwhile changes nothing of how art is treated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from degraded import coded, drawing, on_paper, page_of_text, photo_on_page

from filmhand.art.opened_art import Art
from filmhand.pipeline.render import art_repairs, treatment
from filmhand.pipeline.render.seen_small import seen_small
from filmhand.profile.read.load import read_profile
from filmhand.speaking_pool import SpareThread

PROFILE = """
sheet: a4
dpi: 300
lpi: 35
dot: round
threshold: 50
mesh: 62-64
margin: 5 mm
write: png
"""


def shaded():
    """A ball on gray paper: tone, and evened."""
    y, x = np.mgrid[0:600, 0:800]
    ball = np.hypot(x - 400, y - 300) / 150
    return on_paper(np.where(ball < 1, 0.3 + 0.6 * ball, 1), paper=0.6, ink=0, noise=0.005)


ART = {
    "drawing": lambda: on_paper(drawing(700, 550), paper=0.7, ink=0.1, noise=0.01),
    "page": lambda: on_paper(page_of_text(), paper=0.8, ink=0.05, noise=0.005),
    "photo on a page": lambda: on_paper(photo_on_page(), paper=0.85, ink=0, noise=0.005),
    "shaded": shaded,
}


@pytest.mark.parametrize("name", ART)
@pytest.mark.parametrize("threads", [1, 2])
def test_art_is_treated_the_same(name, threads) -> None:
    codes, profile = coded(ART[name]()), read_profile(PROFILE, name="test", file="test.yaml")
    found = []
    for aside in (False, True):
        art = Art(codes, None, "PNG", drawn=False)
        seen, notes, reminders = seen_small(codes), [], []
        with SpareThread(threads) as spare:
            trial = treatment.begin_trial(art, profile, seen, spare) if aside else None
            look = art_repairs.begin_look(art, spare) if aside else None
            treated, reading = treatment.treatment(
                art, profile, seen, notes, reminders, trial=trial
            )
            done = art_repairs.repair_drawing(art, profile, treated, masked=False, look=look)
        told = replace(reading, screen=None, regions=None)
        found.append((treated, told, notes, reminders, done, art.coded.tobytes()))
    assert found[0] == found[1]

from __future__ import annotations

import numpy as np
import pytest
from degraded import coded, drawing, on_paper

from filmhand.art.repair.paper_shading import evened, find_paper, paper_sentence

SHEET = np.minimum(drawing(700, 600, stroke=4, seed=2), np.pad(
    np.full((150, 200), 0.6), ((200, 250), (200, 300)), constant_values=1))  # fmt: skip
DIM = coded(on_paper(SHEET, paper=0.6, ink=0.0, darkest=0.5, noise=0.005))


def test_the_papers_light_is_found():
    paper = find_paper(DIM)
    assert paper.lightest == pytest.approx(0.6, rel=0.06)
    assert paper.darkest == pytest.approx(0.3, rel=0.08)


def test_paper_becomes_bare_and_shades_stay():
    after, done = evened(DIM, find_paper(DIM), light=True, tint=True)
    assert [repair.kind for repair in done] == ["light", "paper"]
    wanted = coded(SHEET)
    bare = wanted == 65535
    assert np.quantile(after[bare], 0.05) > 0.99 * 65535
    shade = wanted == wanted[250, 210]
    assert np.median(after[shade]) == pytest.approx(np.median(wanted[shade]), rel=0.05)


def test_each_can_be_done_alone():
    paper = find_paper(DIM)
    even, done = evened(DIM, paper, light=True, tint=False)
    assert [repair.kind for repair in done] == ["light"]
    corners = [np.median(even[y, x]) for y, x in
               ((slice(0, 40), slice(0, 40)), (slice(-40, None), slice(-40, None)))]  # fmt: skip
    assert corners[0] == pytest.approx(corners[1], rel=0.03)
    assert corners[0] == pytest.approx(coded(np.array([[0.6]]))[0, 0], rel=0.05)
    tinted, done = evened(DIM, paper, light=False, tint=True)
    assert [repair.kind for repair in done] == ["paper"]
    assert np.median(tinted[:40, :40]) > 1.1 * np.median(tinted[-40:, -40:])
    same, done = evened(DIM, paper, light=False, tint=False)
    assert same is DIM and not done


def test_a_ramp_and_small_or_dark_art_are_no_paper():
    ramp = np.tile(np.linspace(8000, 65535, 900), (700, 1)).astype(np.uint16)
    assert find_paper(ramp) is None
    assert find_paper(DIM[:50]) is None
    assert find_paper(np.full((600, 600), 9000, np.uint16)) is None


def test_sentences_carry_the_figures():
    light, paper = paper_sentence(uneven=0.53, tint=0.6)
    assert "53 %" in light.say and (light.found, light.unit) == (53, "% of the light")
    assert "60 %" in paper.say and paper.record()["name"] == "paper"

from __future__ import annotations

import re

import numpy as np
import pytest
from degraded import blurred, drawing, line_samples, tone_samples

from filmhand.art.analysis.tone_or_line import _judge_strokes, tone_or_line

NEEDED_LINE = ("text", "page", "horse", "chessboard_GRAY")
NEEDED_TONE = (
    "camera", "astronaut", "coffee", "chelsea", "gravel", "brick", "grass", "moon", "coins",
)  # fmt: skip


def test_line_art_is_line() -> None:
    verdicts = {name: tone_or_line(coded) for name, coded in line_samples().items()}
    assert [item for item in verdicts.items() if item[1].treat != "line"] == []


def test_tone_is_tone() -> None:
    verdicts = {name: tone_or_line(coded) for name, coded in tone_samples().items()}
    assert [item for item in verdicts.items() if item[1].treat != "tone"] == []


def test_pictures_of_scikit_image_took_part() -> None:
    pytest.importorskip("skimage")
    assert {f"skimage {name}" for name in NEEDED_LINE} <= set(line_samples())
    assert {f"skimage {name}" for name in NEEDED_TONE} <= set(tone_samples())


def test_the_sentence_carries_figures_and_ends() -> None:
    for samples in (line_samples(), tone_samples()):
        for name, coded in list(samples.items())[:8]:
            verdict = tone_or_line(coded)
            assert verdict.why.endswith("."), name
            assert verdict.treat in verdict.why
            assert "nan" not in verdict.why and "inf" not in verdict.why


def test_same_for_mirrored_and_turned_art() -> None:
    for name in ("pencil on gray paper", "pen in a shadow", "skimage text"):
        if name in line_samples():
            art = line_samples()[name]
            for view in (art[:, ::-1], art[::-1], art.T):
                assert tone_or_line(view).treat == "line", name


@pytest.mark.parametrize(("contrast", "treat"), [(0.1, "tone"), (0.3, "line")])
def test_soft_edges_are_strokes_only_where_the_ink_is_dark(contrast: float, treat: str) -> None:
    # No source: a pen out of focus is still dark. What is faint and soft was never drawn.
    marks = np.zeros((600, 800))
    marks[100:160, 100:700] = marks[300:500, 300:400] = 1
    depth = blurred(marks, 6).astype(np.float32)
    verdict = _judge_strokes(depth, contrast=contrast, paper=0.9, dark=False)
    said = re.search(r"(\d+) % of (?:its|the) inked area", verdict.why)
    assert said is not None and 10 < int(said[1]) < 27
    assert verdict.treat == treat, verdict


def test_size_does_not_matter() -> None:
    coded = line_samples()["pencil on gray paper"]
    assert tone_or_line(np.kron(coded, np.ones((3, 3), np.uint16))).treat == "line"
    assert (
        tone_or_line(np.kron(tone_samples()["clouds"], np.ones((3, 3), np.uint16))).treat == "tone"
    )


@pytest.mark.parametrize("shape", [(1, 1), (1, 4000), (4000, 1), (3, 3), (9, 9), (16, 2000)])
def test_odd_shapes_get_a_verdict(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(1)
    for coded in (np.zeros(shape, np.uint16), rng.integers(0, 65536, shape).astype(np.uint16)):
        assert tone_or_line(coded).treat == "tone"


def test_input_is_left_alone() -> None:
    coded = (drawing(300, 200) * 65535).astype(np.uint16)
    before = coded.copy()
    tone_or_line(coded)
    assert np.array_equal(coded, before)

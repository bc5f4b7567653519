from __future__ import annotations

import numpy as np
import pytest
from degraded import as_codes, flat_tints, line_samples, page_of_text, tone_samples

from filmhand.art.classify import classify
from filmhand.art.judge import judge

PHOTOS = (
    "camera", "astronaut", "coffee", "chelsea", "gravel", "brick", "grass", "moon", "coins",
    "rocket", "hubble_deep_field", "ihc", "cell", "clock_motion",
)  # fmt: skip
LINES = ("text", "page", "horse", "chessboard_GRAY")


@pytest.mark.parametrize("name", PHOTOS)
def test_open_photos_are_photos(name: str) -> None:
    reading = classify(tone_samples()[f"skimage {name}"])
    assert (reading.kind, reading.treat) == ("photo", "tone")


@pytest.mark.parametrize("name", LINES)
def test_open_line_art_is_line(name: str) -> None:
    reading = classify(line_samples()[f"skimage {name}"])
    assert reading.treat == "line"


@pytest.mark.parametrize(
    "name",
    ["fine", "white on black", "pencil on grey paper", "phone, blurred, jpeg", "chalk on a board"],
)
def test_drawings_stay_drawings(name: str) -> None:
    assert classify(line_samples()[name]).kind == "drawing"


def test_what_judge_calls_tone_is_never_cut_as_a_whole() -> None:
    for name in ("ramp with a border", "soft glow", "clouds", "photo on a white page", "noise"):
        coded = tone_samples()[name]
        assert judge(coded).treat == "tone"
        assert classify(coded).treat == "tone", name


def test_tints_and_text_are_named() -> None:
    tints = classify(as_codes(flat_tints((0.3, 0.5, 1.0))))
    assert (tints.kind, tints.treat) == ("flat", "tone")
    text = classify(as_codes(page_of_text()))
    assert (text.kind, text.treat) == ("text", "line")


@pytest.mark.parametrize("shape", [(1, 1), (1, 4000), (9, 9), (16, 2000), (49, 70)])
def test_odd_shapes_get_a_reading(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(1)
    for coded in (np.zeros(shape, np.uint16), rng.integers(0, 65536, shape).astype(np.uint16)):
        before = coded.copy()
        reading = classify(coded)
        assert reading.treat == "tone"
        assert all(sentence.endswith(".") for sentence in reading.why)
        assert np.array_equal(coded, before)

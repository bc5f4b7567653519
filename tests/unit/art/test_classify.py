from __future__ import annotations

import numpy as np
import pytest
from degraded import (
    as_codes,
    coded,
    drawing,
    flat_tints,
    jpeg,
    line_samples,
    on_paper,
    page_of_text,
    tone_samples,
)

from filmhand.art.analysis.classify import classify
from filmhand.art.analysis.tone_or_line import tone_or_line

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
    ["fine", "white on black", "pencil on gray paper", "phone, blurred, jpeg", "chalk on a board"],
)
def test_drawings_stay_drawings(name: str) -> None:
    assert classify(line_samples()[name]).kind == "drawing"


def test_a_photograph_of_low_contrast_is_no_drawing() -> None:
    chelsea = tone_samples()["skimage chelsea"] / 65535
    assert classify(as_codes(0.6 + 0.4 * chelsea)).treat == "tone"
    moon = tone_samples()["skimage moon"]
    assert classify(as_codes(moon[:300, :300] / 65535)).treat == "tone"
    clock = jpeg(tone_samples()["skimage clock_motion"], 20)
    assert classify(clock).treat == "tone"


@pytest.mark.parametrize("paper", [0.85, 0.6])
def test_drawings_under_a_lamp_stay_line_art(paper: float) -> None:
    for clean in (drawing(900, 700), page_of_text()):
        art = coded(on_paper(clean, paper=paper, ink=0.05, darkest=0.17, noise=0.004, blur=0.8))
        assert classify(art).treat == "line"


def test_a_tint_beside_black_strokes_is_screened() -> None:
    clean = drawing(900, 700)
    for top in (200, 420):
        clean[top : top + 110, 100:800] = np.minimum(clean[top : top + 110, 100:800], 0.45)
    scanned = coded(on_paper(clean, paper=0.85, ink=0.03, noise=0.004, blur=0.8))
    assert classify(scanned).treat != "line"


def test_more_black_than_white_is_line_art_if_nothing_lies_between() -> None:
    squares = np.random.default_rng(5).random((41, 41)) < 0.45
    clean = np.kron(squares, np.ones((16, 16)))
    art = coded(on_paper(clean, paper=0.85, ink=0.03, darkest=0.5, noise=0.01, blur=1.0))
    assert classify(art).treat == "line"
    assert classify(tone_samples()["camera, high contrast"]).treat == "tone"


def test_what_judge_calls_tone_is_never_cut_as_a_whole() -> None:
    for name in ("ramp with a border", "soft glow", "clouds", "photo on a white page", "noise"):
        art = tone_samples()[name]
        assert tone_or_line(art).treat == "tone"
        assert classify(art).treat == "tone", name


def test_tints_and_text_are_named() -> None:
    tints = classify(as_codes(flat_tints((0.3, 0.5, 1.0))))
    assert (tints.kind, tints.treat) == ("flat", "tone")
    text = classify(as_codes(page_of_text()))
    assert (text.kind, text.treat) == ("text", "line")


@pytest.mark.parametrize("shape", [(1, 1), (1, 4000), (9, 9), (16, 2000), (49, 70)])
def test_odd_shapes_get_a_reading(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(1)
    for art in (np.zeros(shape, np.uint16), rng.integers(0, 65536, shape).astype(np.uint16)):
        before = art.copy()
        reading = classify(art)
        assert reading.treat == "tone"
        assert all(sentence.endswith(".") for sentence in reading.why)
        assert np.array_equal(art, before)

from __future__ import annotations

import numpy as np
import pytest
from degraded import bezier, coded, on_paper
from PIL import Image, ImageDraw

from filmhand.art.analysis.classify import classify
from filmhand.art.analysis.ruled_lines import find_ruled_lines
from filmhand.art.repair.line_cleaning import prepare_line

SIZE = (700, 1200)


def sheet(*, rule: float, slope: float = 0.0, pitch: int = 60, squared: bool = False) -> np.ndarray:
    """Paper with rules; 1 where it is bare, ``rule`` on them."""
    image = Image.new("L", (2 * SIZE[1], 2 * SIZE[0]), 255)
    pen, ink = ImageDraw.Draw(image), round(255 * rule)
    for y in range(pitch // 2, SIZE[0], pitch):
        rise = slope * SIZE[1]
        pen.line((0, 2 * y - rise, 2 * SIZE[1], 2 * y + rise), ink, 5)
    for x in range(pitch // 2, SIZE[1] if squared else 0, pitch):
        pen.line((2 * x, 0, 2 * x, 2 * SIZE[0]), ink, 5)
    return np.asarray(image.reduce(2)).astype(float) / 255


def strokes() -> np.ndarray:
    image = Image.new("L", (2 * SIZE[1], 2 * SIZE[0]), 255)
    pen = ImageDraw.Draw(image)
    rng = np.random.default_rng(4)
    for k in range(6):
        points = rng.uniform(0.2, 0.8, (4, 2)) * (600, 1300) + (150 + 280 * k, 0)
        pen.line([tuple(point) for point in bezier(points)], 0, 14, joint="curve")
    return np.asarray(image.reduce(2)).astype(float) / 255


@pytest.mark.parametrize("slope", [-0.03, 0.0, 0.02])
def test_rules_are_counted_at_any_tilt(slope: float) -> None:
    depth = (1 - sheet(rule=0.6, slope=slope)).astype(np.float32)
    (found,) = find_ruled_lines(depth)
    assert abs(len(found.place) - SIZE[0] / 60) <= 2
    assert not found.turned
    pitch = np.diff(found.place[:, 0]) * SIZE[0]
    assert np.median(pitch) == pytest.approx(60, abs=0.6)


def test_squares_are_rules_both_ways_and_bare_paper_has_none() -> None:
    depth = (1 - sheet(rule=0.6, squared=True)).astype(np.float32)
    assert [rules.turned for rules in find_ruled_lines(depth)] == [False, True]
    assert find_ruled_lines((1 - strokes()).astype(np.float32)) == []


@pytest.mark.parametrize(
    ("rule", "slope", "squared"), [(0.75, 0.0, False), (0.45, 0.02, False), (0.6, -0.01, True)]
)
def test_rules_go_and_strokes_keep_their_edges(rule: float, slope: float, squared: bool) -> None:
    ink = strokes()
    light = on_paper(
        np.minimum(sheet(rule=rule, slope=slope, squared=squared), ink),
        paper=0.8, ink=0.05, darkest=0.6, noise=0.004, blur=0.7,
    )  # fmt: skip
    art = coded(light)
    reading = classify(art)
    assert reading.kind == "signature"
    found = prepare_line(art, drawn=False, rules=reading.rules).share > 32767
    truth = ink < 0.5
    score = 200 * (found & truth).sum() / (found.sum() + truth.sum())
    assert score > 95
    # What is left of the rules, away from all strokes.
    near = np.lib.stride_tricks.sliding_window_view(np.pad(truth, 6), (13, 13)).any(axis=(2, 3))
    assert (found & ~near).mean() < 2e-5


@pytest.mark.parametrize("times", [1, 4])
def test_rules_as_dark_as_the_ink_belong_to_the_drawing(times: int) -> None:
    # Staves of black lines with notes on them, also where the reduced copy shows the lines pale.
    ink = strokes()
    staves = np.ones(SIZE)
    for top in range(60, 640, 150):
        for line in range(5):
            staves[top + 18 * line : top + 18 * line + 2, 60:1140] = 0
    lines = np.kron(staves, np.ones((times, times)))
    for row in range(1, times):
        lines[row::times] = 1  # one pixel in so many
    art = np.minimum(lines, np.kron(ink, np.ones((times, times))))
    assert classify(coded(on_paper(art, paper=0.8, ink=0.05, noise=0.004))).rules == ()


def test_asked_for_as_line_art_the_rules_stay() -> None:
    art = coded(on_paper(sheet(rule=0.35), paper=0.8, ink=0.05))
    assert (prepare_line(art, drawn=False).share > 32767).mean() > 0.02

"""What a film's likeness to its art makes the record, the notes and the label say."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.art.analysis.likeness import GoneShape, Likeness
from filmhand.pipeline.verdict.film_likeness import FilmLikeness
from filmhand.sheet.layout import Box
from filmhand.units import Resolution, SheetSize

DPI = Resolution(254, 508)  # 10 and 20 pixels to the millimeter
PROFILE: Any = SimpleNamespace(acetate_dpi=DPI, sheet=SheetSize(21000, 29700))


def likeness(*boxes, lost=0.1, weight=0.02):
    gone = tuple(GoneShape(0, 0, 4, 4, 16, weight) for _ in boxes)
    return FilmLikeness(Likeness(0.98765, lost, 0.0512, gone), 0.01, 0.0049, boxes)


def test_the_record_holds_shares_and_places_in_millimeters() -> None:
    assert likeness(Box(100, 100, 55, 50), lost=0.2034).record(DPI) == {
        "correlation": 0.9877, "lost_pct": 20.3, "added_pct": 5.1, "paper_pct": 1.0,
        "clipped_pct": 0.5,
        "gone": [{"x_mm": 10.0, "y_mm": 5.0, "width_mm": 5.5, "height_mm": 2.5}], "filled": [],
    }  # fmt: skip


def test_darkness_that_is_lost_is_told_above_eight_percent() -> None:
    assert likeness(lost=0.08).sentences(PROFILE) == [] and likeness(lost=0.08).missed() == []
    much = likeness(lost=0.334)
    (sentence,) = much.sentences(PROFILE)
    assert sentence.startswith("33 % of the art's darkness is not on the film")
    assert "darkness" in much.missed()[0]


@pytest.mark.parametrize(
    ("count", "begins", "places"),
    [
        (
            1,
            "1 shape of the art does not show on the film (2 %",
            "at 10 x 5 mm (0.39 x 0.2 in) from",
        ),
        (
            2,
            "2 shapes of the art do not show on the film (4 %",
            "at 10 x 5 mm (0.39 x 0.2 in) and 20 x 5 mm (0.79 x 0.2 in) from",
        ),
        (
            4,
            "4 shapes of the art do not show on the film (8 %",
            "at 10 x 5 mm (0.39 x 0.2 in), 20 x 5 mm (0.79 x 0.2 in) and 30 x 5 mm (1.18 x 0.2 in) "
            "from",
        ),
    ],
)
def test_shapes_that_are_gone_are_counted_and_three_are_placed(count, begins, places) -> None:
    film = likeness(*(Box(100 * (i + 1), 100, 10, 10) for i in range(count)), lost=0.5)
    (sentence,) = film.sentences(PROFILE)
    assert sentence.startswith(begins) and places in sentence
    assert film.missed()[0].startswith(f"{count} of the art's shapes")


def test_a_film_that_shows_a_part_tells_of_the_shapes_with_their_middle_in_it() -> None:
    film = likeness(Box(90, 200, 22, 10), Box(88, 200, 22, 10), Box(150, 300, 10, 10))
    shown = film.shown(Box(100, 100, 200, 150), Box(5, 10, 200, 150))
    assert shown.gone == (Box(-5, 110, 22, 10),)


def test_light_shapes_that_are_filled_are_told_beside_the_gone() -> None:
    one, other = Box(100, 100, 55, 50), Box(300, 400, 10, 20)
    film = replace(likeness(lost=0.0), filled=(one,))
    (sentence,) = film.sentences(PROFILE)
    assert sentence.startswith("1 light shape in the art's ink does not show on the film, at 10 x")
    assert film.record(DPI)["filled"] == [
        {"x_mm": 10.0, "y_mm": 5.0, "width_mm": 5.5, "height_mm": 2.5}
    ]
    film = replace(likeness(other), filled=(one, other))
    gone, filled = film.sentences(PROFILE)
    assert gone.startswith("1 shape of") and filled.startswith("2 light shapes in the art's ink do")
    assert film.missed()[0].startswith("3 of the art's shapes")
    assert film.not_shown == (other, one, other)
    shown = film.shown(Box(100, 100, 100, 100), Box(0, 0, 100, 100))
    assert (shown.gone, shown.filled) == ((), (Box(0, 0, 55, 50),))

"""Readings as values and as JSON, which others may have written."""

from __future__ import annotations

import json

import pytest

from filmhand.reading.reading import (
    PatchReading,
    ReadOf,
    SizesHeld,
    WedgeReading,
    reading_as_json,
    reading_from_json,
)

READING = WedgeReading(
    of=ReadOf.PRINT,
    wedge="a wedge",
    patches=tuple(
        PatchReading(film, measured, 0.25)
        for film, measured in ((0, 0), (10, 7.5), (40, 47), (60, 71), (100, 100))
    ),
    smallest_held=SizesHeld(dots=180.0, lines=120.0),
    density=1.38,
    edge_growth_um=12.5,
    scale=(1.0, 0.996),
    ppi=600.0,
    mirrored=True,
    notes=("plain",),
)


def told(**changed):
    return {**json.loads(json.dumps(reading_as_json(READING))), **changed}


def test_a_reading_comes_back_as_it_was_kept():
    assert reading_from_json(told()) == READING


def test_the_gain_lies_between_the_nearest_tones():
    assert READING.gain_at_50 == pytest.approx((47 + 71) / 2 - 50)
    assert told()["gain_at_50"] == 9.0


def test_the_smallest_that_held_is_a_dot_and_other_sizes_stand_beside_it():
    assert told()["smallest_held_um"] == told()["held_um"]["dots"] == READING.smallest_held.dots
    assert sorted(told()["held_um"]) == ["dots", "gaps", "lines", "shadow_dots"]


def test_what_a_scan_does_not_tell_stays_untold():
    bare = WedgeReading(ReadOf.FILM, "", READING.patches)
    assert reading_from_json(json.loads(json.dumps(reading_as_json(bare)))) == bare


PATCH = {"film_pct": 0, "measured_pct": 0, "error_pct": 0}


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"schema": "filmhand-reading/2"}, "schema"),
        ({"of": "screen"}, "print or film"),
        ({"of": ["print"]}, "print or film"),
        ({"patches": {}}, "patches"),
        ({"patches": [PATCH]}, "patches"),
        ({"patches": [PATCH] * 401}, "patches"),
        ({"patches": [PATCH, PATCH]}, "rise"),
        ({"patches": [PATCH, 7]}, "patches"),
        ({"patches": [PATCH, {**PATCH, "film_pct": True}]}, "film_pct"),
        ({"patches": [PATCH, {**PATCH, "film_pct": float("nan")}]}, "film_pct"),
        ({"patches": [PATCH, {**PATCH, "film_pct": 50, "error_pct": -1}]}, "error_pct"),
        ({"patches": [PATCH, {**PATCH, "film_pct": 50, "measured_pct": 10**400}]}, "measured_pct"),
        ({"held_um": None}, "held_um"),
        ({"held_um": {"dots": "180"}}, "dots"),
        ({"density": "deep"}, "density"),
        ({"scale_pct": [100]}, "scale_pct"),
        ({"scale_pct": [100, 0]}, "scale_pct"),
        ({"mirrored": 1}, "mirrored"),
        ({"wedge": "x" * 501}, "wedge"),
        ({"wedge": "\x1b[2J"}, "wedge"),
        ({"notes": ["x"] * 41}, "notes"),
        ({"notes": [3]}, "notes"),
        ({"ppi": None}, "ppi"),
    ],
)
def test_what_is_no_reading_is_told(changed, word):
    with pytest.raises(ValueError, match=word):
        reading_from_json(told(**changed))


@pytest.mark.parametrize("value", [None, [], "x", 3])
def test_what_is_no_object_is_no_reading(value):
    with pytest.raises(ValueError, match="object"):
        reading_from_json(value)

"""Readings as values and as JSON."""

from __future__ import annotations

import json

import pytest

from filmhand.reading.reading import PatchReading, ReadOf, SizesHeld, WedgeReading, reading_as_json

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


def told(reading=READING):
    return json.loads(json.dumps(reading_as_json(reading)))


def test_all_of_a_reading_stands_in_its_json():
    found = told()
    assert (found["schema"], found["of"]) == ("filmhand-reading/1", "print")
    assert found["patches"][1] == {"film_pct": 10, "measured_pct": 7.5, "error_pct": 0.25}
    assert len(found["patches"]) == len(READING.patches)
    assert (found["density"], found["edge_growth_um"], found["ppi"]) == (1.38, 12.5, 600)
    assert (found["scale_pct"], found["mirrored"]) == ([100, 99.6], True)
    assert (found["wedge"], found["notes"]) == ("a wedge", ["plain"])


def test_the_gain_lies_between_the_nearest_tones():
    assert READING.gain_at_50 == pytest.approx((47 + 71) / 2 - 50)
    assert told()["gain_at_50"] == 9.0


def test_the_smallest_that_held_is_a_dot_and_other_sizes_stand_beside_it():
    assert told()["smallest_held_um"] == told()["held_um"]["dots"] == READING.smallest_held.dots
    assert sorted(told()["held_um"]) == ["dots", "gaps", "lines", "shadow_dots"]


def test_what_a_scan_does_not_tell_stays_untold():
    bare = told(WedgeReading(ReadOf.FILM, "", READING.patches))
    assert bare["density"] is bare["edge_growth_um"] is bare["scale_pct"] is None
    assert set(bare["held_um"].values()) == {bare["smallest_held_um"]} == {None}

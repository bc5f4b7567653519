"""What art is taken for, on the half of a labeled set that was kept back; see ``kinds_set.py``."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

pytest.importorskip("skimage")

from kinds_set import HELD_OUT, KINDS, TREATED, whole_half

from filmhand.art.analysis.classify import Reading, classify
from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.opened_art import Art
from filmhand.pipeline.render.seen_small import seen_small
from filmhand.pipeline.render.treatment import treatment
from filmhand.profile.read.load import load_profile

pytestmark = [pytest.mark.outside, pytest.mark.slow]
_LEAST_RIGHT = 0.9


@pytest.fixture(scope="module")
def found() -> list[tuple[str, str, Reading]]:
    return [(one.kind, one.name, classify(one.codes)) for one in whole_half(HELD_OUT)]


def test_there_are_enough_of_each(found: list[tuple[str, str, Reading]]) -> None:
    counts = Counter(kind for kind, _, _ in found)
    assert set(counts) == set(KINDS)
    assert min(counts.values()) >= 8


def test_kinds_are_told_apart(found: list[tuple[str, str, Reading]]) -> None:
    wrong = [(kind, name, str(one.kind)) for kind, name, one in found if one.kind != kind]
    assert len(wrong) <= (1 - _LEAST_RIGHT) * len(found), wrong


def test_treatments_are_right(found: list[tuple[str, str, Reading]]) -> None:
    wrong = [(name, one.treat) for kind, name, one in found if one.treat not in TREATED[kind]]
    assert len(wrong) <= (1 - _LEAST_RIGHT) * len(found), wrong


def test_what_would_come_of_it_seldom_overrules_what_is_right() -> None:
    profile = load_profile(Path(__file__).parents[2] / "profiles" / "small-sheet.yaml")
    right, seen = Counter[str](), Counter[str]()
    for one in whole_half(HELD_OUT):
        art = Art(one.codes, None, "PNG", looks_drawn(one.codes))
        treated, _ = treatment(art, profile, seen_small(one.codes), [], [])
        seen[one.kind] += 1
        right[one.kind] += str(treated) in TREATED[one.kind]
    assert right.total() >= _LEAST_RIGHT * seen.total(), right
    assert all(right[kind] >= 0.7 * seen[kind] for kind in KINDS), right


def test_photos_and_text_are_never_confused(found: list[tuple[str, str, Reading]]) -> None:
    for kind, name, one in found:
        if kind == "photo":
            assert one.treat == "tone", name
        if kind == "text":
            assert one.treat == "line", name


def test_a_screened_print_tells_its_screen(found: list[tuple[str, str, Reading]]) -> None:
    for kind, name, one in found:
        assert (one.screen is not None) == (one.kind == "screened"), (kind, name)

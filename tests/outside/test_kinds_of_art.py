"""What art is taken for, on the half of a labeled set that was kept back; see ``kinds_set.py``."""

from __future__ import annotations

from collections import Counter

import pytest

pytest.importorskip("skimage")

from kinds_set import HELD_OUT, KINDS, TREATED, whole_half

from filmhand.art.analysis.classify import Reading, classify

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


def test_photos_and_text_are_never_confused(found: list[tuple[str, str, Reading]]) -> None:
    for kind, name, one in found:
        if kind == "photo":
            assert one.treat == "tone", name
        if kind == "text":
            assert one.treat == "line", name


def test_a_screened_print_tells_its_screen(found: list[tuple[str, str, Reading]]) -> None:
    for kind, name, one in found:
        assert (one.screen is not None) == (one.kind == "screened"), (kind, name)

from __future__ import annotations

import os

import pytest

from filmhand.errors import Quantity, Reason, Refused
from filmhand.page.why_note import held_note, quantity_text, why_note


def refused(**options: Quantity | None) -> Refused:
    say = "The picture has 19 pixels per inch at this size; the screen can use 25 or more."
    do = "Send a larger picture, or choose a profile with a coarser screen."
    return Refused(Reason.TOO_SMALL, say, do, **options)


def test_the_note_says_what_was_found_what_is_needed_and_what_to_do() -> None:
    note = why_note(
        "class 4/logo.gif",
        refused(found=Quantity(19, "ppi"), needed=Quantity(25.0, "ppi")),
        profile="small-sheet",
    )
    assert "class 4/logo.gif" in note
    assert "small-sheet" in note
    assert "19 pixels per inch at this size" in note.replace("\n", " ")
    assert "Found:   19 pixels per inch" in note
    assert "Needed:  25 pixels per inch" in note
    assert "coarser screen" in note
    assert note.endswith("\n")
    assert max(map(len, note.splitlines())) <= 78


@pytest.mark.parametrize("reason", list(Reason))
def test_there_are_no_codes_in_it(reason: Reason) -> None:
    note = why_note("a.png", Refused(reason, "It cannot be used.", "Send another."))
    if "-" in reason.value:
        assert reason.value not in note
    assert "Traceback" not in note
    assert "found" not in note.lower()  # nothing measured, nothing shown


def test_the_note_of_a_scan_never_says_that_it_shall_go_to_drop() -> None:
    reason = Refused(Reason.DAMAGED, "It breaks off.", "Scan it again.")
    note = " ".join(why_note("calibrate/a.png", reason, is_scan=True).split())
    assert note.startswith("No curve was read from this file")
    assert "put it back into calibrate." in note and "drop" not in note


def test_a_name_cannot_disturb_a_terminal_or_the_note() -> None:
    name = "a\n\nNo film was lost\x1b[2J\u202e" + os.fsdecode(b"\xff") + ".png"
    note = why_note(name, refused())
    assert not set(note) & {"\x1b", "\u202e"}
    assert "\nNo film was lost" not in note
    note.encode("utf-8")


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (None, ""),
        (Quantity(None, "ppi"), ""),
        (Quantity(0.1234567, "mm"), "0.1235 mm"),
        (Quantity("no art", "file"), "no art"),
        (Quantity("at least 1", "bytes"), "at least 1 bytes"),
        (Quantity(1, "failed tries"), "1 failed try"),
        (Quantity(2, "failed tries"), "2 failed tries"),
        (Quantity("A7", "patch"), "patch A7"),
        (Quantity("img1.jpg", "file"), "img1.jpg"),
        (Quantity(3, "hours"), "3 hours"),
        ({"value": 3, "unit": "um"}, "3 micrometers"),
    ],
)
def test_quantities(quantity: Quantity | None, text: str) -> None:
    assert quantity_text(quantity) == text


def test_the_note_of_a_held_set_names_its_inks() -> None:
    told = {"film": "poster", "job": "j", "proofs": ["poster.jpg"], "why": "It waits.", "until": ""}
    inks = [(1, "red"), (2, "dark blue"), (3, "an ink with quite a long name"), (4, "black")]
    note = held_note("poster.png", **told, inks=inks)
    assert "4 films that are printed, released and given up as one set: 1 red" in note
    assert "4 black" in note and max(map(len, note.splitlines())) <= 78
    assert "as one set" not in held_note("poster.png", **told)

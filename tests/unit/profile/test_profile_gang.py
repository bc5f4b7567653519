"""Who waits for company, and how that is said."""

from __future__ import annotations

import pytest

from filmhand.errors import ProfileError
from filmhand.profile.read.load import from_snapshot, read_profile, to_snapshot
from filmhand.profile.ticket.gang import GangWishes, goes_alone, read_gang, waits_for_gang
from filmhand.profile.ticket.ticket import read_ticket

BASE = (
    "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 6 mm\n"
    "art: {fit: width 50 mm}\n"
)


def profile_of(text):
    return read_profile(BASE + text, name="small", file="small.yaml")


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("off", None),
        (False, None),
        ("10 min", GangWishes(600.0, 5.0, 20)),
        ({"wait": "90 s", "gap": "0.5 cm"}, GangWishes(90.0, 5.0, 20)),
        ({"wait": "1 h", "gap": "3 mm", "most": 2}, GangWishes(3600.0, 3.0, 2)),
    ],
)
def test_what_is_said_and_meant(said, meant):
    assert read_gang(said) == meant


@pytest.mark.parametrize(
    "said",
    [
        "yes", True, None, 10, "10", "0 s", "200 h", {}, {"gap": "3 mm"},
        {"wait": "1 h", "room": 3}, {"wait": "1 h", "most": 1}, {"wait": "1 h", "most": 51},
        {"wait": "1 h", "most": True},
        {"wait": "1 h", "gap": "11 cm"}, {"wait": "1 h", "gap": 3},
    ],
)  # fmt: skip
def test_what_is_not_allowed(said):
    with pytest.raises(ValueError, match="off, a time from 1 s to 168 h"):
        read_gang(said)


def test_off_unless_asked_for_and_kept_in_a_snapshot():
    assert profile_of("").gang is None
    profile = profile_of("gang: {wait: 5 min, most: 4}\n")
    assert profile.gang == GangWishes(300.0, 5.0, 4)
    assert from_snapshot(to_snapshot(profile)).gang == profile.gang


def test_art_that_fills_the_sheet_has_no_company():
    text = BASE.replace("width 50 mm", "page") + "gang: 10 min\n"
    with pytest.raises(ProfileError) as caught:
        read_profile(text, name="small", file="small.yaml")
    (fault,) = caught.value.faulty.faults
    assert (fault.line, fault.key) == (9, "gang")
    assert "give art.fit a size, such as art: {fit: width 80 mm}" in fault.message


@pytest.mark.parametrize(
    "ticket",
    ["gang: false\n", "gang: off\n", "film: {mirror: true}\n", "marks: {label: false}\n",
     "copies: 3\n", "art: {fit: page}\n", "art: {repeat: 2 x 3}\n", "art: {repeat: fill}\n",
     "trial: {lpi: [20, 25]}\n", "patch: A1\n"],
)  # fmt: skip
def test_a_ticket_that_is_for_a_whole_sheet(ticket, tmp_path):
    # Such tickets are right, also where the profile gangs; their jobs only do not wait.
    _, read = read_ticket(ticket, profile=profile_of("gang: 10 min\n"), file="t")
    assert goes_alone(read.raw)
    path = tmp_path / "a.png.ticket.yaml"
    path.write_text(ticket)
    assert not waits_for_gang(path)


def test_other_tickets_wait_and_wrong_ones_do_not(tmp_path):
    path = tmp_path / "a.png.ticket.yaml"
    for text, waits in (
        ("for: class 4\nlpi: 20\n", True),
        ("gang: true\n", True),
        ("art: {repeat: off}\n", True),
        ("copies: 1\n", True),
        ("lpi: [", False),
    ):
        path.write_text(text)
        assert waits_for_gang(path) is waits
    path.write_bytes(b"\xff\xfe")
    assert not waits_for_gang(path)

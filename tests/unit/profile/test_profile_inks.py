"""Inks as profiles and tickets ask for them."""

from __future__ import annotations

import pytest

from filmhand.errors import ProfileError, Refused
from filmhand.ink.mixing import MOST_INKS
from filmhand.pipeline.profile_report import describe_profile
from filmhand.profile.inks import (
    LONGEST_INK_NAME,
    MOST_INKS_OF_SET,
    InkChoice,
    InkWish,
    InkWishes,
    Separate,
    Underbase,
    ink_file_name,
)
from filmhand.profile.read.load import from_snapshot, read_profile, to_snapshot
from filmhand.profile.ticket.gang import goes_alone
from filmhand.profile.ticket.ticket import read_ticket

INKS = """inks:
  - {name: red, color: "#B3261E", angle: 22.5}
  - {name: dark  blue, color: [32, 10, -45], mesh: 120-34, lpi: 55, opacity: 0.5, overprint: true}
"""


def test_off_is_what_holds_unless_inks_are_asked_for(good, read):
    profile = read(good)
    assert (profile.inks, profile.underbase, profile.separate) == (None, None, Separate.AUTO)
    assert (profile.trap, profile.cloth, profile.total_ink) == (0.0, "#ffffff", None)
    assert not profile.has_register_marks


def test_named_inks_stand_in_print_order(good, read):
    profile = read(good + INKS)
    red, blue = profile.inks.listed
    assert red == InkWish(name="red", color="#b3261e", angle=22.5)
    assert (blue.name, blue.color, blue.opacity) == ("dark blue", (32.0, 10.0, -45.0), 0.5)
    assert (red.overprint, blue.overprint) == (False, True)
    assert (blue.mesh.threads_per_cm, blue.lpi) == (120, 55)
    assert profile.has_register_marks
    assert not read(f"{good}{INKS}marks: {{register: false}}\n").has_register_marks
    assert from_snapshot(to_snapshot(profile)).inks == profile.inks


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("process", InkWishes(InkChoice.PROCESS)),
        ("auto 4", InkWishes(InkChoice.AUTO, 4)),
        ("off", None),
    ],
)
def test_inks_that_are_not_named(good, read, said, meant):
    assert read(f"{good}inks: {said}\n").inks == meant


def test_what_else_is_said_of_a_set(good, read):
    more = "cloth: [20, 0, -5]\nunderbase: {choke: 1 pt}\ntrap: 0.5 pt\nseparate: spot\n"
    profile = read(f"{good}{INKS}{more}total_ink: 280 %\nblack_generation: 75\n")
    assert profile.cloth == (20.0, 0.0, -5.0)
    assert profile.underbase == Underbase("white", pytest.approx(25.4 / 72))
    assert profile.trap == pytest.approx(0.5 * 25.4 / 72)
    assert (profile.separate, profile.total_ink, profile.black_generation) == ("spot", 2.8, 0.75)


@pytest.mark.parametrize(
    ("text", "key", "says"),
    [
        ("inks: 4", "inks", "off, process or auto with the number"),
        ("inks: auto", "inks", "off, process or auto with the number"),
        ("inks: auto 11", "inks", "off, process or auto with the number"),
        ("inks: cmyk", "inks", "did you mean process?"),
        ("inks: []", "inks", "a list of 1 to 10 inks"),
        ("inks: [red]", "inks.0", "a group such as {name: red"),
        ("inks: [{name: red}]", "inks.0", "a group with color in it"),
        ('inks: [{name: a/b, color: "#b3261e"}]', "inks.0.name", "a name of letters, digits"),
        (
            'inks: [{name: red, color: "#b3261e", overprint: 2}]',
            "inks.0.overprint",
            "true or false",
        ),
        ("inks: [{name: red, color: b3261e}]", "inks.0.color", 'such as "#b3261e"'),
        ("inks: [{name: red, color: [1, 2]}]", "inks.0.color", "CIELAB under D50"),
        ('inks: [{name: red, colr: 1, color: "#b3261e"}]', "inks.0.colr", "did you mean"),
        ('inks: [{name: red, color: "#b3261e", mesh: none}]', "inks.0.mesh", "a mesh such as"),
        (
            'inks: [{name: red, color: "#b3261e", mesh: {threads_per_cm: 43, thread: 1}}]',
            "inks.0.mesh.thread",
            "must",
        ),
        ('inks: [{name: red, color: "#b3261e", lpi: 80}]', "inks.0.lpi", "75 or less at 300 dpi"),
        ("underbase: {ink: white}", "underbase", "inks is off"),
        ("inks: process\nunderbase: {ink: white, choke: 0.3}", "underbase.choke", "0.3 in"),
        ("inks: process\nunderbase: {ink: white, chok: 1 mm}", "underbase.chok", "did you mean"),
        ("inks: process\ntrap: 0.5", "trap", "the unit is missing: 0.5 in"),
        ("inks: process\ntrap: 4 mm", "trap", "from 0 mm to 3 mm, such as 0.2 mm"),
        ("inks: process\ntotal_ink: 50", "total_ink", "from 100 % to 1000 %"),
        ("inks: process\nseparate: spto", "separate", "did you mean spot?"),
        ("inks: process\nart: {repeat: 2 x 2}", "art.repeat", "must be off where inks is on"),
        ("inks: process\nart: {tile: auto}", "art.tile", "must be off where inks is on"),
        ("inks: process\nart: {channel: alpha}", "art.channel", "must be luminance where inks"),
        ("inks: process\nmarks: {steps: true}", "marks.steps", "must be false where inks is on"),
        ("inks: process\nart: {treat: line}\nseparate: process", "separate", "spot or auto where"),
        ("inks: process\nart: {treat: line}", "inks", "process inks lie over each other"),
        ("inks: auto 10\nunderbase: {ink: white}", "inks", "10 inks or less, not 11"),
        ("shirt: black", "shirt", "did you mean cloth?"),
    ],
)
def test_what_is_not_allowed_is_told_at_its_key(good, faults, text, key, says):
    found = [(one[2], one[3]) for one in faults(f"{good}{text}\n")]
    assert [name for name, _ in found] == [key]
    assert says in found[0][1]


def test_a_fault_of_an_ink_stands_at_its_line(good, faults):
    text = good + INKS.replace("dark  blue", "RED").replace("angle: 22.5", "angle: 200")
    assert [(line, key) for line, _, key, _ in faults(text)] == [(9, "inks.0.angle")]
    text = good + INKS.replace("dark  blue", "RED")
    ((line, _, key, message),) = faults(text)
    assert (line, key) == (10, "inks.1.name")
    assert "another name than that of the ink red before" in message


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("dark_red", "dark red"),
        ("dark-red", "DARK RED"),
        ("\u00e9toile", "e\u0301toile"),  # composed, and a letter with its mark behind
        ("red 2", "red \uff12"),  # a digit of full width
        ("stra\u00dfe", "strasse"),
    ],
)
def test_names_that_people_take_for_one_are_one(good, faults, first, second):
    inks = "".join(f'  - {{name: {name}, color: "#b3261e"}}\n' for name in (first, second))
    ((_, _, key, message),) = faults(f"{good}inks:\n{inks}")
    assert key == "inks.1.name"
    assert f"another name than that of the ink {first} before" in message


@pytest.mark.parametrize("name", ['"---"', '"_ _"', '"red."', '"red/2"', '"\u0301"', '" "', '""'])
def test_a_name_that_leaves_none_for_a_file_is_told(good, faults, name):
    ((_, _, key, message),) = faults(f'{good}inks: [{{name: {name}, color: "#b3261e"}}]\n')
    assert key == "inks.0.name"
    assert "a name of letters, digits, spaces, - and _" in message


def test_an_underbase_is_printed_first(good, faults):
    ((_, _, key, message),) = faults(f"{good}{INKS}underbase: {{ink: Dark blue}}\n")
    assert key == "underbase.ink"
    assert "must be the first ink" in message


def test_tickets_ask_for_inks_but_not_for_another_mesh(good):
    profile = read_profile(good, name="p", file="p.yaml")
    changed, _ = read_ticket("inks: auto 3\ntrap: 0.2 mm\n", profile=profile, file="t")
    assert (changed.inks.count, changed.trap) == (3, 0.2)
    with pytest.raises(Refused, match=r"line 3.*mesh"):
        read_ticket(INKS, profile=profile, file="t")


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("separate", "spot"),
        ("trap", "0.2 mm"),
        ("cloth", '"#101010"'),
        ("total_ink", "240 %"),
        ("black_generation", "80 %"),
    ],
)
def test_what_is_for_inks_alone_may_wait_in_a_profile_but_not_in_a_ticket(good, key, value):
    profile = read_profile(f"{good}{key}: {value}\n", name="p", file="p.yaml")
    assert any(f"by {key} " in told for told in describe_profile(profile)["warnings"])
    changed, _ = read_ticket("inks: auto 2\n", profile=profile, file="t")
    assert getattr(changed, key) == getattr(profile, key)
    gray = read_profile(good, name="p", file="p.yaml")
    assert not any("inks is off" in told for told in describe_profile(gray)["warnings"])
    with pytest.raises(Refused, match=rf"line 1.*{key} is for films of several inks"):
        read_ticket(f"{key}: {value}\n", profile=gray, file="t")


def test_a_ticket_may_ask_for_gray_where_the_profile_has_an_underbase(good):
    text = good + INKS + 'underbase: {ink: white}\ncloth: "#101010"\nseparate: simulated\n'
    profile = read_profile(text, name="p", file="p.yaml")
    changed, _ = read_ticket("inks: off\n", profile=profile, file="t")
    assert (changed.inks, changed.underbase) == (None, None)
    assert read_ticket("inks: auto 2\n", profile=profile, file="t")[0].underbase is not None
    with pytest.raises(Refused, match="inks is off"):
        read_ticket("inks: off\ntrap: 0.2 mm\n", profile=profile, file="t")
    with pytest.raises(Refused, match="inks is off"):
        read_ticket("inks: off\nunderbase: {ink: white}\n", profile=profile, file="t")


def test_a_ticket_for_inks_shares_no_sheet():
    assert "several inks" in goes_alone({"inks": "process"})
    assert goes_alone({"inks": "off"}) == ""


@pytest.mark.parametrize(
    ("name", "word"), [("red", "red"), ("  deep   Blue ", "deep-Blue"), ("añil_2", "añil_2")]
)
def test_names_that_files_can_have(name, word):
    assert ink_file_name(name) == word


@pytest.mark.parametrize(
    "name",
    ["", " ", "--", "a/b", "a.b", "..", "a:b", "a\nb\x00", "a\u202eb", "é" * LONGEST_INK_NAME],
)
def test_names_that_no_file_can_have(name):
    with pytest.raises(ValueError, match="films are named after it"):
        ink_file_name(name)


def test_a_set_has_no_more_inks_than_can_be_mixed():
    assert MOST_INKS_OF_SET == MOST_INKS


def test_many_faults_come_at_once(good):
    text = f'{good}inks:\n  - {{name: a.b, color: red}}\n  - {{name: "", lpi: 3}}\ntrap: 9 mm\n'
    with pytest.raises(ProfileError) as caught:
        read_profile(text, name="p", file="p.yaml")
    keys = [fault.key for fault in caught.value.faulty.faults]
    assert sorted(keys) == sorted(
        ["inks.0.name", "inks.0.color", "inks.1.name", "inks.1.lpi", "inks.1", "trap"]
    )

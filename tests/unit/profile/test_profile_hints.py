"""Words that people write in place of those that are known here."""

from __future__ import annotations

import pytest

from filmhand.errors import Refused
from filmhand.profile.read.document import read_document
from filmhand.profile.read.hints import FORMER, HINTS
from filmhand.profile.read.load import read_profile
from filmhand.profile.read.schema import KEYS
from filmhand.profile.terms import Place
from filmhand.profile.ticket.ticket import read_ticket
from filmhand.profile.ticket.trial import TRIAL_KEYS
from filmhand.profile.ticket.wishes import wishes_in


@pytest.mark.parametrize("key", FORMER)
def test_former_keys_are_not_read_and_named(good, faults, key):
    group, inner = key.split(".")
    if group == "trial":
        profile = read_profile(good, name="p", file="p.yaml")
        with pytest.raises(Refused, match=f"{key} is now {FORMER[key]}"):
            read_ticket(f"trial: {{{inner}: [1]}}", profile=profile, file="t")
        return
    ((_, _, found, message),) = faults(f"{good}{group}: {{{inner}: 1}}")
    assert (found, message) == (key, f"{key} is now {FORMER[key]}")


@pytest.mark.parametrize("now", FORMER.values())
def test_what_they_are_now_is_a_key(now):
    group, inner = now.split(".")
    assert inner in (TRIAL_KEYS if group == "trial" else KEYS[group])


@pytest.mark.parametrize("key", [key for key in HINTS if "." not in key and ":" not in key])
def test_other_words_for_keys_get_their_hint(good, faults, key):
    ((_, _, found, message),) = faults(f"{good}{key}: 1")
    hint = "that is copies, which belongs in a ticket" if key == "quantity" else HINTS[key].say()
    assert (found, message) == (key, f"{key} is not a known key; {hint}")


@pytest.mark.parametrize("key", [key for key in HINTS if ":" in key])
def test_other_words_get_their_hint(good, faults, key):
    where, word = key.split(": ")
    group, _, inner = where.rpartition(".")
    lines = [line for line in good.splitlines() if not line.startswith(f"{where}:")]
    lines.append(f"{group}: {{{inner}: {word}}}" if group else f"{where}: {word.capitalize()}")
    ((_, _, found, message),) = faults("\n".join(lines))
    assert found == where
    assert message.endswith(f"; {HINTS[key].say()}")


@pytest.mark.parametrize("key", [*FORMER, *HINTS])
def test_no_hint_is_for_a_word_that_is_known(key):
    group, _, inner = key.partition(":")[0].rpartition(".")
    assert ":" in key or inner not in KEYS.get(group, KEYS)


@pytest.mark.parametrize(
    ("written", "key", "says"),
    [
        ("sheet: 13x19", "sheet", "the unit is missing: 13 x 19 in"),
        ("sheet: 330 × 480", "sheet", "the unit is missing: 330 x 480 mm"),
        ("margin: 3", "margin", "the unit is missing: 3 mm"),
        ("margin: 0.25", "margin", "the unit is missing: 0.25 in"),
        ("margin: [3, 3, 3, 10]", "margin", "the unit is missing: 3 mm, 3 mm, 3 mm, 10 mm"),
        ("margin: 3 3 3 10", "margin", "the unit is missing: 3 mm, 3 mm, 3 mm, 10 mm"),
        ("press: {film_gap: 20}", "press.film_gap", "the unit is missing: 20 um"),
        ("verdict: {dot: {fail: 1, warn: 2 um}}", "verdict.dot.fail", "missing: 1 um"),
        ("keep: {films: 30}", "keep.films", "the unit is missing: 30 days"),
        ("limits: {memory: 2}", "limits.memory", "the unit is missing: 2 GiB"),
        ("dot: oval 0.6", "dot", "did you mean ellipse 0.6?"),
    ],
)
def test_missing_units_are_named(good, faults, written, key, says):
    top = written.partition(":")[0]
    lines = [line for line in good.splitlines() if not line.startswith(f"{top}:")]
    ((_, _, found, message),) = faults("\n".join([*lines, written]))
    assert found == key
    assert message.endswith(says)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("paper: a4", "paper is not a known key; that is sheet, which belongs in the profile."),
        ("beat: warn", "beat is not a known key; that is limits, which belongs in the profile."),
        ("screen: 30", "write the screen as lpi: 25, angle: 45 and dot: round."),
        ("Contrast: 2", "Contrast is not a known key; write tone: {contrast: 1.2}, where"),
        ("trial: {dot: [round, oval]}", "not 'oval'; did you mean ellipse?"),
    ],
)
def test_tickets_get_hints_too(good, text, says):
    with pytest.raises(Refused) as refused:
        read_ticket(text, profile=read_profile(good, name="p", file="p.yaml"), file="t")
    assert says in refused.value.say


def test_other_dots_in_a_name_get_their_hint():
    with pytest.raises(Refused) as refused:
        wishes_in("a [Oval dots].png")
    assert "did you mean ellipse dots?" in refused.value.say


@pytest.mark.parametrize(("british", "place"), [("centre", Place.CENTER), ("center", Place.CENTER)])
def test_words_are_read_in_both_spellings(good, read, british, place):
    assert read(f"{good}art: {{place: {british}}}").art.place is place


def test_keys_and_wishes_are_read_in_both_spellings():
    assert read_document("colour: grey\nx: {top-centre: 1}").data == {
        "color": "grey",
        "x": {"top-center": 1},
    }
    assert wishes_in("a [180 millimetres].png") == wishes_in("a [180 millimeters].png")
    assert wishes_in("a [18 Centimetres high].png")[0].value == "height 18 cm"


@pytest.mark.parametrize(("key", "group"), [("contrast", "art"), ("highlight", "tone")])
def test_other_words_get_their_hint_inside_any_group(good, faults, key, group):
    kept = "\n".join(line for line in good.splitlines() if not line.startswith(f"{group}:"))
    told = [one for one in faults(f"{kept}\n{group}: {{{key}: 1}}") if one[2] == f"{group}.{key}"]
    ((_, _, _, message),) = told
    assert message == f"{group}.{key} is not a known key; {HINTS[key].say()}"


@pytest.mark.parametrize("key", ["beat_cells", "moire_cells"])
def test_a_key_that_is_gone_is_told_with_what_came_instead(good, faults, key):
    ((_, _, found, message),) = faults(f"{good}verdict: {{{key}: 3}}")
    assert found == f"verdict.{key}"
    assert message == (
        f"verdict.{key} is gone: verdict.moire goes by how well bands are seen, "
        "{warn: 0.02, fail: 0.1}"
    )


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ("ruling: [25, 30]", "trial.ruling is not a known key; did you mean trial.lpi?"),
        ("brightness: [5, 9]", "write tone: {midtone: -5}, where less than 0 is brighter."),
    ],
)
def test_keys_of_a_trial_get_hints_that_hold_for_tickets(good, inside, says):
    with pytest.raises(Refused) as refused:
        profile = read_profile(good, name="p", file="p.yaml")
        read_ticket(f"trial: {{{inside}}}", profile=profile, file="t")
    assert says in refused.value.say

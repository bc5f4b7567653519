"""The log in sentences: each event that the program says, and nothing that writes to a terminal."""

from __future__ import annotations

import ast
import json
import time
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from click.testing import CliRunner

import filmhand
from filmhand.cli.main import main
from filmhand.jobs.recover import Outcome
from filmhand.prints import profile_orders, steps
from filmhand.service import log as log_module
from filmhand.service.log import ServiceLog, read_log
from filmhand.service.log_words import LogWord, event_in_words, row_of

ROOT = Path(filmhand.__file__).parent
SAY = {"say", "_say", "_say_once", "_say_that_it_came", "event"}
TOLD_WITH_ITS_FACTS = {
    "tidied away"  # how many of each kind of folder, by its name
}


def calls_in(path: Path) -> Iterator[ast.Call]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    yield from (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def called(call: ast.Call) -> str:
    function = call.func
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def said() -> Iterator[tuple[str, set[str | None]]]:
    """Events with the names of their facts, as the program's sources say them."""
    for call in (call for path in ROOT.rglob("*.py") for call in calls_in(path)):
        if called(call) in SAY and call.args:
            event = call.args[0]
            if isinstance(event, ast.Constant) and isinstance(event.value, str):
                yield event.value, {keyword.arg for keyword in call.keywords}


def states_of_prints() -> set[str]:
    """The states that are told of an order to print, in its own log and in the service's."""
    files = [Path(str(module.__file__)) for module in (steps, profile_orders)]
    calls = [call for path in files for call in calls_in(path)]
    told = [call for call in calls if called(call) in {"tell", "ends_as"}]
    return {str(call.args[1].value) for call in told if isinstance(call.args[1], ast.Constant)}


@pytest.fixture(autouse=True)
def in_one_time_zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "UTC-2")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def test_time_is_this_computers_and_warnings_have_a_mark() -> None:
    line = {"event": "made", "name": "a.png", "profile": "p", "stem": "a", "seconds": 2.5}
    line |= {"timestamp": "2026-03-01T23:30:00.5Z", "level": "info"}
    assert event_in_words(line) == (
        "2026-03-02 01:30:00  a.png: made, the film a is in positives of p (after 2.5 s)."
    )
    refused = {"event": "refused", "name": "a.png", "profile": "p", "say": "Too small."}
    assert event_in_words(refused | {"level": "warning"}) == "! a.png: no film for p. Too small."


def test_the_start_says_where_to_drop_and_which_page_to_open() -> None:
    page = "file:///srv/my%20films/status.html"
    told = event_in_words({"event": "starts", "station": "/srv/my films", "page": page, "pid": 1})
    assert told == f"Working in /srv/my films. See what goes on in a browser: {page}"
    drop = event_in_words({"event": "profile read", "profile": "a4", "drop": "/srv/a4/drop"})
    assert drop == "a4 is ready: drop art into /srv/a4/drop"


def test_every_event_that_is_said_has_a_row() -> None:
    events = {event for event, _ in said()}
    assert len(events) > 40
    assert {"paused", "printing paused", "unreachable"} <= events  # said by way of another method
    states = states_of_prints()
    assert states > {"sent", "printed", "doubtful", "stopped"}
    events |= {f"print {state}" for state in states | {"waiting"}} | set(map(str, Outcome))
    assert {event for event in events if row_of(event) is None} == TOLD_WITH_ITS_FACTS
    ways = [(why, held) for why in (False, True) for held in (False, True)]
    rows = {row_of(event, why=why, held=held) for event in events for why, held in ways}
    assert [row for row in LogWord if row not in rows] == []


def test_what_a_sentence_names_is_what_the_program_says() -> None:
    facts: dict[str, set[str | None]] = {}
    for event, names in said():
        facts.setdefault(event, set()).update(names)
    # Added on the way, by what these are said through.
    added = {event: {"printer", "why"} for event in ("printing paused", "printer waits")}
    added |= {event: {"profile", "why"} for event in ("paused", "unreachable")}
    added |= {event: {"profile", "where"} for event in ("low on space", "space again")}
    added["filmhand itself failed"] = {"profile", "printer"}  # one of the two
    for event, names in facts.items():
        row = row_of(event)
        if row is None or None in names:
            continue
        asked = {name for _, name, _, _ in Formatter().parse(row) if name}
        assert asked - names - added.get(event, set()) == set(), event


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        (
            {"event": "print sent", "profile": "a4", "film": "x/b", "printer_job": 7},
            "x/b of a4 was sent to the printer (its job 7).",
        ),
        (
            {"event": "print doubtful", "profile": "a4", "film": "b", "why": "it knows nothing"},
            "Nobody knows whether b of a4 was printed: it knows nothing. If it was, or nobody "
            "needs it: filmhand cancel STATION b; if not: filmhand reprint STATION b",
        ),
        (
            {"event": "message not sent", "to": "mail to ann", "why": "no answer", "times": 1},
            "A message to mail to ann did not go out, and is tried again: no answer",
        ),
        ({"event": "print printed", "profile": "a4", "film": "b"}, "b of a4 is printed."),
        (
            {"event": "print stopped", "profile": "a4", "film": "b", "why": "the tray is empty"},
            "b of a4 is at the printer, which has stopped: the tray is empty",
        ),
        (
            {"event": "print stopped", "profile": "a4", "film": "b"},
            "b of a4 is at the printer, which has stopped.",
        ),
    ],
)
def test_prints_and_messages_are_told_in_sentences(facts: dict[str, str], told: str) -> None:
    assert event_in_words(facts) == told


def test_an_event_without_a_sentence_is_told_with_all_its_facts() -> None:
    line = {"event": "tidied away", "profile": "p", "proofs": 3, "level": "warning"}
    assert event_in_words(line) == "! tidied away: profile p, proofs 3"
    assert event_in_words({"event": "odd"}) == "odd"


@pytest.mark.parametrize("name", ["a\x1b[31mred.png", "a\nb.png", "a\u202eb.png", "a\x07.png"])
def test_no_name_writes_to_a_terminal(name: str) -> None:
    for event in ("made", "refused", "odd"):
        told = event_in_words({"event": event, "name": name, "say": name})
        assert told.isprintable() and "\u202e" not in told


def test_a_very_long_fact_is_cut() -> None:
    assert len(event_in_words({"event": "odd", "traceback": "x" * 5000})) < 700


def test_the_last_lines_are_read_from_all_files_of_the_log(tmp_path: Path) -> None:
    path = tmp_path / "filmhand.log"
    for number, name in enumerate(["filmhand.log.2", "filmhand.log.1", "filmhand.log"]):
        lines = [json.dumps({"event": f"{number}{n}"}) for n in range(3)]
        (tmp_path / name).write_text("\n".join([*lines, "not json", "[1]", "{}", ""]))
    assert [line["event"] for line in read_log(path, 5)] == ["11", "12", "20", "21", "22"]
    assert len(read_log(path, 100)) == 9
    assert read_log(tmp_path / "none" / "filmhand.log", 5) == []


def test_the_command(tmp_path: Path) -> None:
    station, state = tmp_path / "station", tmp_path / "state"
    words = ["log", str(station), "--state", str(state)]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 1 and "filmhand serve starts one" in done.output
    state.mkdir()
    log = ServiceLog(state / "filmhand.log", log_module.sys.stderr)
    for number in range(60):
        log.say("profile gone", profile=f"p{number}")
    log.close()
    lines = CliRunner().invoke(main, words).output.splitlines()
    assert len(lines) == 50
    assert lines[-1].endswith("p59 is gone; what waits in its folder stays there.")
    few = CliRunner().invoke(main, [*words, "--lines", "2", "--json"]).output
    assert [line["profile"] for line in json.loads(few)] == ["p58", "p59"]


def test_seconds_are_told_as_people_tell_them() -> None:
    told = {6.504: "after 6.5 s", 123.44: "after 123.4 s", 0.0371: "after 0.037 s"}
    for seconds, said in told.items():
        line = {"event": "made", "name": "a", "stem": "a", "profile": "p", "seconds": seconds}
        assert said in event_in_words(line)


def test_a_film_that_was_held_is_not_said_to_have_taken_as_long_as_its_release() -> None:
    made = {"event": "made", "name": "a.png", "stem": "a", "profile": "small", "seconds": 0.037}
    assert "(after 0.037 s)" in event_in_words(made)
    held = event_in_words(made | {"held": True})
    assert held == "a.png: no longer held, the film a is in positives of small."

"""The log in sentences: each event that the program says, and nothing that writes to a terminal."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from click.testing import CliRunner

import filmhand
from filmhand.cli.main import main
from filmhand.service import log as log_module
from filmhand.service.log import ServiceLog, read_log
from filmhand.service.log_words import _SENTENCES, event_in_words

ROOT = Path(filmhand.__file__).parent
SAID = re.compile(r"""(?:\bsay|_say)\(\s*"([a-z][^"]+)"(.*?)\)\n""", re.DOTALL)


def said() -> Iterator[tuple[str, str]]:
    """Events with the text of their facts, as the program's sources say them."""
    for path in ROOT.rglob("*.py"):
        yield from SAID.findall(path.read_text(encoding="utf-8"))


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


def test_what_a_sentence_names_is_what_the_program_says() -> None:
    facts: dict[str, str] = {}
    for event, rest in said():
        facts[event] = facts.get(event, "") + rest
    assert len(facts) > 20
    for event, sentence in _SENTENCES.items():
        if event not in facts or "**" in facts[event]:
            continue
        names = {name for _, name, _, _ in Formatter().parse(sentence) if name}
        assert {name for name in names if f"{name}=" not in facts[event]} == set(), event


def test_an_event_without_a_sentence_is_told_with_all_its_facts() -> None:
    line = {"event": "metrics not written", "file": "/x", "why": "no room", "level": "warning"}
    assert event_in_words(line) == "! metrics not written: file /x, why no room"
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

"""The lines that the service writes: for programs, for people at a terminal, and for nobody."""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from filmhand.errors import ExitCode
from filmhand.service.log import ServiceLog, complain


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Broken(io.StringIO):
    """As where whoever read it has gone, or it was closed."""

    def __init__(self, error: Exception) -> None:
        super().__init__()
        self._error = error

    def isatty(self) -> bool:
        return False

    def write(self, text: str) -> int:
        raise self._error


Open = Callable[..., ServiceLog]


@pytest.fixture
def log() -> Iterator[Open]:
    """Opens logs, and closes them in the end."""
    with contextlib.ExitStack() as stack:
        yield lambda *given: stack.enter_context(contextlib.closing(ServiceLog(*given)))


def lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_each_event_is_a_line_of_json_on_the_stream_and_in_the_file(
    log: Open, tmp_path: Path
) -> None:
    stream = io.StringIO()
    said = log(tmp_path / "log", stream)
    said.say("made", job="j1", film=None, seconds=2.5, path=tmp_path, name="a\x1b[31m\nb.png")
    said.say("refused", job="j2")
    said.close()
    said.say("stops")
    told = [json.loads(line) for line in stream.getvalue().splitlines()]
    assert lines(tmp_path / "log") == told[:2]
    assert [line["level"] for line in told] == ["info", "warning", "info"]
    when = datetime.fromisoformat(told[0].pop("timestamp"))
    assert abs(when - datetime.now(UTC)) < timedelta(minutes=5)
    assert told[0] == {
        "event": "made", "job": "j1", "seconds": 2.5, "path": str(tmp_path), "level": "info",
        "name": "a\x1b[31m\nb.png",
    }  # fmt: skip
    assert "\x1b" not in stream.getvalue()
    assert told[2]["event"] == "stops"


def test_people_at_a_terminal_read_lines_and_the_file_keeps_json(log: Open, tmp_path: Path) -> None:
    stream = Terminal()
    said = log(tmp_path / "log", stream)
    said.say("made", name="a\x07b.png")
    assert "made" in stream.getvalue() and "{" not in stream.getvalue()
    assert "\x07" not in stream.getvalue()
    assert lines(tmp_path / "log")[0]["event"] == "made"


@pytest.mark.parametrize("error", [BrokenPipeError(), ValueError("I/O operation on closed file")])
def test_nobody_need_listen(log: Open, tmp_path: Path, error: Exception) -> None:
    said = log(tmp_path / "log", Broken(error))
    said.say("made")
    said.say("stops")
    assert len(lines(tmp_path / "log")) == 2


def test_what_is_closed_or_missing_is_no_terminal(
    log: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    closed = io.StringIO()
    closed.close()
    log(tmp_path / "one", closed).say("made")
    log(None).say("starts")
    assert json.loads(capsys.readouterr().err)["event"] == "starts"
    monkeypatch.setattr(sys, "stderr", None)
    said = log(tmp_path / "two")
    said.say("made")
    said.close()
    said.close()
    assert len(lines(tmp_path / "one")) == len(lines(tmp_path / "two")) == 1


def test_a_folder_that_comes_later_gets_what_is_said_from_then_on(
    log: Open, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = log(tmp_path / "state" / "log", io.StringIO())
    said.say("starts")
    (tmp_path / "state").mkdir()
    said.say("made")
    assert [line["event"] for line in lines(tmp_path / "state" / "log")] == ["made"]
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(("size", "rotates"), [(9_999_800, False), (9_999_999, True)])
def test_at_ten_megabytes_a_new_file_begins_and_five_old_ones_stay(
    log: Open, tmp_path: Path, size: int, *, rotates: bool
) -> None:
    for number in range(1, 7):
        (tmp_path / f"log.{number}").write_text(str(number))
    (tmp_path / "log").touch()
    os.truncate(tmp_path / "log", size)
    log(tmp_path / "log", io.StringIO()).say("made")
    kept = [(tmp_path / f"log.{number}").read_text()[:2] for number in range(2, 7)]
    assert kept == (["1", "2", "3", "4", "6"] if rotates else ["2", "3", "4", "5", "6"])
    assert ((tmp_path / "log").stat().st_size < 1000) is rotates


def test_the_program_cannot_keep_a_file_where_it_stands_nowhere(
    log: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "gone").mkdir()
    monkeypatch.chdir(tmp_path / "gone")
    (tmp_path / "gone").rmdir()
    stream = io.StringIO()
    log(Path("log"), stream).say("starts")
    assert json.loads(stream.getvalue())["event"] == "starts"


def test_complaints_go_to_whoever_listens_and_give_the_exit_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code = complain("It runs already.", ExitCode.TRY_LATER)
    assert (code, type(code)) == (75, int)
    assert capsys.readouterr().err == "It runs already.\n"
    for stream in (None, Broken(BrokenPipeError()), Broken(ValueError("closed"))):
        monkeypatch.setattr(sys, "stderr", stream)
        assert complain("It runs already.", ExitCode.PROFILE) == 78

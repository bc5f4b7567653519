"""A bug of the program: one sentence, the details in a log, and nobody's file to blame."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from filmhand.cli.main import main
from filmhand.cli.options import program_failed


def fail(*_: object, **__: object) -> None:
    raise KeyError("no such row")


def test_a_command_that_fails_names_its_log_and_shows_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr("filmhand.pipeline.profile_report.describe_profile", fail)
    profile = tmp_path / "small.yaml"
    profile.write_text("sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\n")
    profile.write_text(profile.read_text() + "margin: 5 mm\n")
    done = CliRunner().invoke(main, ["check", str(profile)])
    log = tmp_path / "filmhand" / "commands.log"
    assert done.exit_code == 1
    assert str(log) in done.output and "not to blame" in done.output
    assert "Traceback" not in done.output
    assert "Traceback" in log.read_text() and "no such row" in log.read_text()


def test_details_are_said_where_no_log_can_be_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "filmhand").write_text("a file where the folder would be")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert "all of it" in str(program_failed("this", "it", "all of it"))


def test_a_command_of_another_name_is_told_its_new_one() -> None:
    done = CliRunner().invoke(main, ["foresee", "film.pdf"])
    assert done.exit_code == 2
    assert "foresee is now predict" in done.output


def test_the_package_is_the_program(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["filmhand", "guide"])
    monkeypatch.delitem(sys.modules, "filmhand.__main__", raising=False)
    with pytest.raises(SystemExit) as ended:
        runpy.run_module("filmhand", run_name="__main__")
    assert ended.value.code == 0
    assert "cautions" in capsys.readouterr().out
    runpy.run_module("filmhand.__main__", run_name="looked at only")
    assert capsys.readouterr().out == ""


def test_whoever_no_longer_reads_our_output_is_told_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Python itself would complain at its end of what it could not write."""
    closed: list[bool] = []

    def broken(*_: object, **__: object) -> None:
        monkeypatch.setattr(sys.stderr, "close", lambda: closed.append(True), raising=False)
        raise BrokenPipeError

    monkeypatch.setattr("filmhand.guide.page_names", broken)
    assert CliRunner().invoke(main, ["guide"]).exit_code == 0
    assert closed == [True]

"""What people see at a terminal: where to begin, what is being worked on, what a film warns of."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord
from filmhand.cli.main import main

Run = Callable[..., subprocess.CompletedProcess[str]]
PROFILE = """\
sheet: a4
dpi: 150
threshold: 50
mesh: none
margin: 5 mm
art: {treat: line, fit: width 150 mm}
"""


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_name_alone_shows_where_to_begin(filmhand: Run) -> None:
    done = filmhand()
    assert (done.returncode, done.stderr) == (0, "")
    assert max(map(len, done.stdout.splitlines())) <= 80 and len(done.stdout.splitlines()) < 23
    named = {line.split()[1] for line in done.stdout.splitlines() if line.startswith("  filmhand ")}
    assert {"new-profile", "make", "serve", "guide"} <= named <= {*main.commands, "--help"}


def test_what_is_worked_on_stands_on_a_terminal_and_is_gone_before_what_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    seen = []
    for item in options.with_progress(iter("ab"), CommandWord.READING_PROFILES, 2):
        seen.append((item, screen.getvalue()))
    assert seen[0] == ("a", "reading profiles: 1 of 2 ...\r" + " " * 28 + "\r")
    assert seen[1][1].count("reading profiles: 2 of 2 ...\r" + " " * 28 + "\r") == 1
    assert screen.getvalue().rstrip("\r") == seen[1][1].rstrip("\r")


@pytest.mark.parametrize(("stream", "quiet"), [(io.StringIO(), False), (Screen(), True)])
def test_elsewhere_and_for_programs_there_is_no_progress(
    monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, *, quiet: bool
) -> None:
    monkeypatch.setattr(sys, "stderr", stream)
    told = options.with_progress("ab", CommandWord.READING_PROFILES, 2, quiet=quiet)
    assert list(told) == ["a", "b"]
    assert stream.getvalue() == ""


@pytest.mark.parametrize(("frame", "warns"), [("20 x 24 in", False), ("200 x 240 mm", True)])
def test_a_film_larger_than_its_screen_prints_is_made_with_a_warning(
    filmhand: Run, tmp_path: Path, frame: str, *, warns: bool
) -> None:
    (tmp_path / "p.yaml").write_text(PROFILE + f"frame: {frame}\n")
    art = Image.new("L", (600, 400), 255)
    art.paste(0, (100, 100, 400, 300))
    art.save(tmp_path / "art.png")
    done = filmhand("make", "art.png", "--profile", "p.yaml")
    assert done.returncode == 0
    record = json.loads((tmp_path / "art.json").read_text())
    told = [warning for warning in record["warnings"] if "ink and squeegee" in warning]
    assert bool(told) is warns
    if warns:
        assert told[0] in record["notes"]
        assert "prints at most 100 x 140 mm" in told[0]

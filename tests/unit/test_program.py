"""The program's start: what is begun before the command is loaded."""

from __future__ import annotations

import subprocess
import sys

import pytest

from filmhand import __main__ as program
from filmhand.worker import ahead


@pytest.mark.parametrize(
    ("line", "one"),
    [
        ("make a.jpg --profile p.yaml", True),
        ("make --profile p.yaml --out films a.jpg", True),
        ("make --profile=p.yaml --json a.jpg", True),
        ("make a.jpg b.jpg --profile p.yaml", False),
        ("make --profile p.yaml", False),
        ("make a.jpg --help", False),
        ("make --profile", False),
        ("check a.jpg", False),
        ("", False),
    ],
)
def test_a_process_is_started_ahead_for_films_of_one_file(
    line: str, one: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    monkeypatch.setattr(sys, "argv", ["filmhand", *line.split()])
    monkeypatch.setattr(ahead, "start_ahead", lambda: told.append("started"))
    monkeypatch.setattr(ahead, "end_waiting", lambda: told.append("ended"))
    monkeypatch.setattr("filmhand.cli.main", lambda: told.append("ran"))
    program.run_filmhand()
    assert told == (["started", "ran", "ended"] if one else ["ran"])


def test_it_is_ended_where_the_command_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[str] = []
    monkeypatch.setattr(sys, "argv", ["filmhand", "make", "a.jpg"])
    monkeypatch.setattr(ahead, "start_ahead", lambda: None)
    monkeypatch.setattr(ahead, "end_waiting", lambda: told.append("ended"))
    monkeypatch.setattr("filmhand.cli.main", lambda: sys.exit(2))
    with pytest.raises(SystemExit):
        program.run_filmhand()
    assert told == ["ended"]


def test_starting_it_loads_little() -> None:
    """Whatever is loaded before it starts, both wait for."""
    code = (
        "import sys\n"
        "from filmhand import __main__\n"
        "from filmhand.worker import ahead\n"
        "print(*sorted(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    loaded = set(done.stdout.split())
    assert not loaded & {"click", "dataclasses", "yaml", "tempfile", "filmhand.errors"}

"""The program's start: what is begun before the command is loaded."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from filmhand import __main__ as program
from filmhand.worker import ahead


@pytest.fixture(autouse=True)
def collecting() -> Iterator[None]:
    """The program may leave off; the tests go on."""
    yield
    gc.enable()


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
    monkeypatch.setattr("os._exit", lambda code: told.append(f"exit {code}"))
    with pytest.raises(SystemExit):
        program.run_filmhand()
    assert told == ["ended", "exit 2"]


@pytest.mark.parametrize(
    ("end", "code", "said"),
    [
        ("print('made'); sys.exit(0)", 0, ("made\n", "")),
        ("print('no film', file=sys.stderr); sys.exit(1)", 1, ("", "no film\n")),
        ("sys.exit('words')", 1, ("taken apart\n", "words\n")),
        ("sys.exit()", 0, ("taken apart\n", "")),
    ],
)
def test_it_ends_with_all_that_it_said(end: str, code: int, said: tuple[str, str]) -> None:
    program_of = (
        "import atexit, sys\n"
        "import filmhand.cli\n"
        "from filmhand import __main__ as program\n"
        "from filmhand.worker import ahead\n"
        "ahead.start_ahead = lambda: None\n"
        "sys.argv = ['filmhand', 'make', 'a.jpg']\n"
        f"def main(): {end}\n"
        "filmhand.cli.main = main\n"
        "atexit.register(print, 'taken apart')\n"
        "program.run_filmhand()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program_of], capture_output=True, text=True, check=False, timeout=60
    )
    assert (done.returncode, (done.stdout, done.stderr)) == (code, said)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full device")
def test_output_that_finds_no_place_is_told() -> None:
    program_of = (
        "import sys\n"
        "from filmhand import __main__ as program\n"
        "print('made')\n"
        "program.end_at_once(0)\n"
    )
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-c", program_of],
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
            timeout=60,
            env={name: one for name, one in os.environ.items() if name != "PYTHONUNBUFFERED"},
        )
    assert b"No space left" in done.stderr
    assert done.returncode == 120  # as Python ends then


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

"""The demo, run as a person would run it but for its virtual environment."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SHOW = Path(__file__).resolve().parents[2] / "demo" / "show.py"


def run_demo(station: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(SHOW), str(station)]
    return subprocess.run(command, capture_output=True, text=True, timeout=420, check=False)


@pytest.mark.slow
def test_the_demo_makes_and_refuses_what_it_says(tmp_path: Path) -> None:
    station = tmp_path / "a station"
    ran = run_demo(station)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    films = sorted(path.name for path in station.glob("*/positives/**/*") if path.is_file())
    inks = [f"three kites shirt-{ink}.pdf" for ink in ("1-yellow", "2-red", "3-blue")]
    alone = ["beach poster.pdf", "kite day logo.pdf", "moon snail.pdf", "reel scan.pdf"]
    assert films == [*alone, *inks]
    notes = sorted(path.name for path in station.glob("*/rejected/*.why.txt"))
    assert notes == ["from a web page.jpg.why.txt", "half arrived.jpg.why.txt"]
    readme = "".join(SHOW.parents[1].joinpath("README.md").read_text(encoding="utf-8").split())
    told = station.joinpath("small-sheet", "rejected", notes[0]).read_text(encoding="utf-8")
    assert "".join(told.partition("The file lies beside")[0].split()) in readme
    assert not [path for path in station.glob("*/drop/**/*") if path.is_file()]
    assert all(film in ran.stdout for film in films)
    assert "The inner loops run " in ran.stdout
    assert str(station / "status.html") in ran.stdout
    # As in the profiles and notes: screens as they were asked for, inches first on an inch sheet.
    assert " lpi at 22.5 degrees" in ran.stdout and "25 lpi at 20 degrees, for Hut 3" in ran.stdout
    assert "7.8 x 9.88 in (198 x 251 mm), round dots, 25 lpi at 22.5 degrees" in ran.stdout
    assert "line art, yellow ink" in ran.stdout
    # The service is gone: its state folder is free for the next one.
    once = [sys.executable, "-P", "-m", "filmhand", "once", str(station)]
    once += ["--state", str(station / ".state")]
    assert subprocess.run(once, capture_output=True, timeout=120, check=False).returncode == 0


def test_the_demo_says_what_is_in_its_way(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file where the station should be")
    ran = run_demo(tmp_path / "taken")
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert str(tmp_path / "taken") in ran.stderr

"""``filmhand ruler`` and ``filmhand device-sheet``: what they write, say and refuse."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest
import yaml

Run = Callable[..., CompletedProcess[str]]
PROFILE = """\
sheet: {sheet}
dpi: 200
threshold: 50
mesh: none
margin: {margin}
art: {{treat: line}}
print: {{scale: [99.6 %, 100.2 %]}}
"""


def profile(folder: Path, sheet: str = "letter", margin: str = "0.25 in") -> Path:
    path = folder / "shop.yaml"
    path.write_text(PROFILE.format(sheet=sheet, margin=margin))
    return path


def test_ruler_says_how_lengths_become_the_scale(filmhand: Run, tmp_path: Path) -> None:
    done = filmhand("ruler", "--profile", profile(tmp_path), "--out", tmp_path / "new")
    assert done.returncode == 0
    assert (tmp_path / "new/ruler-shop.pdf").stat().st_size
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["ruler-shop.pdf"]
    said = done.stdout
    assert "scale across = measured mm x 100 / 200" in said
    assert "0.12 % across and 0.1 % down" in said
    assert "The profile's scale of 99.6 x 100.2 % was left out" in said
    # What it says to write is what a profile takes.
    line = next(line for line in said.splitlines() if line.strip().startswith("print:"))
    assert yaml.safe_load(line) == {"print": {"scale": ["99.6 %", "100.2 %"]}}


def test_both_films_are_made_again_in_place(filmhand: Run, tmp_path: Path) -> None:
    before = {}
    for _ in range(2):
        for command in ("ruler", "device-sheet"):
            done = filmhand(command, "--profile", profile(tmp_path), "--json")
            assert done.returncode == 0
            told = json.loads(done.stdout)
            data = Path(told["files"]["pdf"]).read_bytes()
            assert before.setdefault(command, data) == data
    assert sorted(path.name for path in tmp_path.glob("*.pdf")) == [
        "device-sheet-shop.pdf",
        "ruler-shop.pdf",
    ]
    assert told["legend"][0].keys() == {"seen", "means", "do"}


def test_device_sheet_says_what_to_look_for(filmhand: Run, tmp_path: Path) -> None:
    done = filmhand("device-sheet", "--profile", profile(tmp_path))
    assert done.returncode == 0
    for word in ("run together", "checker", "specks", "smoothing", "Toner save off"):
        assert word in done.stdout


@pytest.mark.parametrize("command", ["ruler", "device-sheet"])
def test_a_sheet_without_room_is_refused_in_a_sentence(
    filmhand: Run, tmp_path: Path, command: str
) -> None:
    done = filmhand(command, "--profile", profile(tmp_path, "22 x 22 mm", "1 mm"))
    assert done.returncode == 1
    assert "has no room for" in done.stderr
    assert "larger sheet" in done.stderr
    assert list(tmp_path.glob("*.pdf")) == []


def test_a_faulty_profile_is_told_with_its_line(filmhand: Run, tmp_path: Path) -> None:
    path = profile(tmp_path)
    path.write_text(path.read_text().replace("99.6 %", "9.6 %"))
    done = filmhand("ruler", "--profile", path)
    assert done.returncode == 78
    assert "90 to 110 %" in done.stderr


def test_measure_takes_the_scale(filmhand: Run, tmp_path: Path) -> None:
    filmhand("ruler", "--profile", profile(tmp_path))
    plain = json.loads(filmhand("measure", "ruler-shop.pdf", "--json").stdout)
    scaled = json.loads(
        filmhand("measure", "ruler-shop.pdf", "--scale", "98 %,102", "--json").stdout
    )
    assert plain["sheet_mm"] == [215.9, 279.4]
    assert scaled["sheet_mm"] == pytest.approx([215.9 * 0.98, 279.4 * 1.02], abs=0.01)
    wrong = filmhand("measure", "ruler-shop.pdf", "--scale", "98")
    assert wrong.returncode == 2
    assert "90 to 110 %" in wrong.stderr

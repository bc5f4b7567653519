"""``filmhand wedge``: what lies there afterwards, and what is said."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from filmhand.cli.main import main

PROFILE = (
    "sheet: 3 x 4 in\ndpi: 300\nlpi: 30\ndot: round\nthreshold: 50\nmesh: 43-80\n"
    "margin: 0.25 in\nwrite: [png, pdf]\n"
)


def run(folder: Path, *more: str, profile: str = PROFILE) -> Result:
    file = folder / "shop press.yaml"
    file.write_text(profile)
    words = ["wedge", "--profile", str(file), "--out", str(folder / "out"), *more]
    return CliRunner().invoke(main, words)


def test_film_places_and_instructions_lie_there(tmp_path: Path) -> None:
    shown = run(tmp_path, "--json")
    assert shown.exit_code == 0, shown.output
    told = json.loads(shown.output)
    out = tmp_path / "out"
    assert {path.suffix for path in out.iterdir()} == {".png", ".pdf", ".json", ".txt"}
    stem = Path(told["places"]).stem
    assert all(path.stem == stem for path in out.iterdir()) and stem.startswith("wedge-shop")
    kept = json.loads(Path(told["places"]).read_text())
    assert kept["schema"] == "filmhand-wedge/1" and kept["profile"] == "shop press"
    assert all(len(patch["box_px"]) == 4 for patch in kept["patches"])
    page = Path(told["instructions"]).read_text()
    assert "safety data sheet" in page and f"{len(kept['patches'])} patches" in page
    assert max(map(len, page.splitlines())) <= 78


def test_without_json_it_names_the_page(tmp_path: Path) -> None:
    shown = run(tmp_path)
    assert shown.exit_code == 0 and ".txt" in shown.output.splitlines()[-1]


def test_the_same_profile_gives_the_same_bytes(tmp_path: Path) -> None:
    films = []
    for _ in range(2):
        run(tmp_path)
        films.append({path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()})
    assert films[0] == films[1]


@pytest.mark.parametrize(
    "changes",
    [
        ("mesh: 43-80", "mesh: 43-80\ntone: {hold: off}\nlimits: {moire: refuse}"),
        ("lpi: 30\ndot: round", "lpi: 70\ndot: grain"),
        ("lpi: 30\ndot: round", "lpi: 5\ndot: line"),
        ("dpi: 300", "dpi: 72\nart: {treat: line}"),
        ("lpi: 30\ndot: round\n", "art: {treat: line}\n"),
    ],
)
def test_what_would_refuse_art_makes_a_wedge(tmp_path: Path, changes: tuple[str, str]) -> None:
    text = PROFILE.replace(*changes)
    if "dpi: 72" in text:
        text = text.replace("lpi: 30\ndot: round\n", "")
    assert run(tmp_path, profile=text).exit_code == 0


def test_a_sheet_without_room_says_so(tmp_path: Path) -> None:
    shown = run(tmp_path, profile=PROFILE.replace("3 x 4 in", "40 x 40 mm"))
    assert shown.exit_code == 1 and "larger sheet" in shown.output
    assert not list((tmp_path / "out").glob("wedge*"))


def test_without_the_library_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "segno", None)
    shown = run(tmp_path)
    assert shown.exit_code == 1 and "filmhand[calibrate]" in shown.output
    assert not list((tmp_path / "out").glob("wedge*"))

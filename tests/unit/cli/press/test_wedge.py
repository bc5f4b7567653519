"""``filmhand wedge``: what lies there afterwards, and what is said."""

from __future__ import annotations

import json
import re
from itertools import accumulate
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

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
    shown = run(tmp_path, profile=PROFILE.replace("3 x 4 in", "36 x 36 mm"))
    assert shown.exit_code == 1 and "larger sheet" in shown.output
    assert not list((tmp_path / "out").glob("wedge*"))


def test_the_exposure_film_has_its_bands_and_spells(tmp_path: Path) -> None:
    shown = run(tmp_path, "--exposure", "--time", "60 s", "--json")
    assert shown.exit_code == 0, shown.output
    told = json.loads(shown.output)
    page = Path(told["instructions"]).read_text()
    spells = [float(found) for found in re.findall(r"(?m)^ {3}- ([\d.]+) s,", page)]
    assert len(spells) == len(told["steps"])
    # What a band has had when it is covered is its share of the time.
    for step, seconds in zip(told["steps"], accumulate(spells), strict=True):
        assert seconds == pytest.approx(60 * step["factor"], rel=0.005)
    assert "safety data sheet" in page
    with Image.open(told["files"]["png"]) as image:
        ink = ~np.asarray(image.convert("1"))
    for step in told["steps"]:
        for field in step["fields"]:
            left, top, width, height = field["box_px"]
            share = ink[top : top + height, left : left + width].mean()
            assert (0 < share < 0.5) == (field["shows"] in {"dots", "lines"}) and share < 1


def test_without_a_time_spells_are_shares(tmp_path: Path) -> None:
    told = json.loads(run(tmp_path, "--exposure", "--json").output)
    page = Path(told["instructions"]).read_text()
    shares = [int(found) for found in re.findall(r"(?m)^ {3}- (\d+) %", page)]
    assert sum(shares) == pytest.approx(100 * told["steps"][-1]["factor"], abs=4)


def test_a_time_belongs_to_an_exposure_film(tmp_path: Path) -> None:
    shown = run(tmp_path, "--time", "60 s")
    assert shown.exit_code == 2 and "--exposure" in shown.output


def test_exposure_says_a_time() -> None:
    words = ["exposure", "--time", "2 min", "--solid", "3", "--open", "5"]
    shown = CliRunner().invoke(main, words)
    assert shown.exit_code == 0 and "Take 85 s" in shown.output
    told = json.loads(CliRunner().invoke(main, [*words, "--json"]).output)
    assert told["seconds"] == pytest.approx(84.85, abs=0.01) and told["settled"]
    shown = CliRunner().invoke(main, ["exposure", "--time", "90 s", "--gray-step", "5"])
    assert shown.exit_code == 0 and "3 min 0 s" in shown.output


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--time", "60 s"],
        ["--time", "60 s", "--solid", "3"],
        ["--solid", "3", "--open", "3"],
        ["--time", "60 s", "--solid", "3", "--open", "3", "--gray-step", "7"],
        ["scan.png", "--time", "60 s"],
        ["--time", "60 s", "--gray-step", "7", "--profile", "a.yaml"],
        ["--time", "soon", "--gray-step", "7"],
        ["--time", "60 s", "--gray-step", "40"],
    ],
)
def test_exposure_needs_what_it_needs(words: list[str]) -> None:
    shown = CliRunner().invoke(main, ["exposure", *words])
    assert shown.exit_code == 2 and "Traceback" not in shown.output

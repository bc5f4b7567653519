"""Sets of films by the command line."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from filmhand.cli.main import main

PROFILE = """sheet: 90 x 90 mm
dpi: 200
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 3 mm
write: png
marks: {ruler: false}
"""
INKS = """inks:
  - {name: yellow, color: "#f2c418"}
  - {name: red, color: "#b3261e"}
  - {name: blue, color: "#1d3f9c"}
"""
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">
<circle cx="25" cy="30" r="20" fill="#f2c418"/><rect x="30" y="20" width="25" height="20"
fill="#1d3f9c"/><path d="M5 5 H55 V12 H5 Z" fill="#b3261e"/></svg>"""


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def _run(art, inks, *more):
        profile = tmp_path / "inks.yaml"
        profile.write_text(PROFILE + inks)
        arguments = ["make", str(art), "--profile", str(profile), "--out", str(tmp_path / "out")]
        return CliRunner().invoke(main, [*arguments, *more])

    return _run


def test_a_drawing_becomes_three_films_and_one_proof_of_all(tmp_path, run):
    art = tmp_path / "poster.svg"
    art.write_text(DRAWING)
    done = run(art, INKS)
    assert done.exit_code == 0, done.output
    names = {path.name for path in (tmp_path / "out").iterdir()}
    films = ["poster-1-yellow", "poster-2-red", "poster-3-blue"]
    kinds = (".png", ".json", ".proof.jpg")
    assert names == {f"{film}{kind}" for film in films for kind in kinds} | {"poster.proof.jpg"}
    assert done.stderr.count("Each color of the art goes to its own ink") == 1
    again = run(art, INKS, "--json")  # its own earlier output is replaced
    records = json.loads(again.stdout)
    assert [record["set"]["ink"] for record in records] == ["yellow", "red", "blue"]
    assert {record["separation"]["mode"] for record in records} == {"spot"}
    assert {path.name for path in (tmp_path / "out").iterdir()} == names


@pytest.mark.slow
def test_a_photograph_becomes_four_films_of_process_inks(tmp_path, run):
    rows, columns = np.mgrid[:160, :160] / 159
    codes = np.stack([columns, rows, 1 - (rows + columns) / 2], axis=-1) * 0.7 + 0.15
    art = tmp_path / "photo.png"
    Image.fromarray(np.rint(codes * 255).astype(np.uint8)).save(art)
    done = run(art, "inks: process\n", "--json")
    assert done.exit_code == 0, done.output
    records = json.loads(done.stdout)
    assert [record["set"]["ink"] for record in records] == ["cyan", "magenta", "yellow", "black"]
    angles = [record["screen"]["angle_made"] for record in records]
    assert angles == pytest.approx([22.5, 82.5, 7.5, 52.5], abs=2)
    assert records[0]["separation"]["mean_de00"] < 4
    checks = {check["name"]: check["verdict"] for check in records[0]["checks"]}
    assert "moire between films" in checks


def test_a_set_that_cannot_be_made_leaves_nothing(tmp_path, run):
    art = tmp_path / "poster.svg"
    art.write_text(DRAWING)
    done = run(art, INKS.replace('"#f2c418"', '"#20a040"') + "separate: spot\n")
    assert done.exit_code == 1
    assert "No ink of the set comes near" in done.stderr
    assert list((tmp_path / "out").iterdir()) == []


def test_check_tells_which_inks_overprint(tmp_path):
    path = tmp_path / "p.yaml"
    inks = INKS.replace("}", ", overprint: true}")
    for separate, said in (("spot", [False, True, True]), ("process", [False, False, False])):
        path.write_text(f"{PROFILE}separate: {separate}\n{inks}")
        (told,) = json.loads(CliRunner().invoke(main, ["check", str(path), "--json"]).stdout)
        assert [film["overprint"] for film in told["set"]["films"]] == said
        shown = " ".join(CliRunner().invoke(main, ["check", str(path)]).stdout.split())
        assert shown.count(", overprints") == sum(said)

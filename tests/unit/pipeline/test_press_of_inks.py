"""Two inks of one profile with presses of their own: wedge, scan, curve, and films by it."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from filmhand.cli.main import main
from filmhand.errors import Refused
from filmhand.pipeline.press_curve import press_curve_of
from filmhand.pipeline.readings.kept_reading import keep_reading
from filmhand.pipeline.separation.planning.profile_of_ink import profile_of_ink
from filmhand.profile.read.load import from_snapshot, load_profile, to_snapshot
from filmhand.request import JobRequest
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.tone import Levels, tone_steps
from press.scans import FINER, Scanner, printed, scanned
from press.wedges import print_of

PROFILE = """\
sheet: 3.2 x 4 in
dpi: 300
lpi: 30
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
write: png
tone: {gain: measured}
inks:
  - {name: red, color: "#b3261e", angle: 22.5}
  - {name: Dark blue, color: "#1c2c8c", angle: 52.5, mesh: 55-64, lpi: 35}
  - {name: gray, color: "#777777"}
"""
PRESSES = {
    "red": ((0, 10, 30, 50, 70, 90, 100), (0, 14, 40, 63, 82, 96, 100)),
    "Dark-blue": ((0, 10, 30, 50, 70, 90, 100), (0, 8, 27, 46, 67, 90, 100)),
}


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station in which a scan of a print of each of two inks was read."""
    station = tmp_path_factory.mktemp("inks")
    (station / "profiles").mkdir()
    file = station / "profiles" / "shirts.yaml"
    file.write_text(PROFILE)
    profile = load_profile(file)
    for number, (ink, press) in enumerate(PRESSES.items()):
        work = station / "work" / ink
        for name in ("out", "scratch"):
            (work / name).mkdir(parents=True)
        wedge = print_of(profile_of_ink(profile, ink), press)
        scan = wedge.scanned(Scanner(ppi=200, margin_mm=6, seed=number))
        Image.fromarray(scan).save(work / "scan.png", dpi=(200, 200))
        made = keep_reading(request(work, profile, ink.upper()))
        curves = station / "shirts" / "curves" / ink
        curves.mkdir(parents=True)
        for end, path in made.reading.items():
            shutil.copy(path, curves / f"2026-11-20-101500-0a1b2c3{number}{end}")
    return station


def request(work: Path, profile, sub: str) -> JobRequest:
    return JobRequest(
        art=work / "scan.png",
        name="scan.png",
        profile=profile,
        out=work / "out",
        scratch=work / "scratch",
        sub=sub,
        is_scan=True,
    )


@pytest.fixture(scope="module")
def profile(station: Path):
    return load_profile(station / "profiles" / "shirts.yaml")


@pytest.mark.parametrize("ink", PRESSES)
def test_with_its_own_curve_each_ink_prints_what_was_meant(profile, ink):
    own = from_snapshot(json.loads(json.dumps(to_snapshot(profile))))
    own = profile_of_ink(own, ink)
    assert own.tone.gain.name.startswith(f"curves/{ink}/")
    steps = tone_steps(own.tone, levels=Levels(), press=press_curve_of(own))
    wanted = np.array([20, 35, 50, 65, 80]) / 100
    printed = np.interp(100 * steps(wanted), *PRESSES[ink])
    assert np.abs(printed - 100 * wanted).max() < 2


def test_check_tells_of_each_ink_by_which_curve_it_goes(station):
    done = CliRunner().invoke(main, ["check", str(station / "profiles" / "shirts.yaml"), "--json"])
    (told,) = json.loads(done.output)
    red, blue, gray = told["set"]["films"]
    assert red["curve"]["name"].startswith("curves/red/")
    assert blue["curve"]["name"].startswith("curves/Dark-blue/")
    assert gray["curve"] is None
    (lacks,) = (one for one in told["warnings"] if "no reading lies" in one)
    assert lacks.startswith("gray: ")


def test_an_ink_without_a_reading_goes_by_that_of_the_profile(station, tmp_path):
    own = shutil.copytree(station, tmp_path / "s")
    curve = next((own / "shirts" / "curves" / "red").glob("*.txt"))
    (own / "shirts" / "curves" / "2026-11-21-101500-0a1b2c3d.txt").write_text(curve.read_text())
    found = ProfileRegistry(own / "profiles", own)
    found.read()
    names = {
        ink: profile_of_ink(found.profiles["shirts"], ink).tone.gain.name for ink in ("red", "gray")
    }
    assert names["gray"] == "curves/2026-11-21-101500-0a1b2c3d.txt"
    assert names["red"].startswith("curves/red/")
    found.changed()
    (own / "shirts" / "curves" / "red" / "2026-11-22-101500-0a1b2c3d.txt").write_text(
        "10, 12\n50, 55\n90, 95\n"
    )
    found.changed()
    assert found.changed() and found.read()
    assert profile_of_ink(found.profiles["shirts"], "red").tone.gain.points[2] == (50, 55)


def test_the_wedge_of_one_ink_is_not_taken_for_that_of_another(station, profile):
    work = station / "work" / "red"
    for sub in ("Dark-blue", "", "gray"):
        with pytest.raises(Refused):
            keep_reading(request(work, profile, sub))


def test_the_commands_make_and_read_the_wedge_of_an_ink(station, tmp_path):
    file = str(station / "profiles" / "shirts.yaml")
    words = ["wedge", "--profile", file, "--ink", "dark blue", "--out", str(tmp_path), "--json"]
    told = json.loads(CliRunner().invoke(main, words).output)
    assert Path(told["places"]).name.startswith("wedge-shirts-dark")
    assert told["lpi_made"] == pytest.approx(35, abs=0.3)
    curve = tmp_path / "red.txt"
    words = ["calibrate", str(station / "work" / "red" / "scan.png"), "--profile", file]
    done = CliRunner().invoke(main, [*words, "--ink", "red", "--out", str(curve)])
    assert done.exit_code == 0, done.output
    assert "# mesh: 110 (43-80)\n" in curve.read_text()
    done = CliRunner().invoke(main, [*words, "--ink", "green", "--out", str(curve)])
    assert done.exit_code == 1 and "names no ink green" in done.output


def test_the_page_of_an_inks_wedge_leads_to_its_curve(station, tmp_path, monkeypatch):
    own = tmp_path / "s" / "profiles" / "shirts.yaml"
    own.parent.mkdir(parents=True)
    own.write_text(PROFILE)
    monkeypatch.chdir(own.parent)
    made = CliRunner().invoke(main, ["wedge", "--profile", own.name, "--ink", "dark blue"])
    page = " ".join(next(own.parent.glob("*.txt")).read_text().split())
    assert made.exit_code == 0 and "calibrate/Dark-blue/" in page
    exposure = re.search(r"filmhand (wedge --exposure .*?) makes a film", page)[1]
    assert CliRunner().invoke(main, shlex.split(exposure)).exit_code == 0
    (words,) = re.findall(r"filmhand (calibrate SCAN .*?) reads it", page)
    scan = str(station / "work" / "Dark-blue" / "scan.png")
    asked = [scan if word == "SCAN" else word for word in shlex.split(words)]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 0, done.output
    said = re.search(r"Put (.+?) into .+?, here (.+?), as (.+?), and write", done.output)
    goes = Path(said[2]) / said[3]
    goes.parent.mkdir(parents=True)
    shutil.move(said[1], goes)
    profile = load_profile(own)
    assert profile_of_ink(profile, "Dark-blue").tone.gain.name == f"curves/Dark-blue/{goes.name}"
    assert profile_of_ink(profile, "red").waits_for_reading
    again = CliRunner().invoke(main, [*asked, "--out", str(goes)])
    assert "The films of Dark-blue go by it" in again.output and "Put " not in again.output


def test_the_page_of_an_inks_exposure_film_leads_to_its_steps(station, tmp_path, monkeypatch):
    shutil.copy(station / "profiles" / "shirts.yaml", tmp_path)
    monkeypatch.chdir(tmp_path)
    words = ["wedge", "--exposure", "--profile", "shirts.yaml", "--ink", "red"]
    assert CliRunner().invoke(main, words).exit_code == 0
    with Image.open(next(tmp_path.glob("exposure*.png"))) as film:
        ink = printed(~np.asarray(film.convert("1")))
    Image.fromarray(scanned(ink, 25.4 / 300 / FINER, Scanner(ppi=300))).save("scan.png")
    page = " ".join(next(tmp_path.glob("exposure*.txt")).read_text().split())
    (words,) = re.findall(r"filmhand (exposure SCAN .*?) find the step", page)
    asked = shlex.split(words.replace("SCAN", "scan.png").replace("TIME", "'60 s'"))
    told = json.loads(CliRunner().invoke(main, [*asked, "--json"]).output)
    assert len(told["steps"]) == 5
    other = CliRunner().invoke(main, asked[: asked.index("--ink")])
    assert other.exit_code == 1 and "--ink" in other.output
    alone = ["exposure", "--time", "60 s", "--solid", "3", "--open", "5", "--ink", "red"]
    assert CliRunner().invoke(main, alone).exit_code == 2

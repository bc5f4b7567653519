"""``filmhand calibrate``: what is told of scans, and of those that are not to be trusted."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image

from filmhand.cli.main import main
from filmhand.errors import Refused
from filmhand.pipeline.readings.read_scan import read_scan
from filmhand.profile.read.load import load_profile
from filmhand.reading.reading import ReadOf
from press.scans import Scanner
from press.wedges import SEFAR, print_of

PROFILE = (
    "sheet: 3.2 x 4 in\ndpi: 300\nlpi: 30\ndot: round\nangle: 22.5\nthreshold: 50\nmesh: 43-80\n"
    "margin: 0.25 in\nwrite: png\n"
)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("calibrate")
    (folder / "shop.yaml").write_text(PROFILE)
    wedge = print_of(load_profile(folder / "shop.yaml"), SEFAR, 1)
    for name, seed in (("one.png", 1), ("other.png", 2)):
        scan = Image.fromarray(wedge.scanned(Scanner(ppi=150, margin_mm=6, seed=seed)))
        scan.save(folder / name, dpi=(150, 150))
    (folder / "note.png").write_text("only words")
    return folder


def run(shop: Path, *words: str) -> Result:
    scans = [
        str(shop / word) if word.endswith(".png") and "/" not in word else word for word in words
    ]
    profile = ["--profile", str(shop / "shop.yaml"), "--out", str(shop / "press.txt")]
    return CliRunner().invoke(main, ["calibrate", *profile, *scans])


def test_json_is_the_reading(shop: Path) -> None:
    told = run(shop, "one.png", "--json")
    assert told.exit_code == 0, told.output
    found = json.loads(told.stdout)
    assert found["schema"] == "filmhand-reading/1" and found["of"] == "print"
    tones = {patch["film_pct"]: patch["measured_pct"] for patch in found["patches"]}
    assert len(tones) >= 21 and tones[70] == pytest.approx(84.7, abs=1.5)
    assert found["gain_at_50"] == pytest.approx(56 - 50, abs=1.5)


def test_reading_and_film_name_their_patches_alike(shop: Path, tmp_path: Path) -> None:
    words = ["wedge", "--profile", str(shop / "shop.yaml"), "--out", str(tmp_path)]
    assert CliRunner().invoke(main, words).exit_code == 0
    film = json.loads((tmp_path / "wedge-shop.json").read_text())["patches"]
    read = json.loads(run(shop, "one.png", "--json").stdout)["patches"]
    assert {patch["film_pct"] for patch in film} == {patch["film_pct"] for patch in read}
    assert {len(patch["box_px"]) for patch in film} == {4}


def test_people_read_tones_and_sizes(shop: Path) -> None:
    told = run(shop, "one.png", "other.png")
    assert told.exit_code == 0, told.output
    lines = told.output.splitlines()
    assert lines[0].startswith("film %")
    assert any(line.split()[:1] == ["50.0"] for line in lines)
    assert any("smallest that held" in line for line in lines)


def test_two_scans_err_less_than_one(shop: Path) -> None:
    alone, both = (
        json.loads(run(shop, *names, "--json").stdout)["patches"]
        for names in (["one.png"], ["one.png", "other.png"])
    )
    errors = [sum(patch["error_pct"] for patch in patches) for patches in (alone, both)]
    assert errors[1] < errors[0]


def test_a_film_tells_of_the_printer(shop: Path) -> None:
    told = run(shop, "one.png", "--of", "film")
    assert told.exit_code == 0, told.output
    assert "scale: [" in told.output and "further out" in told.output
    assert "no curve was written" in told.output


def test_what_cannot_be_read_is_refused_and_the_rest_is_read(shop: Path) -> None:
    told = run(shop, "note.png", "one.png", "--json")
    assert told.exit_code == 1
    assert "note.png" in told.stderr and "Traceback" not in told.stderr
    assert json.loads(told.stdout)["patches"]
    assert "# scans: one.png\n" in (shop / "press.txt").read_text()


def test_nothing_but_refused_scans_write_no_curve(shop: Path) -> None:
    (shop / "press.txt").unlink(missing_ok=True)
    told = run(shop, "note.png")
    assert told.exit_code == 1 and not told.stdout
    assert not (shop / "press.txt").exists()


def test_the_curve_never_takes_the_place_of_its_plot_or_of_a_scan(shop: Path) -> None:
    before = (shop / "one.png").read_bytes()
    told = run(shop, "one.png", "--out", str(shop / "Press.PNG"))
    assert told.exit_code == 2 and "Press.txt" in told.stderr
    assert not (shop / "Press.PNG").exists()
    told = run(shop, "one.png", "--out", str(shop / "one.txt"))
    assert told.exit_code == 2 and "one.png" in told.stderr
    assert (shop / "one.png").read_bytes() == before and not (shop / "one.txt").exists()


@pytest.mark.parametrize("library", ["cv2", "zxingcpp"])
def test_without_the_addition_it_is_named(
    shop: Path, library: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(Refused, match=r"an addition") as refused:
        read_scan(shop / "one.png", profile=load_profile(shop / "shop.yaml"), of=ReadOf.PRINT)
    assert "filmhand[calibrate]" in refused.value.do


@pytest.mark.parametrize(
    ("fault", "say"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "ended by SIGSEGV"),
        ("import resource; resource.setrlimit(resource.RLIMIT_CPU, (0, 5))", "seconds"),
    ],
)
@pytest.mark.parametrize("words", [["calibrate"], ["exposure", "--time", "60s"]])
def test_what_harms_its_reader_is_refused(
    shop: Path, words: list[str], fault: str, say: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shop / "harm").mkdir(exist_ok=True)
    (shop / "harm" / "sitecustomize.py").write_text(fault)
    monkeypatch.setenv("PYTHONPATH", str(shop / "harm"))
    scan = [str(shop / "one.png"), "--profile", str(shop / "shop.yaml")]
    told = CliRunner().invoke(main, [*words, *scan])
    assert told.exit_code == 1 and not told.stdout and len(told.stderr.splitlines()) == 1
    assert say in told.stderr

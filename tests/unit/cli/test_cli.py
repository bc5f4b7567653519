"""The command line as people and scripts meet it: words, exit codes, JSON, no tracebacks."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

PROFILES = Path(__file__).parents[3] / "profiles"
SMALL = """\
sheet: 5 x 5 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
angle: 22.5
settle: 50 ms
"""

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def profile(tmp_path: Path) -> Path:
    path = tmp_path / "small.yaml"
    path.write_text(SMALL)
    return path


@pytest.fixture
def ramp(tmp_path: Path) -> Path:
    path = tmp_path / "ramp.png"
    Image.fromarray(np.tile(np.linspace(0, 255, 300).astype(np.uint8), (300, 1))).save(path)
    return path


def test_make_writes_film_proof_and_record(
    filmhand: Run, profile: Path, ramp: Path, tmp_path: Path
) -> None:
    done = filmhand("make", ramp, "--profile", profile, "--out", tmp_path / "out")
    assert done.returncode == 0
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        "ramp.pdf",
        "ramp.proof.jpg",
        "ramp.json",
    }
    record = json.loads((tmp_path / "out" / "ramp.json").read_text())
    assert record["schema"] == "filmhand-record/1"
    assert record["film"]["files"] == {"pdf": "ramp.pdf"}
    assert (record["film"]["width_px"], record["film"]["height_px"]) == (1500, 1500)
    assert {check["name"] for check in record["checks"]} == {
        "smallest dot",
        "smallest shadow dot",
        "mesh to lpi ratio",
        "art resolution",
        "gray levels",
        "moire",
    }
    assert all(isinstance(note, str) and note for note in record["notes"])


def test_make_again_replaces_its_own_output(
    filmhand: Run, profile: Path, ramp: Path, tmp_path: Path
) -> None:
    films = []
    for _ in range(2):
        assert filmhand("make", ramp, "--profile", profile, "--out", "out").returncode == 0
        films.append((tmp_path / "out" / "ramp.pdf").read_bytes())
    assert films[0] == films[1]
    assert len(list((tmp_path / "out").iterdir())) == 3


def test_make_replaces_no_file_that_is_not_its_own(
    filmhand: Run, profile: Path, ramp: Path, tmp_path: Path
) -> None:
    with profile.open("a") as text:
        text.write("write: [png, pdf]\n")
    art = ramp.read_bytes()
    for _ in range(2):
        done = filmhand("make", ramp, "--profile", profile)
        assert done.returncode == 0
        assert "ramp-2.png" in done.stdout
    assert ramp.read_bytes() == art
    assert {path.name for path in tmp_path.glob("ramp*")} == {
        "ramp.png",
        *(f"ramp-2{end}" for end in (".png", ".pdf", ".proof.jpg", ".json")),
    }
    # A film that was made earlier, and is art now.
    film = tmp_path / "ramp-2.png"
    before = film.read_bytes()
    assert filmhand("make", film, "--profile", profile).returncode == 0
    assert film.read_bytes() == before
    # Another's file under the name of a record.
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "ramp.json").write_text("{}")
    assert filmhand("make", ramp, "--profile", profile, "--out", "out").returncode == 0
    assert (tmp_path / "out" / "ramp.json").read_text() == "{}"
    assert (tmp_path / "out" / "ramp-2.json").is_file()


def test_make_takes_art_whose_name_leaves_no_room_for_a_ticket(
    filmhand: Run, profile: Path, ramp: Path, tmp_path: Path
) -> None:
    art = ramp.rename(tmp_path / ("x" * 250 + ".png"))
    done = filmhand("make", art, "--profile", profile, "--out", "out")
    assert done.returncode == 0, done.stderr
    (film,) = (tmp_path / "out").glob("x*.pdf")
    assert film.stem == film.with_suffix(".json").stem
    assert film.with_suffix(".json").is_file()


def test_make_reads_the_ticket_beside_the_art(
    filmhand: Run, profile: Path, ramp: Path, tmp_path: Path
) -> None:
    ticket = ramp.with_name("RAMP.PNG.ticket.yaml")  # capitals do not part it from its art
    ticket.write_text("lpi: 20\nfor: class 4\nart: {fit: width 3 in}\n")
    done = filmhand("make", ramp, ticket, "--profile", profile, "--out", "out", "--json")
    (record,) = json.loads(done.stdout)
    assert record["for"] == "class 4"
    assert record["screen"]["lpi_asked"] == 20
    assert record["art"]["width_mm"] == pytest.approx(76.2, abs=0.05)
    ticket.write_text("lpi: 20\nsheet: a4\n")
    done = filmhand("make", ramp, "--profile", profile, "--out", "out")
    assert done.returncode == 1
    assert "sheet" in done.stderr and "ticket" in done.stderr


def test_a_mask_keeps_film_bare(filmhand: Run, profile: Path, ramp: Path, tmp_path: Path) -> None:
    mask = np.full((100, 100), 255, np.uint8)
    mask[:, :50] = 0  # the dark half of the ramp
    Image.fromarray(mask).save(tmp_path / "ramp.png.clear.png")
    profile.write_text(SMALL + "write: png\nmarks: {label: false, ruler: false, solid: false}\n")
    assert filmhand("make", ramp, "--profile", profile, "--out", "out").returncode == 0
    film = np.asarray(Image.open(tmp_path / "out" / "ramp.png"))
    assert film[:, :740].all()  # white: bare film
    assert not film[:, 760:].all()


def test_a_refusal_goes_to_stderr_with_its_figures(
    filmhand: Run, profile: Path, tmp_path: Path
) -> None:
    small = tmp_path / "tiny.png"
    Image.fromarray(np.arange(64, dtype=np.uint8).reshape(8, 8) * 4).save(small)
    done = filmhand("make", small, "--profile", profile, "--out", "out")
    assert done.returncode == 1
    assert done.stdout == ""
    assert "pixels to the inch" in done.stderr and "25" in done.stderr
    assert not list((tmp_path / "out").iterdir())


def test_anyway_in_a_ticket_makes_the_film_and_says_so(
    filmhand: Run, profile: Path, tmp_path: Path
) -> None:
    small = tmp_path / "tiny.png"
    Image.fromarray(np.arange(64, dtype=np.uint8).reshape(8, 8) * 4).save(small)
    (tmp_path / "tiny.png.ticket.yaml").write_text("anyway: true\nart: {treat: tone}\n")
    done = filmhand("make", small, "--profile", profile, "--out", "out", "--json")
    (record,) = json.loads(done.stdout)
    verdicts = {check["name"]: check["verdict"] for check in record["checks"]}
    assert verdicts["art resolution"] == "fail"
    assert any("because the ticket asks for it" in note for note in record["notes"])


def test_a_faulty_profile_ends_with_78_and_names_the_place(filmhand: Run, tmp_path: Path) -> None:
    path = tmp_path / "p.yaml"
    path.write_text(SMALL.replace("lpi: 25", "lpii: 25"))
    for words in (["check", path], ["make", "x.png", "--profile", path]):
        done = filmhand(*words)
        assert done.returncode == 78
        assert "line 3" in done.stderr and "did you mean lpi?" in done.stderr


def test_check_tells_the_screen_as_made_and_what_the_mesh_holds(filmhand: Run) -> None:
    files = sorted(PROFILES.glob("*.yaml"))
    assert len(files) >= 6
    done = filmhand("check", *files, "--json")
    assert done.returncode == 0
    told = json.loads(done.stdout)
    assert [entry["name"] for entry in told] == [file.stem for file in files]
    for entry in told:
        assert {"name", "mesh", "screen", "holds", "moire", "warnings"} <= entry.keys()
        if entry["screen"]:
            screen = entry["screen"]
            assert screen["lpi_made"] == pytest.approx(screen["lpi_asked"], rel=0.001)
            assert screen["angle_made"] == pytest.approx(screen["angle_asked"], abs=0.05)
            assert entry["holds"]["tone_min_pct"] < 15
            assert entry["holds"]["tone_max_pct"] > 85
    plain = filmhand("check", *files)
    assert plain.returncode == 0
    for file in files:
        assert file.stem in plain.stdout


def test_measure_reads_our_film_back(
    filmhand: Run, profile: Path, ramp: Path, tmp_path: Path
) -> None:
    profile.write_text(SMALL + "write: [pdf, tiff, png]\n")
    assert filmhand("make", ramp, "--profile", profile, "--out", "out").returncode == 0
    told = [
        json.loads(filmhand("measure", f"out/ramp.{kind}", "--mesh", "43-80", "--json").stdout)
        for kind in ("pdf", "tif", "png")
    ]
    assert told[0] == told[1]
    assert told[0]["lpi"] == pytest.approx(25, rel=0.001)
    assert told[0]["angle"] == pytest.approx(22.5, abs=0.05)
    assert told[0]["dpi"] == [300, 300]
    assert told[0]["sheet_mm"] == [127.0, 127.0]
    assert told[0]["dots"]["count"] > 1000
    assert {check["name"] for check in told[0]["checks"]} >= {"smallest dot", "smallest shadow dot"}
    assert filmhand("measure", ramp).returncode == 1
    assert filmhand("measure", "out/ramp.pdf", "--mesh", "soft").returncode == 2


def test_once_and_status_of_a_station(filmhand: Run, ramp: Path, tmp_path: Path) -> None:
    station, state = tmp_path / "station", tmp_path / "state"
    (station / "profiles").mkdir(parents=True)
    (station / "profiles" / "small.yaml").write_text(SMALL)
    drop = station / "small" / "drop"
    drop.mkdir(parents=True)
    ramp.rename(drop / "ramp.png")
    (drop / "note.png").write_text("only words")
    assert filmhand("once", station, "--state", state).returncode == 1  # something was refused
    assert (station / "small" / "positives" / "ramp.pdf").is_file()
    assert (station / "small" / "rejected" / "note.png.why.txt").is_file()
    done = filmhand("status", station, "--state", state)
    assert done.returncode == 3
    assert "not running" in done.stdout and "note.png" in done.stdout and "ramp" in done.stdout
    told = json.loads(filmhand("status", station, "--state", state, "--json").stdout)
    assert told["counts"]["made"] == told["counts"]["refused"] == 1
    assert filmhand("once", station, "--state", state).returncode == 0  # nothing waits now


def test_a_station_without_a_right_profile_ends_with_78(filmhand: Run, tmp_path: Path) -> None:
    assert filmhand("once", tmp_path / "s", "--state", tmp_path / "t").returncode == 78
    assert filmhand("serve", tmp_path / "s", "--state", tmp_path / "t").returncode == 78


@pytest.mark.parametrize(
    "command", ["serve", "once", "make", "check", "measure", "status", "guide"]
)
def test_every_command_has_help_with_an_example(filmhand: Run, command: str) -> None:
    done = filmhand(command, "--help")
    assert done.returncode == 0
    assert f"Example:\n    filmhand {command}" in done.stdout


def test_usage_errors_are_2_and_name_the_nearest_word(filmhand: Run) -> None:
    done = filmhand("chekc", "x.yaml")
    assert done.returncode == 2
    assert "check" in done.stderr
    assert filmhand("make", "art.png").returncode == 2


def test_the_guide_lists_and_shows_its_pages(filmhand: Run) -> None:
    listed = filmhand("guide").stdout
    assert "cautions" in listed
    assert filmhand("guide", "cautions").stdout.startswith("# ")
    assert filmhand("guide", "nonsense").returncode == 1

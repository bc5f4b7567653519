"""A first profile: asked for or told by options, passing ``check`` without a word, never lost."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import sys
from collections.abc import Callable
from math import floor
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import filmhand.cli.new_profile as new_profile_module
from filmhand.cli.main import main
from filmhand.guide import read_page
from filmhand.language import ENGLISH, languages, speaking
from filmhand.mesh.limits import MeshLimits, best_lpi
from filmhand.mesh.table import MESHES, read_mesh, woven
from filmhand.pipeline.new_profile import (
    ProfileAnswers,
    advised_angle,
    advised_lpi,
    new_profile_text,
)
from filmhand.pipeline.profile_report import describe_profile
from filmhand.profile.read.load import load_profile, read_profile
from filmhand.profile.terms import Treat

Run = Callable[..., subprocess.CompletedProcess[str]]
TOLD = ("--sheet", "letter", "--dpi", "300", "--mesh", "125")
STOCKED = [row.inch_label for row in MESHES if row.stocked]


def asked(monkeypatch: pytest.MonkeyPatch, answers: str, *words: str) -> Result:
    """The command on a terminal at which somebody types the answers."""
    monkeypatch.setattr(new_profile_module, "is_terminal", lambda _stream: True)
    return CliRunner().invoke(main, ["new-profile", *words], input=answers)


@pytest.mark.slow
@pytest.mark.parametrize("dpi", ["300", "600"])
@pytest.mark.parametrize("mesh", STOCKED)
def test_ordinary_answers_give_no_warning(mesh: int, dpi: str) -> None:
    for treat in (Treat.AUTO, Treat.LINE) if dpi == "300" else (Treat.TONE,):
        answers = ProfileAnswers(
            sheet="letter", dpi=dpi, margin="0.25 in", mesh=str(mesh), treat=treat
        )
        text = new_profile_text(answers, file="own.yaml")
        told = describe_profile(read_profile(text, name="own", file="own.yaml"))
        assert told["warnings"] == []
        assert told["mesh"]["label"].startswith(f"{mesh} (")
        assert (told["screen"] is None) is (treat is Treat.LINE)


@pytest.mark.parametrize("treat", [Treat.AUTO, Treat.LINE])
@pytest.mark.parametrize("code", [code for code in languages() if code != ENGLISH])
def test_a_profile_in_another_language_says_the_same(code: str, treat: Treat) -> None:
    answers = ProfileAnswers(
        sheet="letter", dpi="300", margin="5 mm", mesh="125", treat=treat, lpi=30, angle=25
    )
    texts = {}
    for spoken in (ENGLISH, code):
        with speaking(spoken):
            texts[spoken] = new_profile_text(answers, file="own.yaml")
    # Keys, also those that are taken out for now, stand in the same order with the same values.
    english, other = (
        re.findall(r"^#?\s*[a-z]+:(?: [^#\n]*)?", text, re.MULTILINE) for text in texts.values()
    )
    assert len(english) > 15
    assert [key.strip() for key in english] == [key.strip() for key in other]
    one, two = (read_profile(text, name="own", file="own.yaml") for text in texts.values())
    assert json.loads(one.settings) == json.loads(two.settings)
    assert texts[ENGLISH] != texts[code]
    assert max(map(len, texts[code].splitlines())) <= 90


def test_it_is_commented_and_says_what_was_told(filmhand: Run) -> None:
    words = ("--margin", "5 mm", "--lpi", "30", "--angle", "25", "--dot", "ellipse", "--treat")
    done = filmhand("new-profile", "shirts.yaml", *TOLD, *words, "tone", "--frame", "16 x 20 in")
    assert done.returncode == 0, done.stderr
    profile = load_profile(Path("shirts.yaml"))
    assert profile.mesh is not None and profile.mesh.label == "125 (49-55)"
    assert profile.frame is not None and profile.frame.mm == (406.4, 508.0)
    assert (profile.lpi, profile.angle, str(profile.dot)) == (30, 25, "ellipse")
    assert (profile.margin.left, str(profile.art.treat)) == (5, "tone")
    text = Path("shirts.yaml").read_text()
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert len(comments) > 20 and "filmhand check shirts.yaml" in text
    assert max(map(len, text.splitlines())) <= 90 and "$" not in text
    assert "The thread is the usual one for this count" in text
    assert "Wrote shirts.yaml." in done.stdout and "  warning   none" in done.stdout


def test_what_stands_behind_a_hash_may_be_used_as_it_is(filmhand: Run) -> None:
    filmhand("new-profile", "own.yaml", *TOLD, "--treat", "line")
    text = Path("own.yaml").read_text()
    keys = ("#lpi:", "#angle:", "#dot:", "#frame:", "#tone:", "#  gain:", "#film:", "#  mirror:")
    for key in (*keys, "#keep:"):
        assert f"\n{key}" in text
        text = text.replace(f"\n{key}", f"\n{key[1:]}")
    profile = read_profile(text, name="own", file="own.yaml")
    assert (profile.tone.gain, profile.film.mirror, profile.keep.films) == (15, True, 2592000)


def test_a_file_that_is_there_stays(filmhand: Run) -> None:
    Path("own.yaml").write_text("mine\n")
    done = filmhand("new-profile", "own.yaml", *TOLD)
    assert (done.returncode, Path("own.yaml").read_text()) == (2, "mine\n")
    assert "own.yaml is there already and stays as it is" in done.stderr
    assert filmhand("new-profile", "own.yaml", *TOLD, "--replace").returncode == 0
    assert load_profile(Path("own.yaml")).lpi == 30
    assert [path.name for path in Path.cwd().iterdir()] == ["own.yaml"]


def test_a_file_that_comes_in_between_stays(filmhand: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def meanwhile(path: Path) -> list[str]:
        Path("own.yaml").write_text("theirs\n")
        return []

    monkeypatch.setattr("filmhand.profile.read.load.faults_of_name", meanwhile)
    done = filmhand("new-profile", "own.yaml", *TOLD)
    assert (done.returncode, Path("own.yaml").read_text()) == (2, "theirs\n")


def test_where_nobody_can_be_asked_what_is_missing_is_named(filmhand: Run) -> None:
    done = filmhand("new-profile", "own.yaml", "--dpi", "300")
    assert done.returncode == 2
    assert "so say --sheet and --mesh too" in done.stderr
    line = "filmhand new-profile own.yaml --sheet letter --dpi 300 --mesh 110"
    assert line in " ".join(done.stderr.split())  # with the name and what was told
    assert list(Path.cwd().iterdir()) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--mesh", "mesh"), "'mesh' cannot be read; it must be threads per cm and thread"),
        (("--sheet", "big"), "'big' cannot be read; it must be a size such as 8.5 x 11 in"),
        (("--lpi", "200"), "lpi must be 75 or less at 300 dpi"),
        (("--margin", "9 in"), "margin leaves no sheet"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_written(
    filmhand: Run, words: tuple[str, ...], says: str
) -> None:
    done = filmhand("new-profile", "own.yaml", *TOLD, *words)
    assert done.returncode == 2
    assert says in " ".join(done.stderr.split())
    assert list(Path.cwd().iterdir()) == []


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("own", "own must end in .yaml; name it own.yaml."),
        ("own.txt", "own.txt must end in .yaml; name it own.yaml."),
        ("profiles.yaml", "profiles.yaml"),
        ("a:b.yaml", "a:b.yaml"),
    ],
)
def test_a_name_that_is_none_for_a_profile(filmhand: Run, name: str, says: str) -> None:
    done = filmhand("new-profile", name, *TOLD)
    assert done.returncode == 2 and says in done.stderr
    assert list(Path.cwd().iterdir()) == []


def test_without_a_name_it_is_called_by_sheet_and_mesh(filmhand: Run, tmp_path: Path) -> None:
    told = json.loads(filmhand("new-profile", *TOLD, "--json").stdout)
    assert told["file"] == "letter-125.yaml" and Path("letter-125.yaml").is_file()
    (tmp_path / "profiles").mkdir()
    assert filmhand("new-profile", "profiles", *TOLD[:4], "--mesh", "43-80").returncode == 0
    assert [path.name for path in (tmp_path / "profiles").iterdir()] == ["letter-43-80.yaml"]


def test_questions_are_asked_until_they_are_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = asked(monkeypatch, "a4\nmany\n300\n\nfine\n125\nphoto\n\n", "own.yaml")
    assert done.exit_code == 0, done.output
    assert "'many' cannot be read" in done.output and "'fine' cannot be read" in done.output
    profile = load_profile(Path("own.yaml"))
    assert profile.sheet.mm == (210, 297) and profile.margin.top == 6  # the edge is in its unit
    assert (str(profile.art.treat), profile.lpi) == ("tone", 30)


@pytest.mark.parametrize(
    ("key", "typed", "written"),
    [
        ("dpi", "600dpi", "600"),
        ("dpi", "600 DPI", "600"),
        ("dpi", "600 x 1200 dots per inch", "600 x 1200"),
        ("mesh", "110 mesh", "110"),
        ("mesh", "110 threads to the inch", "110"),
        ("mesh", "43-80 mesh", "43-80"),
        ("margin", "1/4 in", "0.25 in"),
        ("margin", '1/4"', "0.25 in"),
        ("margin", "\u00bc inch", "0.25 in"),
        ("margin", "0,25 in", "0.25 in"),
        ("margin", "6 mm, 6 mm, 1/2 inch, 6mm", "6 mm, 6 mm, 0.5 in, 6 mm"),
        ("sheet", "8 1/2 x 11 inches", "8.5 x 11 in"),
        ("sheet", '8.5" x 11"', "8.5 in x 11 in"),
        ("sheet", "21,5x30 cm", "21.5 x 30 cm"),
        ("sheet", "Letter", "Letter"),
        ("lpi", "25 lpi", "25"),
        ("lpi", "25 lines per inch", "25"),
        ("angle", "20 degrees", "20"),
    ],
)
def test_the_unit_that_is_asked_for_may_be_typed(
    filmhand: Run, key: str, typed: str, written: str
) -> None:
    told = dict(zip(TOLD[::2], TOLD[1::2], strict=True)) | {f"--{key}": typed}
    done = filmhand("new-profile", "own.yaml", *(word for pair in told.items() for word in pair))
    assert done.returncode == 0, done.stderr
    expected = "110 (43-80)" if key == "mesh" else written
    assert f"\n{key}: {expected}\n" in Path("own.yaml").read_text()


@pytest.mark.parametrize(
    ("key", "typed", "ways"),
    [
        ("margin", "0.25", "0.25 in or 0.25 mm"),
        ("margin", "1/4", "0.25 in or 0.25 mm"),
        ("margin", "6 6 12 6", "6 in 6 in 12 in 6 in or 6 mm 6 mm 12 mm 6 mm"),
        ("sheet", "8.5 x 11", "8.5 x 11 in or 8.5 x 11 cm"),
        ("sheet", "210x297", "210 x 297 mm"),
        ("frame", "16 x 20", "16 x 20 in or 16 x 20 cm"),
    ],
)
def test_a_length_without_its_unit_is_told_so(
    filmhand: Run, key: str, typed: str, ways: str
) -> None:
    done = filmhand("new-profile", "own.yaml", *TOLD, f"--{key}", typed)
    assert done.returncode == 2
    assert f"'{typed}' has no unit: write {ways}." in " ".join(done.stderr.split())


@pytest.mark.parametrize(("typed", "called"), [("156", "157 (62-64)"), ("77", "196 (77-55)")])
def test_a_mesh_that_films_call_otherwise_is_said(filmhand: Run, typed: str, called: str) -> None:
    done = filmhand("new-profile", "own.yaml", *TOLD[:4], "--mesh", typed)
    assert f"Mesh {typed} is called {called} here, on films too" in done.stdout
    for same in ("157", "62-64", "none"):
        words = (*TOLD[:4], "--lpi", "25", "--mesh", same, "--replace")
        assert "is called" not in filmhand("new-profile", "own.yaml", *words).stdout


def test_units_are_taken_where_one_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    answers = "letter\n600dpi\n0.25\n1/4 in\n110 mesh\n\n25 lpi\n"
    done = asked(monkeypatch, answers, "own.yaml")
    assert done.exit_code == 0, done.output
    assert "'0.25' has no unit: write 0.25 in or 0.25 mm." in done.output
    assert "cannot be read" not in done.output
    assert "[25]:" in done.output and "25.0" not in done.output  # written as everywhere
    # Below, check tells the finest that is advisable, which is another number.
    assert done.output.count("finest") == 1
    profile = load_profile(Path("own.yaml"))
    assert (profile.dpi.x, profile.margin.top, profile.lpi) == (600, 6.35, 25)


def test_only_what_no_option_tells_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = asked(monkeypatch, "", "own.yaml", *TOLD, "--margin", "6 mm", "--treat", "line")
    assert done.exit_code == 0, done.output
    assert "?" not in done.output and "Wrote own.yaml" in done.output


def test_who_stops_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = asked(monkeypatch, "letter\n300\n", "own.yaml")
    assert done.exit_code == 1 and list(tmp_path.iterdir()) == []


def test_on_a_real_terminal(tmp_path: Path) -> None:
    """A pseudo-terminal of this system, pty(7)."""
    ours, theirs = pty.openpty()
    words = [sys.executable, "-m", "filmhand", "new-profile", "own.yaml", *TOLD[2:], "--treat"]
    package = Path(new_profile_module.__file__).parents[2]
    child = subprocess.Popen(
        [*words, "line", "--margin", "6 mm"], stdin=theirs, stdout=theirs, stderr=theirs,
        cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(package)},
    )  # fmt: skip
    os.close(theirs)
    said = b""
    while b"[letter]:" not in said:
        said += os.read(ours, 1000)
    os.write(ours, b"a3\n")
    try:
        while piece := os.read(ours, 1000):
            said += piece
    except OSError:  # Linux says so when the last writer has gone
        pass
    os.close(ours)
    assert child.wait(60) == 0, said
    assert load_profile(tmp_path / "own.yaml").sheet.mm == (297, 420)


def rulings() -> list[list[str]]:
    table = read_page("mesh").partition("## Which ruling for which mesh")[2].partition("\n## ")[0]
    lines = [line for line in table.splitlines() if re.match(r"\| \d+ \(", line)]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


@pytest.mark.slow
@pytest.mark.parametrize("row", rulings(), ids=lambda row: row[0])
def test_the_guides_rulings_are_those_that_are_offered(row: list[str]) -> None:
    mesh = read_mesh(row[0])
    assert mesh is not None
    shown = [f"{floor(round(best_lpi(MeshLimits.of(mesh)), 1))} lpi"]
    for dpi in ("300", "600", "1200"):
        answers = ProfileAnswers(sheet="letter", dpi=dpi, margin="0.25 in", mesh=row[0])
        lpi = advised_lpi(answers)
        shown.append(f"{lpi:g} lpi at {advised_angle(answers, lpi):g}")
    assert row[1:] == shown


def test_all_meshes_that_shops_have_are_in_the_guides_table() -> None:
    labels = [woven(row.threads_per_cm, row.thread_um).label for row in MESHES if row.stocked]
    assert [row[0] for row in rulings()] == labels

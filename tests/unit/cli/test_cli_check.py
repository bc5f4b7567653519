"""What ``check`` shows: one profile on one screen of 24 x 80, several as a table, folders read."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., subprocess.CompletedProcess[str]]
PROFILES = Path(__file__).parents[3] / "profiles"
KEYS = {
    "sheet": "letter", "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50",
    "mesh": "43-80", "margin": "6 mm", "angle": "22.5",
}  # fmt: skip


def written(folder: Path, name: str = "own", **keys: str) -> Path:
    path = folder / f"{name}.yaml"
    path.write_text("".join(f"{key}: {value}\n" for key, value in (KEYS | keys).items()))
    return path


def fits_a_screen(text: str) -> bool:
    """In 24 lines of 80 letters, with one left for the prompt."""
    lines = text.splitlines()
    return len(lines) <= 23 and max(map(len, lines)) <= 80


@pytest.mark.parametrize("name", [path.stem for path in sorted(PROFILES.glob("*.yaml"))])
def test_one_profile_fits_on_a_screen(filmhand: Run, name: str) -> None:
    # The folder is given as it would be typed, so that the last line is as long as at the shop.
    (Path.cwd() / "profiles").symlink_to(PROFILES)
    done = filmhand("check", f"profiles/{name}.yaml")
    assert done.returncode == 0
    assert fits_a_screen(done.stdout), done.stdout
    assert "  warning   none" in done.stdout.splitlines()
    assert done.stdout.splitlines()[-1].endswith(f"filmhand check profiles/{name}.yaml --more")


def test_one_that_warns_of_much_still_fits(filmhand: Run, tmp_path: Path) -> None:
    path = written(tmp_path, lpi="55", mesh="110", frame="16 x 20 in", angle="45")
    done = filmhand("check", path.name)
    assert fits_a_screen(done.stdout), done.stdout
    assert done.stdout.count("  warning   ") >= 3
    assert "110 (43-80), thread assumed" in done.stdout
    assert "109 threads an inch, 43 a cm" in " ".join(done.stdout.split())
    assert "less at" not in done.stdout  # makes room, and --more tells it


def test_more_tells_all(filmhand: Run, tmp_path: Path) -> None:
    path = written(tmp_path)
    short, full = filmhand("check", path).stdout, filmhand("check", path, "--more").stdout
    for only in ("4.37 : 1", "mesh/dot order", "film %", "cm3/m2", "2550 x 3300 px"):
        assert only in full and only not in short
    assert max(map(len, full.splitlines())) <= 80


@pytest.mark.parametrize(
    ("gain", "says"),
    [
        ("0", "and 50 % in print if the press adds nothing; what yours adds was not measured"),
        ("15", "50 % in print, if the press adds 15 points (tone.gain)"),
        ("[[10, 16], [50, 68], [90, 98]]", "in print, on the press as measured (tone.gain)"),
    ],
)
def test_what_half_becomes_in_print_is_said_of_the_press_that_is_known(
    filmhand: Run, tmp_path: Path, gain: str, says: str
) -> None:
    path = written(tmp_path, tone=f"{{gain: {gain}, aim: tone}}")
    for more in ((), ("--more",)):
        text = " ".join(filmhand("check", path, *more).stdout.split())
        assert "50 % in the art is " in text and says in text
        assert text.count("not measured") == (gain == "0")


def test_what_makes_less_moire_is_written_as_in_a_profile(filmhand: Run, tmp_path: Path) -> None:
    path = written(tmp_path, angle="45")
    offers = json.loads(filmhand("check", path, "--json").stdout)[0]["less_moire"]
    lines = " ".join(filmhand("check", path).stdout.split())
    passing = [one for one in offers if one["passes"]]
    assert passing
    for one in passing:
        assert f"{one['change']}: {one['value']:g}" in lines
    assert "in the profile; one change is enough" in lines
    best = passing[0]
    changed = written(tmp_path, "other", **{"angle": "45", best["change"]: f"{best['value']:g}"})
    told = json.loads(filmhand("check", changed, "--json").stdout)[0]
    assert told["moire"]["visibility"] < 0.02  # where it warns


def test_a_frame_is_told_with_what_it_prints(filmhand: Run, tmp_path: Path) -> None:
    text = filmhand("check", written(tmp_path, frame="16 x 20 in")).stdout
    assert "  frame     16 x 20 in (406.4 x 508 mm) inside, prints at most" in text
    assert "prints at most 12.06 x 16.06 in (306.4 x 408 mm)" in " ".join(text.split())
    text = filmhand("check", written(tmp_path, frame="16 x 20 in", sheet="a4")).stdout
    assert "prints at most 306.4 x 408 mm (12.06 x 16.06 in)" in " ".join(text.split())


def test_line_art_is_told_by_its_strokes(filmhand: Run, tmp_path: Path) -> None:
    path = written(tmp_path, art="{treat: line}", mesh="62-64", dpi="600")
    text = filmhand("check", path).stdout
    assert "  holds     strokes and gaps from 226 µm" in text.splitlines() or "lpi" in text
    path.write_text(path.read_text().replace("lpi: 25\n", "").replace("dot: round\n", ""))
    text = filmhand("check", path).stdout
    assert "  screen    none: line art only" in text.splitlines()
    assert "  holds     strokes and gaps from 226 µm" in text.splitlines()
    assert "finest" not in text
    # As a refusal of such art tells it: the root of two threads of 64 µm, and one opening.
    assert "  lost      strokes of 90 µm or less, gaps of 97 µm or less" in text.splitlines()


def test_several_are_a_table_and_a_folder_is_read(filmhand: Run, tmp_path: Path) -> None:
    folder = tmp_path / "profiles"
    folder.mkdir()
    written(folder, "one")
    written(folder, "two", mesh="none")
    written(folder, "three", lpi="55")
    (folder / "notes.txt").write_text("not a profile")
    done = filmhand("check", "profiles")
    assert done.returncode == 0
    head, one, below, three, _, two, _, *rest = done.stdout.splitlines()
    assert head.split()[0] == "profile" and "mesh" in head
    assert "8.5 x 11 in" in one and below.endswith("  300 dpi")
    assert below.index("(215.9 x 279.4 mm)") == one.index("8.5 x 11 in")
    assert one.split()[0] == "one" and "110 (43-80)" in one and one.split()[-1] == "no"
    assert three.split()[0] == "three" and three.split()[-1].isdigit()
    assert two.split()[0] == "two" and "none" in two and two.split()[-1] == "1"
    assert "three:" in rest and "two:" in rest and "one:" not in rest
    assert max(map(len, done.stdout.splitlines())) <= 80
    told = json.loads(filmhand("check", "profiles", "--json").stdout)
    assert [one["name"] for one in told] == ["one", "three", "two"]
    assert filmhand("check", "profiles", "--more").stdout.count("cm3/m2") == 2


def test_the_table_of_the_profiles_that_come_along_fits_a_screen(filmhand: Run) -> None:
    text = filmhand("check", PROFILES).stdout
    assert fits_a_screen(text), text
    assert "210 x 297 mm" in text and "(8.27 x 11.69 in)" in text


def test_one_that_is_faulty_spoils_no_table(filmhand: Run, tmp_path: Path) -> None:
    written(tmp_path, "good")
    written(tmp_path, "bad", lpi="250")
    done = filmhand("check", tmp_path)
    assert done.returncode == 78
    assert "lpi must be" in done.stderr
    assert [line.split()[0] for line in done.stdout.splitlines()[:2]] == ["profile", "good"]


def test_a_folder_without_profiles_says_what_to_do(filmhand: Run, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = filmhand("check", "empty")
    assert done.returncode == 2
    assert "There is no profile in the folder empty" in done.stderr
    assert "filmhand new-profile" in done.stderr

"""In which language a whole service speaks: of jobs in the profile's, else in the asker's."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

PROFILE = """\
sheet: 4 x 4 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
settle: 100 ms
write: png
"""
ENGLISH, SPANISH = (
    "is named like a picture, but it is text",
    "tiene nombre de imagen, pero es texto",
)


def filmhand(*words: str, language: str = "") -> str:
    run = subprocess.run(
        [sys.executable, "-m", "filmhand", *words],
        env={**os.environ, "FILMHAND_LANG": language, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        check=False,
    )
    return run.stdout.decode() + run.stderr.decode()


def draw(path: Path) -> None:
    fade = np.tile(np.linspace(0, 255, 600), (600, 1))
    Image.fromarray(fade.astype(np.uint8)).save(path, dpi=(200, 200))


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Stations asked in English and in Spanish; one profile of each is told in the other."""
    stations = {}
    for asked, own in (("", "es"), ("es_MX.UTF-8", "en")):
        root = tmp_path_factory.mktemp("station")
        (root / "profiles").mkdir()
        for name, key in (("plain", ""), ("own", f"language: {own}\n")):
            (root / "profiles" / f"{name}.yaml").write_text(PROFILE + key)
            drop = root / name / "drop"
            drop.mkdir(parents=True)
            draw(drop / "fade.png")
            (drop / "words.png").write_text("no picture")
            (drop / "alone.png.ticket.yaml").write_text("lpi: 30\n")
        filmhand("once", str(root), "--state", f"{root} state", language=asked)
        stations[asked or "en"] = root
    return stations


def record(root: Path, profile: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((root / profile / "records" / "fade.json").read_bytes())
    return found


@pytest.mark.parametrize(
    ("station", "profile", "spanish"),
    [
        ("en", "plain", False),
        ("en", "own", True),
        ("es_MX.UTF-8", "plain", True),
        ("es_MX.UTF-8", "own", False),
    ],
)
def test_jobs_are_told_in_their_profile_s_language(
    told: dict[str, Path], station: str, profile: str, *, spanish: bool
) -> None:
    root = told[station]
    note = (root / profile / "rejected" / "words.png.why.txt").read_text(encoding="utf-8")
    assert (SPANISH in note, ENGLISH in note) == (spanish, not spanish)
    assert ("Qué puede hacer:" in note) == spanish  # said by the service, the rest by the worker
    (line,) = (root / profile / "rejected" / "rejections.jsonl").read_text().splitlines()
    assert json.loads(line)["reason"] == "not-art"  # a word for programs
    assert (SPANISH in json.loads(line)["say"]) == spanish
    notes = " ".join(record(root, profile)["notes"])
    assert notes
    assert ("El original" in notes, "The art" in notes) == (spanish, not spanish)


def test_the_page_and_the_commands_speak_to_whoever_asks(told: dict[str, Path]) -> None:
    for asked, lang, word in (("en", "en", "What happened"), ("es_MX.UTF-8", "es", "Qué pasó")):
        page = (told[asked] / "status.html").read_text(encoding="utf-8")
        assert f'<html lang="{lang}"' in page
        assert word in page
    root = told["en"]
    for language, word in (("", "refused"), ("es", "rechazados")):
        said = filmhand("status", str(root), "--state", f"{root} state", language=language)
        said = " ".join(said.split())  # it is broken into lines
        assert word in said
        assert SPANISH in said and ENGLISH in said  # as each was said when it was refused


def test_the_film_is_the_same_whoever_asks_for_it(told: dict[str, Path]) -> None:
    """Only the profile says what its label says: English, unless it names a language."""
    films = {
        (asked, profile): record(root, profile)["film"]["sha256"]["png"]
        for asked, root in told.items()
        for profile in ("plain", "own")
    }
    assert films["en", "plain"] == films["es_MX.UTF-8", "plain"]
    assert films["en", "own"] != films["en", "plain"]


def test_a_language_that_nobody_has_translated_is_told_with_those_there_are(tmp_path: Path) -> None:
    path = tmp_path / "p.yaml"
    path.write_text(f"{PROFILE}language: klingon\n")
    said = filmhand("check", str(path))
    assert "line 10, column 1: language must be en or es, not 'klingon'" in said

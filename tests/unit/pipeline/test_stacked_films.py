"""Films that are laid on one another for blackness, and how their scale and number are told."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand.film.read import read_film
from filmhand.pipeline.label import side_up
from filmhand.pipeline.make import make_films
from filmhand.pipeline.printer_films.printer_words import dpi_words, printer_notes
from filmhand.profile.model import FilmLook, Marks, Profile
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

TEXT = """\
sheet: 4 x 5 in
dpi: 200
threshold: 50
mesh: none
margin: 0.25 in
art: {treat: line}
"""


def profile_of(more: str = "") -> Profile:
    return read_profile(TEXT + more, name="stacked", file="stacked.yaml")


def film_of(folder: Path, profile: Profile) -> tuple[dict[str, Any], Any]:
    art = folder / "art.png"
    picture = np.full((300, 300), 255, np.uint8)
    picture[100:200, 50:250] = 0
    Image.fromarray(picture).save(art)
    for name in ("out", "scratch"):
        (folder / name).mkdir(exist_ok=True)
    request = JobRequest(
        art=art, name=art.name, profile=profile, out=folder / "out", scratch=folder / "scratch"
    )
    (film,) = make_films(request).films
    (path,) = film.files.values()
    sheet, _ = read_film(path, folder)
    with sheet:
        rows = np.unpackbits(sheet.read(0, sheet.height), axis=1)[:, : sheet.width]
    json.dumps(film.record)
    return film.record, rows.astype(bool)


def test_a_stacked_film_has_the_crosses_of_register_marks(tmp_path: Path) -> None:
    plain = replace(profile_of(), marks=Marks(label=False))
    record, stacked = film_of(tmp_path, replace(plain, film=FilmLook(stack=2)))
    _, registered = film_of(tmp_path, replace(plain, marks=Marks(label=False, register=True)))
    _, neither = film_of(tmp_path, plain)
    assert np.array_equal(stacked, registered)
    assert not np.array_equal(stacked, neither)
    assert record["film"]["stack"] == 2
    (note,) = (note for note in record["notes"] if note.startswith("film.stack"))
    assert "print it 2 times" in note


def test_the_label_says_that_films_are_stacked() -> None:
    assert "STACK 2: lay 2 of this film in register" in side_up(profile_of("film: {stack: 2}\n"))
    assert "STACK" not in side_up(profile_of())


def test_who_prints_a_stacked_film_is_told() -> None:
    by_hand = printer_notes(profile_of("film: {stack: 2}\nprint: {copies: 2}\n"))
    sent = printer_notes(
        profile_of("film: {stack: 2}\nprint: {printer: ipp://films.local/ipp/print}\n")
    )
    assert [len(by_hand), len(sent)] == [1, 1]
    assert "one page: print it 2 times" in by_hand[0]
    assert "The printer gets it 2 times" in sent[0]
    assert printer_notes(profile_of()) == []


def test_the_scale_is_told_on_the_label_and_in_the_record(tmp_path: Path) -> None:
    scaled = profile_of("print: {scale: [99.6 %, 100.2 %]}\n")
    assert dpi_words(scaled) == "200 dpi, scale 99.6 x 100.2 % taken off"
    assert dpi_words(profile_of()) == "200 dpi"
    record, _ = film_of(tmp_path, scaled)
    assert record["film"]["scale_pct"] == [99.6, 100.2]
    assert record["film"]["dpi"] == [200, 200]
    assert any("99.6 % across and 100.2 % down" in note for note in record["notes"])


@pytest.mark.parametrize(("lpi", "right"), [("49.5", True), ("50", False)])
def test_the_finest_ruling_is_that_of_the_acetate(lpi: str, right: bool) -> None:
    text = TEXT.replace("treat: line", "treat: tone") + f"lpi: {lpi}\ndot: round\n"
    text += "print: {scale: [101 %, 100 %]}\n"
    if right:
        assert read_profile(text, name="fine", file="fine.yaml").lpi == 49.5
    else:
        with pytest.raises(Exception, match=r"lpi must be 49\.5 or less"):
            read_profile(text, name="fine", file="fine.yaml")

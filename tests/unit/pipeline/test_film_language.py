"""What stands on a film goes by its profile alone, and not by the language of whoever makes it."""

from __future__ import annotations

import gettext
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand import language
from filmhand.film.formats import Format
from filmhand.language import speaking
from filmhand.pipeline import label
from filmhand.pipeline.gang import make_gang
from filmhand.pipeline.make import make_films
from filmhand.pipeline.printer_films.device_film import make_device_sheet
from filmhand.pipeline.printer_films.ruler_film import make_ruler
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

TEXT = (
    "sheet: 120 x 170 mm\ndpi: 200\nlpi: 20\nangle: 22.5\ndot: round\nthreshold: 50\n"
    "mesh: 43-80\nmargin: 5 mm\nwrite: [png]\nfilm: {stack: 2}\ntone: {hold: off}\n"
)


class Marked(gettext.NullTranslations):
    """A catalog that has every row, with a mark before it."""

    def gettext(self, message: str) -> str:
        """The row in that language."""
        return f"¡{message}"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The same of several."""
        return f"¡{msgid1 if n == 1 else msgid2}"


@pytest.fixture(autouse=True)
def spanish_is_marked(monkeypatch: pytest.MonkeyPatch) -> None:
    real = language._catalog
    monkeypatch.setattr(language, "_catalog", lambda code: Marked() if code == "es" else real(code))


def profile_of(more: str = "") -> Profile:
    return read_profile(TEXT + more, name="p", file="p.yaml")


def request_for(folder: Path, profile: Profile, name: str, ticket: str) -> JobRequest:
    for part in ("out", "scratch"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    art = folder / "art.png"
    shade = np.tile(np.linspace(20, 240, 120).astype(np.uint8), (150, 1))
    Image.fromarray(shade).save(art)
    (folder / "ticket.yaml").write_text(ticket)
    return JobRequest(
        art, name, profile, folder / "out", folder / "scratch",
        ticket=folder / "ticket.yaml", sub="class 4",
    )  # fmt: skip


def of_art(folder: Path, profile: Profile) -> tuple[dict[Format, Path], Any]:
    name = "a long name of art [7 cm, 15 lpi].png"
    ticket = "for: Ana\nanyway: true\nart: {treat: tone, fit: width 70 mm}\n"
    (film,) = make_films(request_for(folder, profile, name, ticket)).films
    return film.files, film.record["notes"]


def of_trial(folder: Path, profile: Profile) -> tuple[dict[Format, Path], Any]:
    ticket = "art: {treat: tone}\ntrial: {lpi: [15, 20]}\n"
    (film,) = make_films(request_for(folder, profile, "art.png", ticket)).films
    return film.files, film.record["notes"]


def of_several(folder: Path, profile: Profile) -> tuple[dict[Format, Path], Any]:
    ticket = "art: {treat: tone, fit: width 40 mm}\nanyway: true\n"
    requests = [
        request_for(folder / str(number), profile, f"art {number}.png", ticket)
        for number in range(2)
    ]
    film = make_gang(requests).placed[0]
    return film.files, film.record["notes"]


def of_printer(make: Callable[..., Any]) -> Callable[..., tuple[dict[Format, Path], Any]]:
    def made(folder: Path, profile: Profile) -> tuple[dict[Format, Path], Any]:
        folder.mkdir(parents=True)
        files, _ = make(profile, folder)
        return files, None

    return made


@pytest.mark.parametrize(
    "make",
    [of_art, of_trial, of_several, of_printer(make_device_sheet), of_printer(make_ruler)],
    ids=["art", "trial", "gang", "device sheet", "ruler"],
)
def test_a_film_is_the_same_in_every_language_but_its_profiles(
    tmp_path: Path,
    make: Callable[..., tuple[dict[Format, Path], Any]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(label, "_SHORT", 0)  # no digests, which tell profiles apart
    bits, notes = {}, {}
    for spoken in ("en", "es"):
        with speaking(spoken):
            files, notes[spoken] = make(tmp_path / spoken, profile_of())
        bits[spoken] = np.asarray(Image.open(files[Format.PNG]))
    assert np.array_equal(bits["en"], bits["es"])
    if notes["en"] is not None:  # these are for whoever made it
        assert not any(note.startswith("¡") for note in notes["en"])
        assert any(note.startswith("¡") for note in notes["es"])
    with speaking("es"):
        files, _ = make(tmp_path / "own", profile_of("language: es\n"))
    assert not np.array_equal(bits["en"], np.asarray(Image.open(files[Format.PNG])))

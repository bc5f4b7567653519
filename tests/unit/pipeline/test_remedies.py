"""A refusal of the mesh or the resolution offers changes, and each gives a film when it is made."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.errors import Reason, Refused
from filmhand.mesh.checks import CheckName
from filmhand.mesh.table import read_mesh
from filmhand.pipeline.make import make_films
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Fit
from filmhand.request import FinishedFilm, JobRequest

BASE = {
    "sheet": "5 x 5 in",
    "dpi": "300",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",
    "margin": "0.25 in",
    "angle": "22.5",
}


def profile_of(**keys: str) -> Profile:
    text = "".join(f"{key}: {value}\n" for key, value in (BASE | keys).items())
    return read_profile(text, name="tried", file="tried.yaml")


def made(folder: Path, art: Path, profile: Profile) -> list[FinishedFilm]:
    for part in ("out", "scratch"):
        (folder / part).mkdir(exist_ok=True)
    request = JobRequest(
        art=art,
        name=art.name,
        profile=profile,
        out=folder / "out",
        scratch=folder / "scratch",
        threads=2,
    )
    films = make_films(request).films
    assert not list((folder / "scratch").iterdir())
    return films


def changed(profile: Profile, words: str) -> list[Profile]:
    """The profile after each change that the sentence asks for."""
    found = []
    for pattern, change in (
        (r"(?i)screen it at ([\d.]+) lpi", lambda text: {"lpi": float(text)}),
        (r"(?i)set the halftone angle to ([\d.]+) degrees", lambda text: {"angle": float(text)}),
        (r"(?i)use mesh ([\d.]+ \([\d.]+-[\d.]+\))", lambda text: {"mesh": read_mesh(text)}),
        (
            r"(?i)print it (?:no larger than|at least) ([\d.]+) in \([\d.]+ mm\) wide",
            lambda text: {
                "art": dataclasses.replace(profile.art, fit=Fit("width", 25.4 * float(text)))
            },
        ),
        (
            r"(?i)set tone: \{hold: (auto)\}",
            lambda text: {"tone": dataclasses.replace(profile.tone, hold=text)},
        ),
    ):
        found += [
            dataclasses.replace(profile, **change(text)) for text in re.findall(pattern, words)
        ]
    return found


def ramp(path: Path, pixels: int = 600, *, darkest: int = 0, lightest: int = 255) -> Path:
    row = np.linspace(darkest, lightest, pixels).astype(np.uint8)
    Image.fromarray(np.tile(row, (pixels, 1))).save(path)
    return path


def strokes(path: Path, *, width: int, pixels: int = 900) -> Path:
    picture = Image.new("L", (pixels, pixels), 255)
    draw = ImageDraw.Draw(picture)
    for x in range(100, pixels - 99, 100):
        draw.line((x, 80, x, pixels - 80), fill=0, width=width)
    picture.save(path)
    return path


@pytest.mark.parametrize(
    ("reason", "keys", "art"),
    [
        pytest.param(
            Reason.DOTS_TOO_FINE,
            {"tone": "{hold: off, endpoints: off}", "lpi": "60"},
            lambda path: ramp(path, darkest=150),
            id="dots",
        ),
        pytest.param(
            Reason.HOLES_TOO_FINE,
            {"tone": "{hold: off, endpoints: off}", "lpi": "60"},
            lambda path: ramp(path, lightest=100),
            id="holes",
        ),
        pytest.param(Reason.TOO_SMALL, {"lpi": "40"}, lambda path: ramp(path, 120), id="pixels"),
        pytest.param(
            Reason.LINES_TOO_FINE,
            {"art": "{treat: line, fit: width 50 mm}", "dpi": "600"},
            lambda path: strokes(path, width=2),
            id="lines",
        ),
        pytest.param(
            Reason.MOIRE,
            {
                "lpi": "25",
                "angle": "45",
                "limits": "{moire: refuse}",
                "verdict": "{moire: {fail: 0.03}}",
            },
            ramp,
            id="moire",
        ),
    ],
)
def test_every_offer_gives_a_film(tmp_path, reason, keys, art):
    profile = profile_of(**keys)
    path = art(tmp_path / "art.png")
    with pytest.raises(Refused) as refused:
        made(tmp_path, path, profile)
    assert refused.value.reason is reason
    assert "tried with this art" in refused.value.do
    offers = changed(profile, refused.value.do)
    assert offers, refused.value.do
    for offer in offers:
        assert len(made(tmp_path, path, offer)) == 1


def test_where_nothing_helps_nothing_is_said_to_have_been_tried(tmp_path):
    """Hairlines on a picture that already fills its sheet, finer than the limit of any mesh."""
    path = strokes(tmp_path / "hair.png", width=1, pixels=1200)
    profile = profile_of(
        art="{treat: line}", dpi="600", mesh="10-260", verdict="{stroke: {fail: 4 mm, warn: 5 mm}}"
    )
    with pytest.raises(Refused) as refused:
        made(tmp_path, path, profile)
    assert refused.value.reason is Reason.LINES_TOO_FINE
    assert "tried" not in refused.value.do
    assert refused.value.do.startswith("Print it larger")


@pytest.mark.parametrize(
    ("name", "keys", "pixels"),
    [
        pytest.param("art resolution", {"lpi": "25"}, 125, id="tone"),
        pytest.param(
            "art resolution", {"art": "{treat: line}", "threshold": "50"}, 300, id="line art"
        ),
        pytest.param("gray levels", {"lpi": "50", "mesh": "120-34"}, 600, id="levels"),
        pytest.param("mesh to lpi ratio", {"lpi": "35"}, 600, id="ratio"),
    ],
)
def test_a_warning_names_where_it_would_pass(tmp_path, name, keys, pixels):
    def checked(profile):
        (film,) = made(tmp_path, path, profile)
        (check,) = [one for one in film.record["checks"] if one["name"] == name]
        return check["verdict"], " ".join(film.record["notes"])

    path = ramp(tmp_path / "ramp.png", pixels)
    profile = profile_of(**keys)
    verdict, notes = checked(profile)
    assert verdict == "warn"
    said = notes[notes.index(next(n.row.meaning for n in CheckName if n == name)) :]
    sizes = re.findall(r"would pass without this warning at ([\d.]+) x [\d.]+ in", said)
    rulings = re.findall(r"(?:at|or) (\d+) lpi:", said)
    assert bool(sizes) == (name == "art resolution")
    assert bool(rulings) == ("line" not in keys.get("art", ""))
    for width in sizes:
        fit = dataclasses.replace(profile.art, fit=Fit("width", 25.4 * float(width)))
        assert checked(dataclasses.replace(profile, art=fit))[0] == "pass"
    for lpi in rulings:
        assert checked(dataclasses.replace(profile, lpi=float(lpi)))[0] == "pass"

"""What a mesh cannot hold and what hides it: much solid beside it, silent mending, the screen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.film.bits import BitSheet
from filmhand.mesh.table import read_mesh
from filmhand.pipeline.make import make_films
from filmhand.pipeline.measure import measure_film
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, JobRequest
from filmhand.units import Resolution

SAID = {
    "sheet": "5 x 5 in",
    "dpi": "600",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",  # loses strokes of 113 um and gaps of 153 um
    "margin": "0.25 in",
    "angle": "22.5",
}


def film_of(
    folder: Path, picture: Image.Image, *, anyway: bool = False, **keys: str
) -> FinishedFilm:
    """The film of a picture of 600 pixels to the inch, at its own size."""
    for part in ("out", "scratch"):
        (folder / part).mkdir(exist_ok=True)
    art = folder / "art.png"
    picture.save(art, dpi=(600, 600))
    text = "".join(f"{key}: {value}\n" for key, value in (SAID | keys).items())
    profile = read_profile(text, name="p", file="p.yaml")
    ticket = folder / "art.png.ticket.yaml"
    ticket.write_text(f"anyway: {str(anyway).lower()}\n")
    request = JobRequest(
        art=art,
        name=art.name,
        profile=profile,
        out=folder / "out",
        scratch=folder / "scratch",
        ticket=ticket,
    )
    return make_films(request).films[0]


LINE = {"art": "{treat: line, fit: own}", "write": "tiff"}
TONE = {"art": "{treat: tone, fit: own}", "tone": "{endpoints: off}", "write": "tiff"}


def check_of(film: FinishedFilm, name: str) -> dict[str, Any] | None:
    return next((check for check in film.record["checks"] if check["name"] == name), None)


def beside_a_solid(gap: bool, wide: int = 2, long: int = 1200) -> Image.Image:
    """Two hairlines of 2 pixels (85 um) and 1200 pixels (51 mm) beside a large solid."""
    columns = slice(500, 500 + long)
    bits = np.ones((2400, 2400), np.bool_)
    bits[:1800] = False
    if gap:  # in the solid, beside many wide gaps
        bits[:1700, 100:2300] = np.arange(2200) // 20 % 2 == 0
        for top in (2000, 2200):
            bits[top : top + wide, columns] = False
    else:
        for top in (300, 900):
            bits[top : top + wide, columns] = True
    return Image.fromarray(~bits)


@pytest.mark.parametrize("gap", [False, True])
def test_hairlines_beside_a_large_solid_warn_and_are_shown(tmp_path: Path, gap: bool) -> None:
    film = film_of(tmp_path, beside_a_solid(gap), **LINE)
    name = "narrowest gap" if gap else "narrowest stroke"
    check = check_of(film, name)
    assert check is not None
    assert check["verdict"] == "warn"
    assert check["measured"] == pytest.approx(84.7, abs=1)
    assert check["pieces"] == {
        "count": 2,
        "length_mm": pytest.approx(2 * 50.8, abs=0.5),
        "narrowest_um": pytest.approx(84.7, abs=1),
    }
    (note,) = (note for note in film.record["notes"] if "2 thin" in note)
    assert "4 in (101.6 mm) long in all, 85 µm wide at the narrowest" in note
    assert f"wanted more than {153 if gap else 113} µm" in note and "; worst at " in note
    places = [spot for spot in film.record["worst"] if spot["what"] == ("gap" if gap else "stroke")]
    assert len(places) == 2
    # The other color has nothing thin.
    other = check_of(film, "narrowest stroke" if gap else "narrowest gap")
    assert other is not None and "pieces" not in other and other["verdict"] == "pass"


@pytest.mark.parametrize("gap", [False, True])
def test_lines_that_the_mesh_prints_unevenly_beside_a_large_solid_warn(
    tmp_path: Path, gap: bool
) -> None:
    film = film_of(tmp_path, beside_a_solid(gap, wide=6, long=400), **LINE)  # 254 um, under 313 um
    check = check_of(film, "narrowest gap" if gap else "narrowest stroke")
    assert check is not None
    assert (check["verdict"], check["warn_limit"]) == ("warn", pytest.approx(312.6, abs=0.1))
    assert check["pieces"]["count"] == 2
    assert check["measured"] == pytest.approx(254, abs=1)
    (note,) = (note for note in film.record["notes"] if "2 thin" in note)
    assert ("gaps may fill in" if gap else "strokes may print unevenly or break") in note
    assert "254 µm wide at the narrowest, wanted more than 313 µm; worst at " in note
    assert film.record["warnings"] == [note]


@pytest.mark.parametrize("gap", [False, True])
def test_lines_that_the_mesh_prints_evenly_pass(tmp_path: Path, gap: bool) -> None:
    film = film_of(tmp_path, beside_a_solid(gap, wide=8, long=400), **LINE)  # 339 um
    check = check_of(film, "narrowest gap" if gap else "narrowest stroke")
    assert check is not None and check["verdict"] == "pass" and "pieces" not in check
    assert not [note for note in film.record["notes"] if "thin" in note]
    assert film.record["warnings"] == []


def test_measure_tells_of_them_too(tmp_path: Path) -> None:
    bits = np.packbits(~np.array(beside_a_solid(gap=False)), axis=1)
    with BitSheet.create(tmp_path / "bits", width=2400, height=2400) as sheet:
        sheet.write(0, bits)
        for mesh in (read_mesh("43-80"), None):
            told = measure_film(sheet, Resolution(600, 600), mesh=mesh)
            assert told["narrowest_stroke_um"] == pytest.approx(84.7, abs=1)
            assert told["narrowest_gap_um"] > 500


@pytest.mark.parametrize("gap", [False, True])
def test_a_thin_rule_inside_a_picture_warns(tmp_path: Path, gap: bool) -> None:
    y, x = np.mgrid[:2400, :2400]
    middle = 40 if gap else 215  # shadows for a thin gap, lights for a thin stroke
    gray = (middle + 25 * np.sin(x / 300) * np.cos(y / 400)).astype(np.uint8)
    whole = film_of(tmp_path, Image.fromarray(gray), **TONE)
    assert check_of(whole, "narrowest stroke") is check_of(whole, "narrowest gap") is None
    gray[800:802, 300:2100] = 255 if gap else 0
    film = film_of(tmp_path, Image.fromarray(gray), **TONE)
    check = check_of(film, "narrowest gap" if gap else "narrowest stroke")
    assert check is not None and check["verdict"] == "warn" and check["measured"] < 113
    assert check_of(film, "narrowest stroke" if gap else "narrowest gap") is None
    assert check["pieces"]["length_mm"] > 0.6 * 1800 / 600 * 25.4
    # All along the rule, which runs across a third of the way down the art.
    assert {round(spot["y_mm"]) for spot in film.record["worst"]} == {42}


def test_a_film_that_mending_would_have_made_pass_is_refused_under_hold_off(tmp_path: Path) -> None:
    # A light corner of a picture: few dots, each too small, and little of all the ink.
    gray = np.full((1800, 1800), 128, np.uint8)
    gray[:400, :400] = 253
    art = {"art": "{treat: tone, fit: own}", "write": "tiff"}
    film = film_of(tmp_path, Image.fromarray(gray), tone="{endpoints: off, hold: auto}", **art)
    assert [check["verdict"] for check in film.record["checks"][:2]] == ["pass", "pass"]
    with pytest.raises(Refused) as refused:
        film_of(tmp_path, Image.fromarray(gray), tone="{endpoints: off, hold: off}", **art)
    assert refused.value.reason is Reason.DOTS_TOO_FINE
    # Nor is it mended in a film that is made all the same.
    off = {"tone": "{endpoints: off, hold: off}", "anyway": True}
    made = film_of(tmp_path, Image.fromarray(gray), **off, **art)
    assert made.record["spotted"] == dict.fromkeys(made.record["spotted"], 0)
    assert made.record["checks"][0]["measured"] < 113
    assert {spot["what"] for spot in made.record["worst"]} >= {"dot"}

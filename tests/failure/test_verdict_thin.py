"""What a mesh cannot hold and what hides it: much solid beside it, silent mending, the screen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, JobRequest

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

"""A profile's own limits on finished films, and what record and label tell of mesh and moire."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.errors import Reason, Refused
from filmhand.pipeline.label import label_lines
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Treat
from filmhand.profile.ticket.ticket import Ticket
from filmhand.request import JobRequest

SAID = {
    "sheet": "4 x 4 in",
    "dpi": "600",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",
    "margin": "0.25 in",
    "angle": "22.5",
}


def profile_of(**keys):
    text = "".join(f"{key}: {value}\n" for key, value in (SAID | keys).items())
    return read_profile(text, name="own", file="own.yaml")


def record_of(folder, picture, **keys):
    for part in ("out", "scratch"):
        (folder / part).mkdir(exist_ok=True)
    request = JobRequest(
        art=picture,
        name=picture.name,
        profile=profile_of(**keys),
        out=folder / "out",
        scratch=folder / "scratch",
    )
    return make_films(request).films[0].record


def verdict_of(record, name):
    return next(check["verdict"] for check in record["checks"] if check["name"] == name)


@pytest.fixture
def ramp(tmp_path):
    row = np.linspace(0, 255, 500).astype(np.uint8)
    Image.fromarray(np.tile(row, (500, 1))).save(tmp_path / "ramp.png")
    return tmp_path / "ramp.png"


@pytest.fixture
def strokes(tmp_path):
    """Strokes of 10 pixels, 0.42 mm at 600 dpi, on a picture of 2 inches, 1.58 mm apart."""
    picture = Image.new("1", (1200, 1200), 1)
    draw = ImageDraw.Draw(picture)
    for x in range(100, 1100, 48):
        draw.rectangle((x, 100, x + 9, 1100), fill=0)
    picture.save(tmp_path / "strokes.png", dpi=(600, 600))
    return tmp_path / "strokes.png"


LINES = {"art": "{treat: line, fit: own}"}


def test_the_record_tells_mesh_and_moire(tmp_path, ramp):
    record = record_of(tmp_path, ramp, mesh="110", art="{treat: tone}")
    moire = record["moire"]
    assert moire["strength_pct"] > 0 and len(moire["bands"]) == 4
    told = next(c for c in record["checks"] if c["name"] == "moire")
    assert told["unit"] == "visibility"
    assert told["measured"] == pytest.approx(moire["visibility"], abs=0.005)
    assert record["mesh"]["assumed"] is True
    assert record["mesh"]["ink_volume_cm3_m2"] == 51.6
    assert sum("a thread of 80 µm is assumed" in note for note in record["notes"]) == 1


def test_line_art_and_films_without_a_mesh_have_no_moire(tmp_path, ramp, strokes):
    assert record_of(tmp_path, strokes, **LINES)["moire"] is None
    record = record_of(tmp_path, ramp, mesh="none", art="{treat: tone}")
    assert record["moire"] is None
    assert record["mesh"] is None


def test_own_limits_of_strokes_decide_about_line_art(tmp_path, strokes):
    assert verdict_of(record_of(tmp_path, strokes, **LINES), "narrowest stroke") == "pass"
    record = record_of(tmp_path, strokes, verdict="{stroke: {fail: 300 um, warn: 600 um}}", **LINES)
    assert verdict_of(record, "narrowest stroke") == "warn"
    with pytest.raises(Refused) as refused:
        record_of(tmp_path, strokes, verdict="{stroke: {fail: 500 um, warn: 600 um}}", **LINES)
    assert refused.value.reason is Reason.LINES_TOO_FINE
    assert refused.value.needed.value == 500


def test_own_limits_of_resolution_and_dots_decide_about_tone(tmp_path, ramp):
    tone = {"art": "{treat: tone}"}
    record = record_of(tmp_path, ramp, **tone)
    assert verdict_of(record, "art resolution") == "pass"
    ppi = record["art"]["ppi"]
    own = f"{{resolution: {{fail: {ppi / 25 - 1:.2f}, warn: {ppi / 25 + 1:.2f}}}}}"
    assert verdict_of(record_of(tmp_path, ramp, verdict=own, **tone), "art resolution") == "warn"
    record = record_of(tmp_path, ramp, verdict="{dot: {fail: 150 um, warn: 400 um}}", **tone)
    dot = next(check for check in record["checks"] if check["name"] == "smallest dot")
    assert (dot["fail_limit"], dot["warn_limit"], dot["verdict"]) == (150, 400, "pass")
    assert dot["measured"] >= 400  # the screen made none under it


def test_own_limit_of_line_resolution(tmp_path, strokes):
    own = {"verdict": "{line_resolution: 1.1}"}
    assert verdict_of(record_of(tmp_path, strokes, **LINES), "art resolution") == "pass"
    assert verdict_of(record_of(tmp_path, strokes, **LINES, **own), "art resolution") == "warn"


@pytest.mark.parametrize(("mesh", "assumed"), [("110", True), ("43-80", False)])
def test_the_label_tells_an_assumed_thread(mesh, assumed):
    work = SimpleNamespace(
        missed=list,
        profile=profile_of(mesh=mesh),
        ticket=Ticket(),
        treated=Treat.LINE,
        request=SimpleNamespace(shown="art.png"),
        layout=SimpleNamespace(art_mm=(50.0, 50.0), grid=None, part=None),
        source={"sha256": "0" * 64},
        screen=None,
        checks=[],
        of_set=None,
        cut_at=50.0,
    )
    lines = label_lines(work, page=None)
    assert ("mesh 110 (43-80), thread assumed |" in lines[1]) is assumed
    assert "mesh 110 (43-80)" in lines[1]

"""Drawings without pixels through the whole job: the film's own pixels, a film a page."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from filmhand.art.files.open_art import open_art
from filmhand.errors import Reason, Refused
from filmhand.pipeline.make import make_films
from filmhand.pipeline.render.cropping import sizing_of
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

PROFILE = """
sheet: 60 x 50 mm
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: none
margin: 2 mm
marks: {label: false, ruler: false, solid: false}
write: png
"""
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10">'
    '<circle cx="10" cy="5" r="4"/></svg>'
)


def profile_of(**keys):
    text = "\n".join(
        line for line in PROFILE.splitlines() if line.partition(":")[0] not in keys
    ) + "".join(f"\n{key}: {value}" for key, value in keys.items())
    return read_profile(text, name="test", file="test.yaml")


def films(tmp_path, data, name, **keys):
    art = tmp_path / name
    art.write_bytes(data if isinstance(data, bytes) else data.encode())
    for folder in ("out", "scratch"):
        (tmp_path / folder).mkdir(exist_ok=True)
    request = JobRequest(
        art=art, name=name, profile=profile_of(**keys), ticket=None, mask=None,
        out=tmp_path / "out", scratch=tmp_path / "scratch", threads=1, job="",
    )  # fmt: skip
    return make_films(request).films


@pytest.mark.parametrize(
    ("keys", "inches", "expected"),
    [
        ({}, (2, 1), (round(56 / 25.4 * 300), round(28 / 25.4 * 300))),
        ({}, (1, 2), None),  # turned, and so as large as the one before
        ({"art": "{fit: width 25.4 mm}"}, (5, 10), (300, 600)),
        ({"art": "{fit: own}"}, (1.5, 1), (450, 300)),
        ({"art": "{fit: own}", "dpi": "300 x 600"}, (1.5, 1), (900, 600)),
    ],
)
def test_drawings_get_the_pixels_of_the_film(keys, inches, expected):
    found = sizing_of(profile_of(**keys))(*inches)
    if expected is None:
        upright = sizing_of(profile_of(**keys))(*inches[::-1])
        expected = upright.height_px, upright.width_px
    assert abs(found.width_px - expected[0]) <= 1 and abs(found.height_px - expected[1]) <= 1
    assert found.ppi == (600 if "dpi" in keys else 300)


def test_art_larger_than_the_sheet_is_refused_as_ever():
    with pytest.raises(Refused) as caught:
        sizing_of(profile_of(art="{fit: own}"))(10, 10)
    assert caught.value.reason is Reason.TOO_BIG


def test_a_drawing_lies_on_the_film_pixel_by_pixel(tmp_path):
    pytest.importorskip("resvg_py")
    (film,) = films(tmp_path, SVG, "a.svg")
    record = film.record
    assert record["treated"] == "line" and record["source"]["format"] == "SVG"
    assert record["art"]["ppi"] == 300
    assert (record["source"]["width_px"], record["source"]["height_px"]) == (660, 330)
    (path,) = film.files.values()
    with Image.open(path) as image:
        ink = int((~np.asarray(image)).sum())
    radius = 4 / 20 * 660
    assert ink == pytest.approx(np.pi * radius**2, rel=0.005)


def test_own_size_is_what_the_drawing_says(tmp_path):
    pytest.importorskip("resvg_py")
    (film,) = films(tmp_path, SVG, "a.svg", art="{fit: own}")
    assert film.record["art"]["width_mm"] == pytest.approx(20, abs=0.1)
    assert film.record["art"]["height_mm"] == pytest.approx(10, abs=0.1)


def test_every_page_of_a_document_is_a_film(tmp_path):
    pytest.importorskip("pypdfium2")
    pikepdf = pytest.importorskip("pikepdf")
    with pikepdf.new() as made:
        for x in (0, 40, 90):
            page = made.add_blank_page(page_size=(144, 72))
            page.Contents = made.make_stream(b"0 g %d 10 30 30 re f" % x)
        made.save(tmp_path / "made.pdf")
    data = (tmp_path / "made.pdf").read_bytes()
    found = films(tmp_path, data, "a.pdf")
    assert [film.suffix for film in found] == ["-p01", "-p02", "-p03"]
    assert all(film.record["treated"] == "line" for film in found)
    again = films(tmp_path, data, "a.pdf")
    assert [f.record["film"]["sha256"] for f in found] == [
        f.record["film"]["sha256"] for f in again
    ]


def test_nothing_of_the_addition_is_loaded_for_a_plain_job():
    code = (
        "import sys, filmhand.pipeline.finished\n"
        "extra = {'pypdfium2', 'resvg_py', 'pyvips', 'pillow_heif', 'filmhand.art.drawings.svg'}\n"
        "sys.exit(', '.join(sorted(extra & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_drawing_without_a_film_has_300_pixels_to_the_inch(tmp_path):
    pytest.importorskip("resvg_py")
    (tmp_path / "a.svg").write_text(SVG)
    limits = profile_of().limits
    art = open_art(tmp_path / "a.svg", name="a.svg", limits=limits, channel="luminance")
    assert art.ppi == pytest.approx((300, 300), abs=1) and art.width_px == round(20 / 25.4 * 300)

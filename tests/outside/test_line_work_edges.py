"""Edges of lettering in a screened picture, against Pillow's own lettering cut at one threshold."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage
from skimage import data

from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

pytestmark = pytest.mark.outside

PROFILE = """\
sheet: 4 x 5 in
dpi: 300
lpi: 35
dot: round
threshold: 50
mesh: none
margin: 0.1 in
angle: 22.5
art: {{treat: tone, fit: own, turn: never, detail: {detail}}}
tone: {{endpoints: off}}
marks: {{label: false, ruler: false, solid: false}}
film: {{mirror: {mirror}, negative: {negative}}}
write: png
"""


def lettered(side):
    """A photograph with lettering above it, on a white page of 600 x 900 at side 600."""
    page = Image.new("L", (side, side * 3 // 2), 255)
    picture = Image.fromarray(data.camera()).resize((side, side), Image.Resampling.LANCZOS)
    page.paste(picture, (0, side // 2))
    draw = ImageDraw.Draw(page)
    for line, (text, size) in enumerate((("Fair", 0.22), ("from ten to four", 0.09))):
        draw.text(
            (side * 0.05, side * (0.03 + 0.28 * line)),
            text,
            font=ImageFont.load_default(side * size),
            fill=0,
        )
    return page


def film_of(tmp_path, page, **wishes):
    art = tmp_path / "page.png"
    page.save(art, dpi=(150, 150))
    wishes = {"detail": "auto", "mirror": "no", "negative": "no"} | wishes
    profile = read_profile(PROFILE.format(**wishes), name="p", file="p.yaml")
    for folder in ("out", "scratch"):
        (tmp_path / folder).mkdir(exist_ok=True)
    request = JobRequest(
        art=art, name=art.name, profile=profile, out=tmp_path / "out", scratch=tmp_path / "scratch"
    )
    (film,) = make_films(request).films
    (path,) = film.files.values()
    with Image.open(path) as image:
        ink = ~np.asarray(image)
    return ink, film.record


def art_of(ink, page):
    """The part of the sheet that the art lies on: twice its pixels, in the middle."""
    height, width = 2 * page.height, 2 * page.width
    top, left = (ink.shape[0] - height) // 2, (ink.shape[1] - width) // 2
    return ink[top : top + height, left : left + width]


@pytest.fixture(scope="module")
def page():
    return lettered(400)


@pytest.fixture(scope="module")
def meant(page):
    """The lettering at twice the pixels, cut in the middle; and the rim of it."""
    half = page.resize((2 * page.width, 2 * page.height), Image.Resampling.LANCZOS)
    ink = np.asarray(half)[: page.width] < 188  # half the light (IEC 61966-2-1: code 188)
    rim = ndimage.binary_dilation(ink, iterations=4) & ~ndimage.binary_erosion(ink, iterations=4)
    return ink, rim


@pytest.mark.parametrize("wishes", [{}, {"mirror": "yes"}, {"negative": "yes"}], ids=str)
def test_lettering_keeps_its_edges(tmp_path, page, meant, wishes):
    ink, record = film_of(tmp_path, page, **wishes)
    if "mirror" in wishes:
        ink = ink[:, ::-1]
    got = art_of(ink, page)[: page.width]
    if "negative" in wishes:
        got = ~got
    letters, rim = meant
    # A pixel of the rim may fall either way; hardly any beyond it does.
    wrong = got != letters
    assert wrong[rim].mean() < 0.08
    assert wrong[~rim & ndimage.binary_dilation(letters, iterations=9)].mean() < 0.002
    assert any("keeps its edges" in note for note in record["notes"])


def test_without_it_the_edges_break_into_dots(tmp_path, page, meant):
    ink, record = film_of(tmp_path, page, detail="off")
    letters, rim = meant
    wrong = art_of(ink, page)[: page.width] != letters
    assert wrong[rim].mean() > 0.08
    assert not any("keeps its edges" in note for note in record["notes"])


def test_the_photograph_is_screened_the_same_with_it(tmp_path, page):
    with_it, _ = film_of(tmp_path, page)
    without, _ = film_of(tmp_path, page, detail="off")
    photo = slice(page.width + 40, None)
    same = art_of(with_it, page)[photo] == art_of(without, page)[photo]
    assert same.mean() > 0.9995

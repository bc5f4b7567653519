"""A page of text and a picture: dots for the picture, strokes for the text, no box between them."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from test_drawing_size import films

from filmhand.art.analysis.classify import classify, read_mixed

PICTURE = (120, 420, 520, 760)  # left, top, right, bottom
LINES = tuple(range(60, 400, 36)) + tuple(range(800, 1140, 36))


def page(*, picture=True, paper=255, seed=5):
    """(H, W) uint8: text above and below a soft picture, on paper of one code with some noise."""
    image = Image.new("L", (900, 1200), 255)
    pen, font = ImageDraw.Draw(image), ImageFont.load_default(28)
    for top in LINES:
        pen.text((70, top), "a film for every color, dots or strokes, as art asks", 0, font=font)
    if picture:
        left, top, right, bottom = PICTURE
        y, x = np.mgrid[top:bottom, left:right]
        tone = 0.55 + 0.25 * np.sin(x / 37) * np.cos(y / 29) + 0.1 * np.sin(x * y / 900)
        image.paste(Image.fromarray((255 * tone).astype(np.uint8)), (left, top))
    gray = 30 + (paper - 30) * np.asarray(image).astype(float) / 255
    if paper < 255:
        gray += np.random.default_rng(seed).normal(0, 2.0, gray.shape)
    return np.clip(np.round(gray), 0, 255).astype(np.uint8)


def png(gray):
    data = io.BytesIO()
    Image.fromarray(gray).save(data, "PNG")
    return data.getvalue()


def film_of(tmp_path, gray, **keys):
    (film,) = films(tmp_path, png(gray), "page.png", dpi=300, sheet="90 x 115 mm", **keys)
    (path,) = film.files.values()
    with Image.open(path) as image:
        return np.asarray(image.convert("L")) < 128, film.record


def on_film(bits, gray, box):
    """The part of a film that shows a box of the art, which fills the page upright."""
    scale = (bits.shape[0] - 2 * 24) / gray.shape[0]
    left = (bits.shape[1] - scale * gray.shape[1]) / 2
    x0, y0, x1, y1 = (round(scale * v) for v in box)
    return bits[24 + y0 : 24 + y1, round(left) + x0 : round(left) + x1]


@pytest.mark.parametrize("paper", [255, 215])
def test_text_is_cut_and_the_picture_is_screened(tmp_path, paper):
    gray = page(paper=paper)
    mixed, record = film_of(tmp_path, gray)
    assert record["treated"] == "mixed" and record["art"]["kind"] == "mixed"
    names = [check["name"] for check in record["checks"]]
    assert {"smallest dot", "smallest shadow dot", "narrowest stroke", "narrowest gap"} <= set(
        names
    )
    assert record["screen"] is not None
    line, record = film_of(tmp_path, page(picture=False, paper=paper), art="{treat: line}")
    assert record["treated"] == "line" and record["art"]["kind"] is None
    above = (0, 0, 900, 390)
    text, as_line = on_film(mixed, gray, above), on_film(line, gray, above)
    assert text.any() and (text != as_line).mean() < 0.003
    # Around the picture the film is bare, to where the text begins.
    left, top, right, bottom = PICTURE
    assert not on_film(mixed, gray, (right + 4, top - 2, right + 200, bottom + 2)).any()
    assert not on_film(mixed, gray, (left - 60, top - 2, left - 4, bottom + 2)).any()
    dots = on_film(mixed, gray, (left + 4, top + 4, right - 4, bottom - 4))
    assert 0.3 < dots.mean() < 0.9
    # Dots: ink and bare film change places many times on every row.
    assert np.median((dots[:, 1:] != dots[:, :-1]).sum(axis=1)) > 20


def test_mixed_without_pictures_is_screened_and_says_so(tmp_path):
    _, record = film_of(tmp_path, page(picture=False), art="{treat: mixed}")
    assert record["treated"] == "tone"
    assert any("No pictures were found" in note for note in record["notes"])


def test_a_negative_is_the_film_turned_over_in_tone(tmp_path):
    gray = page()
    plain, _ = film_of(tmp_path, gray)
    turned, record = film_of(tmp_path, gray, film="{negative: true}")
    assert record["treated"] == "mixed"
    above = (60, 60, 840, 380)
    same = on_film(plain, gray, above) == ~on_film(turned, gray, above)
    assert same.mean() > 0.997


def test_mirrored_and_turned_the_parts_go_along(tmp_path):
    gray = page()
    plain, _ = film_of(tmp_path, gray)
    mirrored, _ = film_of(tmp_path, gray, film="{mirror: true}")
    above = (60, 60, 840, 380)
    same = on_film(plain, gray, above) == on_film(mirrored[:, ::-1], gray, above)
    assert same.mean() > 0.995
    # Lying, it is turned to print as large; a quarter clockwise brings it back.
    turned, record = film_of(tmp_path, np.rot90(gray, -1))
    assert record["treated"] == "mixed" and record["art"]["turned"] == 90
    assert (on_film(plain, gray, above) == on_film(turned, gray, above)).mean() > 0.995


def test_regions_hug_the_picture():
    codes = page(paper=215).astype(np.uint16) * 257
    reading = classify(codes)
    assert reading.regions is not None
    regions = reading.regions
    rows = regions.enlarged(regions.inner, slice(0, codes.shape[0]), codes.shape[1])
    truth = np.zeros(codes.shape, bool)
    left, top, right, bottom = PICTURE
    truth[top:bottom, left:right] = True
    assert rows[truth].all() and truth.sum() / rows.sum() > 0.96
    assert read_mixed(page(picture=False).astype(np.uint16) * 257) is None

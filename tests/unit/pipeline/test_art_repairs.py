"""Repairs and clearing through whole jobs: what is done, what is told, and that each can be off."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.art.analysis import classify
from filmhand.art.repair.descreen import find_earlier_screen
from filmhand.errors import Reason, Refused
from filmhand.pipeline import finished
from filmhand.pipeline.make import make_films
from filmhand.pipeline.render import art_repairs
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

PROFILE = """\
sheet: 4 x 4 in
dpi: 300
threshold: 50
lpi: 30
dot: round
mesh: none
margin: 0.1 in
write: tiff
"""
OFF = "repair: {light: off, paper: off, faded: off, blocks: off, skew: off, screened: off}\n"


def record_of(art, folder, more="", *, mask=None, run=None):
    out, scratch = folder / "out", folder / "scratch"
    out.mkdir(exist_ok=True)
    scratch.mkdir(exist_ok=True)
    profile = read_profile(PROFILE + more, name="test", file="test.yaml")
    request = JobRequest(art, art.name, profile, out, scratch, mask=mask)
    (film,) = make_films(request).films
    return film.record


def names(record):
    return [repair["name"] for repair in record["repaired"]]


def saved(gray, path, **how):
    Image.fromarray((np.clip(gray, 0, 1) * 255).round().astype(np.uint8)).save(path, **how)
    return path


def clouds(size=400):
    y, x = np.mgrid[0:size, 0:size] / size
    return 0.5 + 0.2 * np.sin(5 * x + 3 * y * y) + 0.15 * np.cos(9 * y - 2 * x)


def lines_of_text(*, shade=True):
    """A crooked page on dim paper in uneven light."""
    image = Image.new("L", (900, 700), 255)
    pen = ImageDraw.Draw(image)
    rng = np.random.default_rng(4)
    for top in range(90, 610, 30):
        x = 90
        while x < 780:
            width = int(rng.integers(10, 40))
            pen.rectangle((x, top, x + width, top + 9), 0)
            x += width + int(rng.integers(6, 14))
    page = np.asarray(image.rotate(2, Image.Resampling.BICUBIC, fillcolor=255)) / 255
    light = np.linspace(0.85, 0.6, 900) if shade else 1.0
    return (0.15 + 0.7 * page) * light + 0.01 * rng.standard_normal(page.shape)


def test_jpeg_squares(tmp_path):
    art = saved(clouds(), tmp_path / "art.jpg", quality=12)
    record = record_of(art, tmp_path)
    assert names(record) == ["blocks"]
    assert any("squares of strong JPEG" in note for note in record["notes"])
    assert names(record_of(art, tmp_path, "repair: {blocks: off}\n")) == []
    fine = saved(clouds(), tmp_path / "fine.jpg", quality=90)
    assert names(record_of(fine, tmp_path)) == []


def screened(tmp_path):
    y, x = np.mgrid[0:500, 0:500]
    dots = 0.25 * (np.cos(2 * np.pi * (x + y) / 5.6) + np.cos(2 * np.pi * (x - y) / 5.6))
    return saved(clouds(500) + dots, tmp_path / "print.png")


def test_dots_are_looked_for_once_unless_the_picture_changes(tmp_path, monkeypatch):
    looked = []

    def found(coded):
        looked.append(coded.shape)
        return find_earlier_screen(coded)

    monkeypatch.setattr(art_repairs, "find_earlier_screen", found)
    monkeypatch.setattr(classify, "find_earlier_screen", found)
    art = saved(clouds(), tmp_path / "clouds.png")
    record_of(art, tmp_path)
    assert looked == [(400, 400)]
    record_of(art, tmp_path, "art: {crop: {right: 10 %}}\n")
    assert looked[1:] == [(400, 400), (400, 360)]
    del looked[:]
    record_of(screened(tmp_path), tmp_path)
    assert len(looked) == 2  # what is left without the dots is another picture


def test_screened_art_is_descreened_refused_or_let_be(tmp_path):
    art = screened(tmp_path)
    record = record_of(art, tmp_path)
    assert names(record) == ["screened"]
    (found,) = record["repaired"]
    assert found["found"] == pytest.approx(5.6 / np.sqrt(2), rel=0.02)
    assert found["unit"] == "pixels a dot"
    assert names(record_of(art, tmp_path, "repair: {screened: off}\n")) == []
    assert names(record_of(art, tmp_path, "art: {treat: line}\n")) == []
    with pytest.raises(Refused) as refused:
        record_of(art, tmp_path, "repair: {screened: refuse}\n")
    assert refused.value.reason is Reason.MOIRE
    assert "screened before" in refused.value.say and "descreen" in refused.value.do


def test_crooked_pages_on_uneven_paper(tmp_path):
    art = saved(lines_of_text(), tmp_path / "page.png")
    record = record_of(art, tmp_path)
    assert record["treated"] == "line"
    assert names(record)[:2] == ["skew", "light"]
    assert record["repaired"][0]["found"] == pytest.approx(2, abs=0.1)
    off = record_of(art, tmp_path, OFF + "art: {treat: line}\n")
    assert names(off) == []
    assert not any("straightened" in note or "evened" in note for note in off["notes"])
    assert names(record_of(art, tmp_path, "repair: {skew: off, paper: off}\n"))[0] == "light"


def test_masked_art_is_not_turned(tmp_path):
    art = saved(lines_of_text(), tmp_path / "page.png")
    white = saved(np.ones((70, 90)), tmp_path / "mask.png")
    record = record_of(art, tmp_path, mask=white)
    assert "skew" not in names(record)
    assert any("a mask lies over it" in note for note in record["notes"])


def cut_out():
    """A figure with a haze around it and three specks far from it."""
    art = np.full((600, 600), 0.97)
    art[150:350, 150:350] = np.linspace(0.2, 0.8, 200)
    for y, x in ((520, 520), (60, 500), (540, 80)):
        art[y : y + 3, x : x + 3] = 0.1
    return art


@pytest.mark.parametrize("treat", ["tone", "line"])
def test_clear_takes_islands_away_and_the_proof_is_told(tmp_path, monkeypatch, treat):
    told = {}
    real = finished.write_proof

    def proof(*args, **more):
        told.update(more)
        real(*args, **more)

    monkeypatch.setattr(finished, "write_proof", proof)
    art = saved(cut_out(), tmp_path / "cut.png")
    more = f"art: {{treat: {treat}}}\ntone: {{dropout: 8, endpoints: off}}\n"
    record = record_of(art, tmp_path, more)
    assert record["cleared"]["islands"] == 3 and len(told["cleared"]) == 3
    assert any("3 small islands" in note for note in record["notes"])
    if treat == "tone":
        ((_, floor),) = told["bared"]
        assert record["cleared"]["floor_pct"] == pytest.approx(100 * floor.mean(), abs=0.1)
        assert record["cleared"]["floor_pct"] > 80
    else:  # the threshold lies far above the floor
        assert not told["bared"] and record["cleared"]["floor_pct"] == 0
    kept = record_of(art, tmp_path, f"art: {{treat: {treat}}}\ntone: {{endpoints: off}}\n")
    assert kept["cleared"] == {"islands": 0, "floor_pct": 0.0, "mask_pct": 0.0}


def test_what_the_mask_keeps_bare_is_told(tmp_path):
    art = saved(clouds(), tmp_path / "art.png")
    mask = np.ones((100, 100))
    mask[:, :25] = 0
    record = record_of(art, tmp_path, mask=saved(mask, tmp_path / "mask.png"))
    assert record["cleared"]["mask_pct"] == pytest.approx(25, abs=1)

"""How art is treated is decided by what would come of it, on art whose answer anybody can see."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from test_drawing_size import films

from filmhand.art.analysis.classify import ArtKind, Reading
from filmhand.pipeline.render import treatment

SIDE = 1400


def picture(ground="white"):
    image = Image.new("RGB", (2 * SIDE, 2 * SIDE), ground)
    return image, ImageDraw.Draw(image)


def logo(pen, ink, hole="white"):
    pen.ellipse((200, 200, 1500, 1500), fill=ink)
    pen.ellipse((600, 600, 1100, 1100), fill=hole)
    pen.text((250, 1700), "FERN & OAK", ink, font=ImageFont.load_default(300))


def made(tmp_path, image, **keys):
    """The only film of a picture, made at half its size, and its record."""
    data = io.BytesIO()
    image.resize((SIDE, SIDE), Image.Resampling.LANCZOS).save(data, "PNG")
    wishes = {"dpi": 300, "sheet": "140 x 150 mm"} | keys
    (film,) = films(tmp_path, data.getvalue(), "art.png", **wishes)
    (path,) = film.files.values()
    with Image.open(path) as opened:
        bits = np.asarray(opened.convert("L")) < 128
    return bits, film.record


@pytest.mark.parametrize("ink", ["#ff0000", "#ffff00", "#2a8a3a", "#f0f0f0", "black"])
def test_flat_art_in_one_ink_is_line_art_whatever_its_lightness(tmp_path, ink) -> None:
    image, pen = picture()
    logo(pen, ink)
    bits, record = made(tmp_path, image)
    black, pen = picture()
    logo(pen, "black")
    wanted, _ = made(tmp_path, black)
    assert record["treated"] == "line"
    # The edges are those of the same art in black, but for averaging light and not codes.
    assert np.count_nonzero(bits != wanted) < 0.006 * np.count_nonzero(wanted)
    found = record["likeness"]
    assert found["correlation"] > 0.99 and not found["gone"] and found["lost_pct"] < 2
    brought = [one for one in record["repaired"] if one["name"] == "faded"]
    assert bool(brought) == (ink != "black")


def test_pale_curves_of_a_chart_are_not_dropped(tmp_path) -> None:
    image, pen = picture()
    x = np.linspace(200, 2600, 200)
    for number, color in enumerate(("black", "#a0c8ff", "#ffd0a0")):
        curve = zip(x, 1400 + 900 * np.sin(x / 300 + number), strict=True)
        pen.line([point for pair in curve for point in pair], color, 14)
    _, record = made(tmp_path, image)
    assert record["treated"] == "tone" and not record["likeness"]["gone"]
    _, cut = made(tmp_path, image, art={"treat": "line"})
    assert len(cut["likeness"]["gone"]) >= 2
    assert any("do not show on the film" in note for note in cut["notes"])
    assert cut["likeness"]["lost_pct"] > record["likeness"]["lost_pct"]


def test_a_smooth_gradient_is_no_paper(tmp_path) -> None:
    ramp = np.linspace(120, 240, 2 * SIDE)[:, None] * np.ones((1, 2 * SIDE))
    image = Image.fromarray(ramp.astype(np.uint8)).convert("RGB")
    ImageDraw.Draw(image).ellipse((500, 500, 1400, 1400), fill=(60, 60, 60))
    _, record = made(tmp_path, image)
    assert record["treated"] == "tone" and record["likeness"]["paper_pct"] == 0
    assert record["likeness"]["lost_pct"] < 5


def test_a_ground_as_blue_as_water_is_no_paper(tmp_path) -> None:
    noise = np.random.default_rng(3).normal(0, 6, (2 * SIDE, 2 * SIDE, 1))
    water = np.clip(np.array((70, 120, 190)) + noise, 0, 255).astype(np.uint8)
    image = Image.fromarray(water)
    ImageDraw.Draw(image).ellipse((900, 1100, 1500, 1300), fill=(40, 30, 30))
    _, record = made(tmp_path, image)
    assert record["treated"] == "tone" and record["likeness"]["paper_pct"] == 0


def test_the_colors_of_flat_art_are_told_with_what_becomes_of_them(tmp_path) -> None:
    image, pen = picture()
    logo(pen, "#ff0000")
    pen.rectangle((1600, 400, 2500, 1200), fill="black")
    _, record = made(tmp_path, image)
    (told,) = [note for note in record["notes"] if "2 colors" in note]
    assert "as one ink: solid on " in told and " and dots of 50 % on " in told
    assert record["reminders"] == [told]


def test_what_is_gone_stands_on_the_label_and_the_proof(tmp_path) -> None:
    image, pen = picture()
    logo(pen, "black")
    plain = made(tmp_path, image, art={"treat": "line"})[1]
    pen.rectangle((1700, 400, 2500, 1200), fill="#c8c8c8")
    _, record = made(tmp_path, image, art={"treat": "line"})
    (box,) = record["likeness"]["gone"]
    assert box["width_mm"] == pytest.approx(box["height_mm"], rel=0.1)
    assert not plain["likeness"]["gone"]


def test_art_that_states_another_size_is_told_once(tmp_path) -> None:
    image, pen = picture()
    logo(pen, "black")
    data = io.BytesIO()
    image.resize((SIDE, SIDE)).save(data, "PNG", dpi=(1400 / 50 * 25.4, 1400 / 50 * 25.4))
    for fit, told in (("page", 1), ("own", 0), ("width 100 mm", 0)):
        wishes = {"dpi": 300, "sheet": "140 x 150 mm", "art": {"fit": fit}}
        (film,) = films(tmp_path, data.getvalue(), "art.png", **wishes)
        notes = [note for note in film.record["notes"] if "states a longer side of 50 mm" in note]
        assert len(notes) == told, fit


@pytest.mark.parametrize(
    ("tint", "left", "treated"),
    [
        ("#ebebeb", 400, "tone"),  # tone 8 % on most of the art
        ("#ebebeb", 2600, "line"),
        ("white", 400, "line"),
    ],
)
def test_even_rules_on_a_second_tint_are_a_chart(tmp_path, monkeypatch, tint, left, treated):
    def ruled(coded, *, drawn, screenless):
        return Reading(ArtKind.SIGNATURE, "line", ["It looks like writing on ruled paper."])

    monkeypatch.setattr(treatment, "classify", ruled)
    image, pen = picture()
    pen.rectangle((left, 40, 2760, 2760), fill=tint)
    for at in range(150, 2700, 150):
        pen.line((0, at, 2 * SIDE, at), "black", 14)
    _, record = made(tmp_path, image)
    assert record["treated"] == treated


def test_a_light_shape_that_line_art_fills_is_told(tmp_path) -> None:
    image, pen = picture()
    logo(pen, "black")
    pen.rectangle((300, 2100, 2400, 2700), fill="black")
    _, plain = made(tmp_path, image, art={"treat": "line"})
    assert not plain["likeness"]["filled"]
    pen.text((400, 2200), "TONE", "#585858", font=ImageFont.load_default(400))
    _, auto = made(tmp_path, image)
    assert auto["treated"] == "tone" and not auto["likeness"]["filled"]
    _, cut = made(tmp_path, image, art={"treat": "line"})
    assert len(cut["likeness"]["filled"]) >= 3 and not cut["likeness"]["gone"]
    assert any("light shapes in the art's ink do not show" in note for note in cut["notes"])

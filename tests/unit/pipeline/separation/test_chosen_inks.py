"""How art becomes inks where nothing is said: by what was drawn, and not by how it was saved."""

from __future__ import annotations

import io

import numpy as np
import pytest
import skimage.data
from PIL import Image, ImageDraw, ImageFilter

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.flat_colors import flat_colors, share_flats
from filmhand.pipeline.separation.chosen_inks import chosen_inks, is_drawn
from filmhand.pipeline.separation.planning.set_plan import SeparationMode
from filmhand.profile.read.load import load_profile

RED, GREEN, BLUE, BLACK = (200, 32, 40), (20, 140, 70), (29, 63, 156), (16, 16, 16)
PROFILE = """
sheet: 8 x 8 in
dpi: 300
lpi: 30
mesh: 77-55
margin: 0.25 in
dot: ellipse
threshold: 50
inks: [INKS]
"""


@pytest.fixture
def decided(tmp_path):
    """Gives the set of a picture in some inks."""

    def decide(picture, *inks):
        listed = ", ".join(
            f'{{name: i{k}, color: "#%02x%02x%02x"}}' % c for k, c in enumerate(inks)
        )
        path = tmp_path / "p.yaml"
        path.write_text(PROFILE.replace("INKS", listed))
        codes = np.asarray(picture.convert("RGB")).astype(np.uint16) * 257
        return chosen_inks(codes, load_profile(path)), codes

    return decide


def logo(side=240, paper=(255, 255, 255)):
    """A ring, a triangle and a bar with letters, with soft edges."""
    whole = side * 4
    picture = Image.new("RGB", (whole, whole), paper)
    draw = ImageDraw.Draw(picture)

    def box(*parts):
        return [whole * part for part in parts]

    draw.ellipse(box(0.08, 0.08, 0.92, 0.92), fill=RED)
    draw.ellipse(box(0.2, 0.2, 0.8, 0.8), fill=paper)
    draw.polygon(box(0.5, 0.22, 0.72, 0.7, 0.28, 0.7), fill=BLUE)
    draw.rectangle(box(0.1, 0.44, 0.9, 0.56), fill=GREEN)
    for k in range(12):  # as fine as letters are
        draw.line(box(0.15 + k * 0.06, 0.46, 0.18 + k * 0.06, 0.54), fill=paper, width=whole // 80)
    return picture.resize((side, side), Image.Resampling.LANCZOS)


def as_jpeg(picture, quality):
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=quality)
    return Image.open(file)


def scanned():
    """Paper that is not quite white, a soft lens, and noise."""
    soft = np.asarray(logo(360, (250, 249, 245)).filter(ImageFilter.GaussianBlur(1)), float)
    noisy = soft + np.random.default_rng(1).normal(0, 5, soft.shape)
    return Image.fromarray(np.clip(np.rint(noisy), 0, 255).astype(np.uint8))


def with_shadow():
    drawn = logo()
    mask = drawn.convert("L").point(lambda code: 110 if code < 250 else 0)
    soft = Image.new("L", mask.size)
    soft.paste(mask, (5, 5))
    ground = Image.composite(
        Image.new("RGB", mask.size), Image.new("RGB", mask.size, "white"),
        soft.filter(ImageFilter.GaussianBlur(5)),
    )  # fmt: skip
    ground.paste(drawn, mask=mask.point(lambda code: 255 if code else 0))
    return ground


@pytest.mark.parametrize(
    ("picture", "inks"),
    [
        (logo, (RED, GREEN, BLUE)),
        (lambda: as_jpeg(logo(160), 55), (RED, GREEN, BLUE)),
        (lambda: as_jpeg(logo(360), 30), (RED, GREEN, BLUE)),
        (scanned, (RED, GREEN, BLUE)),
        (lambda: as_jpeg(with_shadow(), 75), (RED, GREEN, BLUE, BLACK)),
    ],
    ids=["soft edges", "JPEG 55", "JPEG 30", "scan", "shadow"],
)
def test_drawings_are_spot_however_they_were_saved(decided, picture, inks):
    chosen, codes = decided(picture(), *inks)
    assert chosen.mode is SeparationMode.SPOT
    assert chosen.flats.unreached_pixels < 0.01 * codes.shape[0] * codes.shape[1]


def test_colors_that_are_none_of_the_inks_are_mixed_though_edges_are_not_counted(decided):
    y, x = np.mgrid[:240, :240] / 240
    clouds = np.stack([x, y, (np.sin(9 * x * y) + 1) / 2], axis=-1)
    photograph = Image.fromarray((40 + 180 * clouds).astype(np.uint8))
    photograph.paste(logo(120), (120, 120))
    chosen, _ = decided(as_jpeg(photograph, 75), RED, GREEN, BLUE)
    assert chosen.mode is SeparationMode.PROCESS


@pytest.mark.parametrize("width", [1, 2])
def test_thin_lines_of_another_color_are_told_and_noise_is_not(width):
    codes = np.full((60, 60, 3), 255, np.uint8)
    codes[30:] = RED
    codes[10 : 10 + width, 5:55] = (240, 150, 20)
    inks = srgb_to_lab(np.array([RED]) / 255)
    cloth = srgb_to_lab(np.array([1.0, 1, 1]))
    found = share_flats(codes, flat_colors(codes, inks, cloth))
    assert found.unreached_pixels == 50 * width
    codes[10 : 10 + width] = 255
    codes[29, 5:55:3] = (250, 225, 200)  # beside an edge, and not far off
    assert share_flats(codes, flat_colors(codes, inks, cloth)).unreached_pixels == 0


@pytest.mark.parametrize(
    ("picture", "drawn"),
    [("astronaut", False), ("coffee", False), ("rocket", False), ("logo", True), ("horse", True)],
)
def test_drawings_are_told_from_photographs(picture, drawn):
    art = np.asarray(Image.fromarray(getattr(skimage.data, picture)()).convert("RGB"))
    assert is_drawn(art.astype(np.uint16) * 257) is drawn

"""Fades of flat art keep the tones that were drawn, and nothing else is taken for one."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.flat_colors import flat_colors
from filmhand.pipeline.make import make_films
from filmhand.pipeline.separation.geometry.fades import fades_of
from filmhand.pipeline.separation.geometry.flat_regions import regions_of_flats
from filmhand.pipeline.separation.planning.set_plan import (
    ListedInk,
    SeparationMode,
    WantedSet,
    plan_set,
)
from filmhand.pipeline.separation.separated_art import separated_art
from filmhand.profile.read.load import load_profile
from filmhand.request import JobRequest
from filmhand.units import PixelsPerInch

BLUE, YELLOW, RED, WHITE = (29, 63, 156), (242, 194, 0), (179, 38, 30), (255, 255, 255)
FULL = 65535


def lab(color):
    return srgb_to_lab(np.array(color) / 255)


def drawn(share, ink, ground=WHITE):
    """(H, W, 3) uint8: codes that are mixed as drawing programs do."""
    share = np.asarray(share)[..., None]
    return np.rint(share * np.array(ink) + (1 - share) * np.array(ground)).astype(np.uint8)


def saved(codes, quality):
    if quality is None:
        return codes
    file = io.BytesIO()
    Image.fromarray(codes).save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file))


def tones_of(codes, *inks, cloth=WHITE):
    """(n, H, W) 0..1, the tone of each film, a device pixel for each of the art."""
    listed = tuple(ListedInk(f"i{k}", tuple(lab(ink))) for k, ink in enumerate(inks))
    wanted = WantedSet(
        ("", 0), "", SeparationMode.SPOT, listed, cloth=tuple(float(x) for x in lab(cloth))
    )
    size = codes.shape[1], codes.shape[0]
    found = separated_art(
        codes.astype(np.uint16) * 257, wanted, plan_set(wanted), size, PixelsPerInch(300, 300)
    )
    return found.source.tones(0, size[1]) / FULL


def known(codes, *inks, in_art=True):
    colors = flat_colors(codes, lab(inks), lab(WHITE))
    return colors if in_art else replace(colors, found=lab_to_srgb(colors.palette))


def slope(width, flat=30, height=40):
    """A solid, a fade of so many pixels, and bare cloth."""
    line = np.concatenate([np.ones(flat), np.linspace(1, 0, width), np.zeros(flat)])
    return np.tile(line, (height, 1))


def in_bands(plane, count=20):
    return np.array([band.mean() for band in np.array_split(plane, count, axis=1)])


@pytest.mark.parametrize("quality", [None, 90, 55])
@pytest.mark.parametrize(
    ("ink", "width"), [(BLUE, 90), (BLUE, 1800), (YELLOW, 90), (YELLOW, 1800), (RED, 300)]
)
def test_a_fade_to_the_cloth_has_the_tones_that_were_drawn(ink, width, quality):
    share = slope(width)
    tones = in_bands(tones_of(saved(drawn(share, ink), quality), ink)[0])
    assert np.abs(tones - in_bands(share)).max() < 0.02
    assert np.diff(tones).max() < 0.005


def test_a_fade_on_dark_cloth_and_one_around_a_point():
    y, x = np.mgrid[:160, :160]
    share = np.clip(1 - np.hypot(x - 80, y - 80) / 75, 0, 1)
    for ink, cloth in ((YELLOW, WHITE), (WHITE, (20, 20, 20))):
        tones = tones_of(drawn(share, ink, cloth), ink, cloth=cloth)[0]
        assert np.abs(tones - share).max() < 0.03


def test_a_fade_is_of_one_ink_though_it_passes_the_color_of_another():
    share = slope(200)
    pink = tuple(drawn([[0.5]], RED)[0, 0].tolist())
    tones = tones_of(drawn(share, RED), pink, RED)
    assert not tones[0].any()
    assert np.abs(tones[1] - share).max() < 0.02


def test_a_letter_on_a_fade_has_no_rim_of_solid():
    share = np.tile(np.linspace(1, 0, 160)[:, None], (1, 80))
    share[4:14, 30:36] = share[140:150, 40:42] = 0
    tones = tones_of(drawn(share, BLUE), BLUE)[0]
    assert np.abs(tones - share).max() < 0.04


def test_art_that_is_a_little_off_its_ink_fades_from_its_own_solid():
    own = (36, 70, 150)
    assert np.linalg.norm(lab(own) - lab(BLUE)) > 1
    share = slope(120, flat=60)
    tones = tones_of(drawn(share, own), BLUE)[0]
    assert np.abs(in_bands(tones) - in_bands(share)).max() < 0.02


@pytest.mark.parametrize("strip_pixels", [300 * 10, 300 * 33])
def test_strips_do_not_matter(strip_pixels):
    codes = saved(drawn(slope(240).T, BLUE), 75)
    colors = known(codes, BLUE)
    fades = fades_of(codes, colors)
    whole = regions_of_flats(codes, colors, fades=fades).regions
    parts = regions_of_flats(codes, colors, fades=fades, strip_pixels=strip_pixels).regions
    assert (parts.areas == whole.areas).all()
    assert (parts.tones[0] == whole.tones[0]).all()


def logo(side):
    """A disk in a ring, a square, spokes as fine as letters, and two flat tints."""
    art = Image.new("RGB", (side * 2, side * 2), "white")
    draw = ImageDraw.Draw(art)

    def at(*parts):
        return [2 * side * part for part in parts]

    draw.ellipse(at(0.12, 0.12, 0.88, 0.88), fill=RED)
    draw.ellipse(at(0.25, 0.25, 0.75, 0.75), fill=YELLOW)
    draw.rectangle(at(0.31, 0.47, 0.94, 0.97), fill=BLUE)
    draw.rectangle(at(0.02, 0.8, 0.2, 0.97), fill=tuple(drawn([[0.25]], BLUE)[0, 0].tolist()))
    draw.rectangle(at(0.2, 0.8, 0.3, 0.97), fill=tuple(drawn([[0.85]], BLUE)[0, 0].tolist()))
    for k in range(8):
        draw.line(at(0.4 + k * 0.05, 0.5, 0.43 + k * 0.06, 0.9), fill="white", width=side // 60)
    return art.resize((side, side), Image.Resampling.LANCZOS)


def scanned(art, blur):
    soft = np.asarray(art.filter(ImageFilter.GaussianBlur(blur)), float)
    noise = np.random.default_rng(1).normal(0, 5, soft.shape)
    return np.clip(np.rint(soft + noise), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    "codes",
    [
        lambda: np.asarray(logo(401)),
        lambda: saved(np.asarray(logo(400)), 30),
        lambda: saved(np.asarray(logo(640)), 55),
        lambda: saved(np.asarray(logo(640)), 85),
        lambda: scanned(logo(400), 1),
        lambda: saved(scanned(logo(400), 2), 75),
    ],
    ids=["plain", "JPEG 30", "JPEG 55", "JPEG 85", "scan", "soft scan as JPEG"],
)
def test_flat_art_has_no_fades(codes):
    codes = codes()
    assert fades_of(codes, known(codes, RED, YELLOW, BLUE)) is None
    assert fades_of(codes, known(codes, RED, YELLOW, BLUE, in_art=False)) is None


def test_paper_that_darkens_to_a_side_stays_bare():
    share = np.tile(np.linspace(0, 0.09, 300), (200, 1))
    share[60:120, 80:200] = 1
    codes = drawn(share, (16, 16, 16))
    assert fades_of(codes, known(codes, (16, 16, 16))) is None


PROFILE = """
sheet: 4 x 2 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 120-34
margin: 0.1 in
marks: {label: false, ruler: false, solid: false, register: false}
write: png
separate: spot
inks: [{name: blue, color: "#1d3f9c"}]
"""


@pytest.mark.parametrize("quality", [None, 60])
def test_the_film_of_a_fade_has_its_coverage(tmp_path, quality):
    share = slope(600, flat=90, height=320)
    art = tmp_path / ("art.png" if quality is None else "art.jpg")
    Image.fromarray(drawn(share, BLUE)).save(art, quality=quality or 75)
    (tmp_path / "p.yaml").write_text(PROFILE)
    for name in ("out", "scratch"):
        (tmp_path / name).mkdir()
    make_films(
        JobRequest(
            art=art, name=art.name, profile=load_profile(tmp_path / "p.yaml"),
            out=tmp_path / "out", scratch=tmp_path / "scratch", threads=1,
        )
    )  # fmt: skip
    (film,) = (tmp_path / "out").rglob("*blue.png")
    ink = ~np.asarray(Image.open(film).convert("1"))
    # The art is as wide as the sheet within its margins, and begins with a solid.
    rows, left = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))[0]
    width = ink.shape[1] - 2 * left
    art_of_film = ink[rows[0] : rows[-1] + 1, left : left + width]
    found, wanted = in_bands(art_of_film, 26), in_bands(share, 26)
    assert np.abs(found - wanted).max() < 0.02
    assert np.diff(found).max() < 0.005

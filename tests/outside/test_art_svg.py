"""SVG drawings as art, against another renderer (CairoSVG) and against the arithmetic of areas."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand.art.analysis.tone_or_line import tone_or_line
from filmhand.art.drawings.vector import FilmSize
from filmhand.art.files.open_art import Art, open_art

pytest.importorskip("resvg_py")
pytestmark = pytest.mark.outside
LIMITS: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'
SHAPES = """<defs><linearGradient id="g"><stop offset="0" stop-color="#000"/>
<stop offset="1" stop-color="#fff"/></linearGradient><clipPath id="c">
<circle cx="70" cy="70" r="20"/></clipPath>
<style>.k{fill:#1a3c8f}</style></defs><rect x="5" y="5" width="40" height="30"/>
<circle class="k" cx="70" cy="20" r="15"/><rect x="5" y="45" width="40" height="50" fill="url(#g)"/>
<rect x="50" y="50" width="45" height="45" fill="#c33" clip-path="url(#c)"/>
<path d="M5 97 C 30 60 60 99 97 45" fill="none" stroke="#000" stroke-width="1.5"/>"""


def drawing(path: Path, body: str, size: str = 'viewBox="0 0 100 100"') -> Path:
    path.write_text(HEAD.format(size=size, body=body), encoding="utf-8")
    return path


def read(path: Path, channel: Any = "luminance", **more: Any) -> Art:
    return open_art(path, name=path.name, limits=LIMITS, channel=channel, **more)


def test_a_drawing_is_what_another_renderer_draws(tmp_path: Path) -> None:
    cairosvg = pytest.importorskip("cairosvg", exc_type=(ImportError, OSError))
    path = drawing(tmp_path / "a.svg", SHAPES)
    art = read(path, sizing=lambda w, h: FilmSize(500, 500, 500.0))
    packed = cairosvg.svg2png(
        bytestring=path.read_bytes(), output_width=500, output_height=500, background_color="#fff"
    )
    Image.open(BytesIO(packed)).convert("RGB").save(tmp_path / "b.png")
    other = read(tmp_path / "b.png").coded.astype(float)
    assert art.coded.shape == other.shape == (500, 500)
    apart = np.abs(art.coded - other) / 65535
    assert (apart > 0.02).mean() < 0.01
    assert apart.mean() < 0.002


@pytest.mark.parametrize(
    ("size", "inches"),
    [
        ('width="8in" height="4in"', (8, 4)),
        ('width="50.8mm" height="2.54cm"', (2, 1)),
        ('width="144pt" height="6pc"', (2, 1)),
        ('width="192" height="96px"', (2, 1)),
        ('width="2in" viewBox="0 0 10 5"', (2, 1)),
        ('width="100%" height="100%" viewBox="0 0 192 96"', (2, 1)),
        ('viewBox="3,4,192,96"', (2, 1)),
    ],
)
def test_sizes_by_the_units_of_css(tmp_path: Path, size: str, inches: tuple[int, int]) -> None:
    # CSS 2.1, 4.3.2: 1in = 2.54cm = 96px, 1pt = 1/72in, 1pc = 12pt.
    art = read(drawing(tmp_path / "a.svg", "<circle r='30'/>", size))
    assert art.ppi is not None
    assert art.width_px / art.ppi[0] == pytest.approx(inches[0])
    assert art.height_px / art.ppi[1] == pytest.approx(inches[1])


def test_area_of_a_circle(tmp_path: Path) -> None:
    path = drawing(tmp_path / "a.svg", '<circle cx="50" cy="50" r="37.3"/>')
    art = read(path, sizing=lambda w, h: FilmSize(800, 800, 600.0))
    ink = (1 - art.coded / 65535).sum()
    assert ink == pytest.approx(np.pi * (37.3 * 8) ** 2, rel=1e-3)


def test_no_more_than_600_pixels_to_the_inch(tmp_path: Path) -> None:
    art = read(
        drawing(tmp_path / "a.svg", '<circle r="30"/>'),
        sizing=lambda w, h: FilmSize(2400, 2400, 1200.0),
    )
    assert (art.width_px, art.height_px) == (1200, 1200)


def test_line_drawings_stay_line_art(tmp_path: Path) -> None:
    body = "".join(f'<path d="M5 {y} L95 {y + 3}" stroke="#000"/>' for y in range(5, 95, 5))
    art = read(drawing(tmp_path / "a.svg", body), sizing=lambda w, h: FilmSize(1500, 1500, 600.0))
    assert art.drawn and tone_or_line(art.coded, drawn=art.drawn).treat == "line"


def test_channels_alpha_and_white_on_nothing(tmp_path: Path) -> None:
    path = drawing(tmp_path / "a.svg", '<rect width="50" height="100" fill="#fff"/>')
    for channel in ("luminance", "alpha"):
        art = read(path, channel)
        assert art.coded[50, 50] == 0 and art.coded[50, 250] == 65535
        assert any("channel: alpha" in note for note in art.notes) == (channel == "luminance")
    path = drawing(tmp_path / "b.svg", '<rect width="50" height="100" fill="#c86432"/>')
    assert read(path, "red").coded[50, 50] == 0xC8 * 257
    assert read(path, "yellow").coded[50, 50] == 0x32 * 257


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_encodings_are_followed(tmp_path: Path, encoding: str) -> None:
    text = f'<?xml version="1.0" encoding="{encoding.removesuffix("-sig")}"?>\n' + HEAD.format(
        size='viewBox="0 0 10 10"', body='<!-- \u00e4 --><rect width="5" height="10"/>'
    )
    (tmp_path / "a.svg").write_bytes(text.encode(encoding))
    assert read(tmp_path / "a.svg").coded[5, 5] == 0


def test_small_drawings_fill_the_size_that_they_say(tmp_path: Path) -> None:
    # 20 mm are 75.59 pixels of 1/96 inch; a renderer that rounds them draws a percent too small.
    for size in ('width="20mm" height="10mm" viewBox="0 0 20 10"', 'width="20" height="10"'):
        path = drawing(tmp_path / "a.svg", '<circle cx="10" cy="5" r="4"/>', size)
        art = read(path, sizing=lambda w, h: FilmSize(660, 330, 300.0))
        assert (1 - art.coded / 65535).sum() == pytest.approx(np.pi * 132**2, rel=5e-4)

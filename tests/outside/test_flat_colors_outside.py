"""Flat colors of drawings by two renderers of SVG, and after JPEG, against areas by geometry."""

from __future__ import annotations

from io import BytesIO

import cairosvg
import numpy as np
import pytest
import resvg_py
from PIL import Image

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.flat_colors import flat_colors, share_flats

pytestmark = pytest.mark.outside

RED, BLUE, YELLOW, WHITE = "#b3261e", "#1d3f9c", "#f2c418", "#ffffff"
SIDE = 300
# A yellow ring of 140 and 100 around a blue disk of 100, a red square of 90 turned by 30 degrees in
# the middle.
DRAWING = f"""<svg xmlns="http://www.w3.org/2000/svg" width="{SIDE}" height="{SIDE}">
<rect width="{SIDE}" height="{SIDE}" fill="{WHITE}"/>
<circle cx="150.3" cy="149.6" r="140" fill="{YELLOW}"/>
<circle cx="150.3" cy="149.6" r="100" fill="{BLUE}"/>
<rect x="105" y="105" width="90" height="90" fill="{RED}" transform="rotate(30 150 150)"/>
</svg>"""
AREAS = np.array([90**2, np.pi * 100**2 - 90**2, np.pi * (140**2 - 100**2)])


def lab(*colors):
    return srgb_to_lab(np.array([list(bytes.fromhex(color[1:])) for color in colors]) / 255)


def shares_of(codes):
    colors = flat_colors(codes, lab(RED, BLUE, YELLOW), lab(WHITE)[0])
    return share_flats(codes, colors)


def opened(data):
    return np.asarray(Image.open(BytesIO(data)).convert("RGB"))


@pytest.fixture(scope="module", params=["resvg", "cairosvg"])
def codes(request):
    if request.param == "cairosvg":
        return opened(cairosvg.svg2png(DRAWING.encode()))
    return opened(bytes(resvg_py.svg_to_bytes(svg_string=DRAWING)))


def test_the_areas_are_those_of_the_drawing(codes):
    found = shares_of(codes)
    assert found.unreached_pixels == 0
    assert found.shares.sum(axis=-1) == pytest.approx(1)
    areas = found.shares[..., :3].sum(axis=(0, 1), dtype=float)
    assert np.abs(areas / AREAS - 1).max() < 0.002


@pytest.mark.parametrize(("quality", "within"), [(95, 0.002), (80, 0.01)])
def test_jpeg_moves_them_little(codes, quality, within):
    coded = BytesIO()
    Image.fromarray(codes).save(coded, "JPEG", quality=quality)
    found = shares_of(opened(coded.getvalue()))
    areas = found.shares[..., :3].sum(axis=(0, 1), dtype=float)
    assert np.abs(areas / AREAS - 1).max() < within

"""Draws every dot shape at five tones, enlarged, for the guide's page about dots.

``demo/pictures.py`` draws it with the other pictures.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.dot_shapes import Dot
from filmhand.screen.screener import Screener
from filmhand.tone import FULL

SHAPES = (
    *(str(dot) for dot in Dot if not dot.own),
    *(f"{dot} 0.5" for dot in Dot if dot.row.with_ratio is not None),
    "spot 1 - (abs(x)**3 + abs(y)**3)",
)
TONES = (10, 25, 50, 75, 90)
PIXELS, TIMES, GAP, HEAD, NAMES = 90, 2, 10, 34, 330
GROUND, INK = (247, 244, 236), (40, 38, 34)


def patch(dot: str, tone: int) -> Image.Image:
    """A flat of 600 dpi and 45 lpi at 22.5 degrees, every device pixel enlarged."""
    profile = read_profile(
        "sheet: a4\ndpi: 600\nlpi: 45\nangle: 22.5\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
        f"dot: '{dot}'\n",
        name="dots",
        file="dots.yaml",
    )
    flat = np.full((PIXELS, PIXELS), round(tone / 100 * FULL), np.uint16)
    ink = Screener(plan_screen(profile).tile(), column=0, width=PIXELS).cut(flat, row=0)
    picture = Image.fromarray(np.where(ink, 0, 255).astype(np.uint8))
    return picture.resize((PIXELS * TIMES, PIXELS * TIMES), Image.Resampling.NEAREST)


def all_shapes() -> Image.Image:
    """One row a shape, one column a tone."""
    side = PIXELS * TIMES
    size = (NAMES + len(TONES) * (side + GAP), HEAD + len(SHAPES) * (side + GAP))
    sheet = Image.new("RGB", size, GROUND)
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(20)
    for column, tone in enumerate(TONES):
        draw.text((NAMES + column * (side + GAP), 6), f"{tone} %", INK, font)
    for row, dot in enumerate(SHAPES):
        top = HEAD + row * (side + GAP)
        draw.text((GAP, top + side // 2 - 12), dot, INK, font)
        for column, tone in enumerate(TONES):
            sheet.paste(patch(dot, tone), (NAMES + column * (side + GAP), top))
    return sheet

"""Draws the art of the demo: what the kite day of a seaside town might bring to be printed.

Usage: draw_art.py FOLDER

Everything is drawn here by code and by nobody else, so the pictures are free of other people's
rights. The same version of numpy and Pillow draws the same pictures each time.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter, ImageFont

Plane = NDArray[np.float64]
MOUTH = 0.2  # radians from the right, clockwise


def main() -> int:
    """Draw all the art into the folder that the command line names."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    photograph = draw_shell(1500, 1900)
    photograph.save(folder / "moon snail.jpg", quality=92, dpi=(200, 200))
    draw_scan(1650, 2100).save(folder / "reel scan.jpg", quality=88, dpi=(200, 200))
    draw_logo(1600).save(folder / "kite day logo.png", dpi=(300, 300))
    (folder / "kite day logo.png.ticket.yaml").write_text(SIX_OF_IT, encoding="utf-8")
    draw_poster(1200, 1500).save(folder / "beach poster.png", dpi=(200, 200))
    draw_mask(1200, 1500).save(folder / "beach poster.png.clear.png")
    (folder / "beach poster.png.ticket.yaml").write_text(TICKET, encoding="utf-8")
    draw_shirt(1200, 1460).save(folder / "three kites shirt.png", dpi=(200, 200))
    (folder / "three kites shirt.png.ticket.yaml").write_text(THREE_INKS, encoding="utf-8")
    small = photograph.resize((120, 152), Image.Resampling.BOX)
    small.save(folder / "from a web page.jpg", quality=80)
    cut_off(folder / "moon snail.jpg", folder / "half arrived.jpg")
    return 0


TICKET = """\
# Wishes for this one job; the sheet, the printer and the mesh stay those of the profile.
for: Hut 3, kite day
copies: 2
angle: 20
art:
  fit: width 5.5 in
  place: top
"""


SIX_OF_IT = """\
# Badges: six of the logo on one film, with trim marks.
art:
  trim: auto
  repeat: 2 x 3
"""


THREE_INKS = """\
# Three inks, one film each, in print order.
inks:
  - {name: yellow, color: "#f0b429"}
  - {name: red, color: "#c23b22"}
  - {name: blue, color: "#1f4e8c"}
trap: 0.2 mm
"""


def draw_shell(width: int, height: int) -> Image.Image:
    """A snail's shell on wet sand: a full scale of tones, from paper white to deep shadow."""
    chance = np.random.default_rng(20)
    y, x = np.mgrid[:height, :width].astype(np.float64)
    gray = _sand(chance, x, y)
    center = (width * 0.47, height * 0.47)
    away = np.hypot(x - center[0], y - center[1])
    around = np.arctan2(y - center[1], x - center[0])
    # A whorl ends where the logarithmic spiral (J. Bernoulli's) has come around once more; the
    # last one at the mouth.
    turn = np.mod(around - MOUTH, 2 * np.pi) / (2 * np.pi) - 1
    growth = np.log(np.maximum(away, 1.0) / 640) / np.log(2.6) - turn
    whorl = np.clip(np.ceil(growth), -9, 0)
    inside = (growth <= 0) & (away > 3)
    across = 2 * (growth - whorl) + 1  # -1 at the inner seam of a whorl, 1 at its outer one
    bulge = np.sqrt(np.clip(1 - across**2, 0, 1))
    lit = np.cos(around + 2.3) * across
    shade = 0.30 + 0.42 * bulge + 0.26 * lit
    ribs = np.sin(2 * np.pi * 34 * (turn + 0.13 * across**2 + 0.31 * whorl))
    shade += 0.055 * ribs * bulge + 0.05 * np.sin(2 * np.pi * 5 * turn + 4 * across) * bulge
    shine = np.exp(-(((across + 0.25) / 0.16) ** 2)) * np.clip(np.cos(around + 2.3), 0, 1) ** 3
    shade += 0.34 * shine * bulge
    throw = np.hypot(x - center[0] - 95, (y - center[1] - 120) * 1.05)
    gray *= 1 - 0.55 / (1 + np.exp((throw - 610) / 40))
    edge = np.clip(-growth * away / 3, 0, 1)
    gray = np.where(inside, gray + edge * (np.clip(shade, 0.03, 0.99) - gray), gray)
    out = (x - center[0]) * np.cos(MOUTH) + (y - center[1]) * np.sin(MOUTH)
    beside = (y - center[1]) * np.cos(MOUTH) - (x - center[0]) * np.sin(MOUTH)
    mouth = np.hypot((out - 446) / 205, (beside + 20) / 115)
    lip = np.clip((1 - mouth / 1.13) * 40, 0, 1)
    gray += lip * (0.80 - 0.25 * beside / 115 - gray)
    dark = np.clip((1 - mouth) * 40, 0, 1)
    gray += dark * (0.05 + 0.25 * np.clip(mouth, 0, 1) ** 3 - gray)
    vignette = 1 - 0.35 * np.hypot(x / width - 0.5, y / height - 0.45) ** 2
    gray = gray * vignette + chance.normal(0, 0.012, gray.shape)
    return Image.fromarray(np.rint(255 * np.clip(gray, 0.02, 0.985)).astype(np.uint8))


def _sand(chance: np.random.Generator, x: Plane, y: Plane) -> Plane:
    """Ripples, wet and dry, and a few pebbles out of focus."""
    height, width = x.shape
    gray = 0.78 - 0.30 * y / height - 0.08 * np.hypot(x / width - 0.3, y / height - 0.2)
    bend = 60 * np.sin(x / 310) + 35 * np.sin(x / 130 + 1.7)
    gray += 0.05 * np.sin((y + bend) / 26) * (0.4 + y / height)
    for _ in range(26):
        at_x, at_y = chance.uniform(0, width), chance.uniform(0, height)
        size = chance.uniform(25, 110)
        left, top = (max(0, int(at - size - 90)) for at in (at_x, at_y))
        box = np.s_[top : int(at_y + size + 90), left : int(at_x + size + 90)]
        away = np.hypot(x[box] - at_x, (y[box] - at_y) * 1.3)
        gray[box] += chance.uniform(-0.16, 0.13) / (1 + np.exp((away - size) / 9))
    return gray


def draw_scan(width: int, height: int) -> Image.Image:
    """A pen drawing as a phone or a cheap scanner sees it: gray paper, light from one side."""
    chance = np.random.default_rng(7)
    ink = Image.new("L", (width * 2, height * 2))
    pen = ImageDraw.Draw(ink)
    _reel(pen, 2 * width, 2 * height)
    strokes = np.asarray(ink.resize((width, height), Image.Resampling.BOX)) / 255
    y, x = np.mgrid[:height, :width] / np.array([height, width]).reshape(2, 1, 1)
    light = 0.88 - 0.17 * x - 0.09 * y + 0.06 * np.exp(-((x - 0.3) ** 2 + (y - 0.25) ** 2) / 0.06)
    fibers = Image.fromarray(chance.integers(0, 256, (height, width), dtype=np.uint8))
    paper = np.asarray(fibers.filter(ImageFilter.GaussianBlur(3))) / 255 - 0.5
    pressure = np.asarray(fibers.filter(ImageFilter.GaussianBlur(40))) / 255 - 0.5
    gray = light * (1 + 0.25 * paper) * (1 - strokes * np.clip(0.84 + 6 * pressure, 0.7, 0.95))
    gray += chance.normal(0, 0.012, gray.shape)
    picture = Image.fromarray(np.rint(255 * np.clip(gray, 0, 1)).astype(np.uint8))
    return picture.filter(ImageFilter.GaussianBlur(0.8))


def _reel(pen: ImageDraw.ImageDraw, width: int, height: int) -> None:
    """A reel of kite line: two rims, the line wound between them, a handle and the loose end."""
    unit = width / 100

    def at(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x * unit, y * unit) for x, y in points]

    thick, thin = round(0.9 * unit), round(0.55 * unit)
    for y in (46, 92):
        pen.ellipse([*at([(20, y - 7)])[0], *at([(76, y + 7)])[0]], outline=255, width=thick)
        pen.ellipse([*at([(41, y - 2)])[0], *at([(55, y + 2)])[0]], outline=255, width=thick)
    pen.line(at([(27, 51), (27, 87)]), 255, thick)
    pen.line(at([(69, 51), (69, 87)]), 255, thick)
    for number in range(15):  # the line, wound a little askew
        y = 55 + 2.3 * number
        pen.arc([*at([(27, y - 6)])[0], *at([(69, y + 4)])[0]], 8, 172, 255, thin)
    for number in range(17):  # hatching on the shadow side
        y = 56 + 1.8 * number
        pen.line(at([(59 + 0.25 * (number % 3), y + 2), (68 + 0.05 * number, y - 1)]), 255, thin)
    pen.line(at([(62, 43), (64, 30), (72, 27), (76, 31), (74, 44)]), 255, thick, joint="curve")
    pen.arc([*at([(60, 62)])[0], *at([(96, 98)])[0]], 200, 350, 255, thin)
    pen.arc([*at([(78, 40)])[0], *at([(104, 94)])[0]], 95, 250, 255, thin)
    for number in range(9):
        x = 20 + 6.5 * number
        pen.line(at([(x, 102 + number % 2), (x + 5, 102.5)]), 255, thin)
    font = ImageFont.load_default(9 * unit)
    pen.text((17 * unit, 8 * unit), "let it out,", 255, font)
    pen.text((30 * unit, 110 * unit), "wind it in", 255, font)


def draw_logo(size: int) -> Image.Image:
    """A drawn badge: flat tints, sharp edges, and nothing at all around it."""
    large = 2 * size
    badge = Image.new("RGBA", (large, large), (0, 0, 0, 0))
    pen = ImageDraw.Draw(badge)

    def disc(x: float, y: float, radius: float, fill: tuple[int, int, int, int]) -> None:
        box = [
            (x - radius) * large,
            (y - radius) * large,
            (x + radius) * large,
            (y + radius) * large,
        ]
        pen.ellipse(box, fill=fill)

    disc(0.5, 0.5, 0.48, (32, 60, 40, 255))
    disc(0.5, 0.5, 0.44, (236, 226, 190, 255))
    disc(0.5, 0.5, 0.41, (150, 178, 120, 255))
    nose, tail, left, right = (0.56, 0.14), (0.42, 0.70), (0.28, 0.30), (0.74, 0.40)
    cross = (0.515, 0.345)
    for corner, other, tint in (
        (nose, left, (222, 226, 160, 255)),
        (nose, right, (74, 120, 66, 255)),
        (tail, left, (74, 120, 66, 255)),
        (tail, right, (222, 226, 160, 255)),
    ):
        pen.polygon([(x * large, y * large) for x, y in (corner, other, cross)], fill=tint)
    wind = np.linspace(0, 1, 80)
    line = [
        (float((tail[0] + 0.22 * t) * large), float((tail[1] + 0.035 * np.sin(9 * t)) * large))
        for t in wind
    ]
    pen.line(line, fill=(32, 60, 40, 255), width=round(0.012 * large), joint="curve")
    pen.chord(
        [0.09 * large, 0.09 * large, 0.91 * large, 0.91 * large], 35, 145, fill=(32, 60, 40, 255)
    )
    font = ImageFont.load_default(large * 0.085)
    text = "KITE DAY"
    pen.text((0.5 * large, 0.805 * large), text, (236, 226, 190, 255), font, anchor="mm")
    return badge.resize((size, size), Image.Resampling.LANCZOS)


def draw_poster(width: int, height: int) -> Image.Image:
    """Lettering over dunes and a low sun: tone and type in one picture."""
    y, x = np.mgrid[:height, :width].astype(np.float64)
    gray = 0.97 - 0.45 * y / height
    sun = np.hypot(x - width * 0.7, y - height * 0.42)
    gray += 0.30 * np.exp(-((sun / 330) ** 2))
    for number, (level, rise) in enumerate(((0.52, 60), (0.62, 80), (0.74, 50))):
        ridge = height * level + rise * np.sin(x / (130 + 70 * number) + 2.2 * number)
        hill = np.clip((y - ridge) / 2, 0, 1)
        gray += hill * (0.62 - 0.2 * number - 0.10 * (y - ridge) / height - gray)
    rows = (y > height * 0.78) & (np.sin(x / 26 + (y / height) ** 4 * 14) > 0.3)
    gray = np.where(rows, gray * 0.6, gray)
    picture = Image.fromarray(np.rint(255 * np.clip(gray, 0, 1)).astype(np.uint8))
    pen = ImageDraw.Draw(picture)
    pen.rectangle(_band(width, height), fill=255)
    pen.text((width / 2, height * 0.115), "KITE DAY", 0, ImageFont.load_default(150), anchor="mm")
    pen.text(
        (width / 2, height * 0.195),
        "Sunday, the long beach",
        0,
        ImageFont.load_default(54),
        anchor="mm",
    )
    return picture


def draw_shirt(width: int, height: int) -> Image.Image:
    """Three kites over the sea in flat colors, with edges as soft as drawing programs make them."""
    fine = 4
    picture = Image.new("RGB", (width * fine, height * fine), "white")
    pen = ImageDraw.Draw(picture)
    yellow, red, blue = "#f0b429", "#c23b22", "#1f4e8c"

    def drawn(points: list[tuple[float, float]], color: str) -> None:
        pen.polygon([(x * width * fine, y * height * fine) for x, y in points], fill=color)

    for left, top, size, body, patch in (
        (0.10, 0.06, 0.46, red, yellow),
        (0.52, 0.20, 0.36, yellow, blue),
        (0.08, 0.46, 0.28, blue, red),
    ):
        middle, low = left + size / 2, top + size * 0.86
        side = top + size * 0.30
        drawn([(middle, top), (left + size, side), (middle, low), (left, side)], body)
        drawn([(middle, top), (left + size, side), (middle, side)], patch)
        drawn([(middle, low), (left, side), (middle, side)], patch)
    across = np.linspace(0, 1, 200)
    for level, color in ((0.80, blue), (0.87, red), (0.93, yellow)):
        sea = [(float(x), float(level + 0.018 * np.sin(21 * x + 40 * level))) for x in across]
        drawn([*sea, (1.0, 1.0), (0.0, 1.0)], color)
    return picture.resize((width, height), Image.Resampling.BOX)


def draw_mask(width: int, height: int) -> Image.Image:
    """Keeps a frame of clear film around the poster: dark where nothing may print."""
    mask = Image.new("L", (width // 2, height // 2), 255)
    ImageDraw.Draw(mask).rectangle([0, 0, width // 2 - 1, height // 2 - 1], outline=0, width=12)
    return mask


def _band(width: int, height: int) -> list[float]:
    return [width * 0.08, height * 0.05, width * 0.92, height * 0.235]


def cut_off(source: Path, target: Path) -> None:
    """What is left when the stick is pulled out half way through a copy."""
    whole = source.read_bytes()
    target.write_bytes(whole[: len(whole) // 2])


if __name__ == "__main__":
    sys.exit(main())

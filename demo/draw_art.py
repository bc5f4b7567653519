"""Draws the art of the demo: what a neighborhood's seed swap fair might bring to be printed.

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
GOLDEN_ANGLE = np.pi * (3 - 5**0.5)


def main() -> int:
    """Draw all the art into the folder that the command line names."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    photograph = draw_sunflower(1500, 1900)
    photograph.save(folder / "sunflower.jpg", quality=92, dpi=(200, 200))
    draw_scan(1650, 2100).save(folder / "watering can scan.jpg", quality=88, dpi=(200, 200))
    draw_logo(1600).save(folder / "seed swap logo.png", dpi=(300, 300))
    (folder / "seed swap logo.png.ticket.yaml").write_text(SIX_OF_IT, encoding="utf-8")
    draw_poster(1200, 1500).save(folder / "fair poster.png", dpi=(200, 200))
    draw_mask(1200, 1500).save(folder / "fair poster.png.clear.png")
    (folder / "fair poster.png.ticket.yaml").write_text(TICKET, encoding="utf-8")
    small = photograph.resize((120, 152), Image.Resampling.BOX)
    small.save(folder / "from a web page.jpg", quality=80)
    cut_off(folder / "sunflower.jpg", folder / "half arrived.jpg")
    return 0


TICKET = """\
# Wishes for this one job; the sheet, the printer and the mesh stay those of the profile.
for: Stall 7, seed swap fair
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


def draw_sunflower(width: int, height: int) -> Image.Image:
    """A flower in soft light: a full scale of tones, from paper white to deep shadow."""
    chance = np.random.default_rng(20)
    y, x = np.mgrid[:height, :width].astype(np.float64)
    gray = 0.80 - 0.35 * y / height - 0.12 * np.hypot(x / width - 0.3, y / height - 0.2)
    for _ in range(26):  # leaves and light far behind the flower, out of focus
        at_x, at_y, size = (
            chance.uniform(0, width),
            chance.uniform(0, height),
            chance.uniform(60, 170),
        )
        left, top = (max(0, int(at - size - 90)) for at in (at_x, at_y))
        box = np.s_[top : int(at_y + size + 90), left : int(at_x + size + 90)]
        away = np.hypot(x[box] - at_x, y[box] - at_y)
        gray[box] += chance.uniform(-0.14, 0.11) / (1 + np.exp((away - size) / 9))
    center_x, center_y = width * 0.5, height * 0.44
    stem = np.abs(x - center_x - 60 * np.sin((y - center_y) / 520)) / 36
    lit = 0.36 - 0.16 * (x - center_x) / 40
    gray = np.where((stem < 1) & (y > center_y), np.clip(lit, 0.1, 0.6), gray)
    for ring, (count, reach) in enumerate(((23, 690), (21, 600), (18, 480))):
        for number in range(count):
            angle = 2 * np.pi * (number + 0.5 * ring) / count + chance.normal(0, 0.05)
            length = reach * chance.uniform(0.92, 1.05)
            bright = 0.62 + 0.11 * ring + chance.normal(0, 0.03)
            _petal(gray, (center_x, center_y), angle, length, bright)
    _seeds(gray, (center_x, center_y), 290)
    vignette = 1 - 0.35 * np.hypot(x / width - 0.5, y / height - 0.45) ** 2
    gray = gray * vignette + chance.normal(0, 0.012, gray.shape)
    return Image.fromarray(np.rint(255 * np.clip(gray, 0.02, 0.985)).astype(np.uint8))


def _petal(
    gray: Plane, center: tuple[float, float], angle: float, length: float, bright: float
) -> None:
    """Lay one petal over the picture, light along its rib and dark where it turns away."""
    wide = 0.14 * length + 40
    tip_x, tip_y = center[0] + length * np.cos(angle), center[1] + length * np.sin(angle)
    left, top = (max(0, int(min(ends) - wide)) for ends in ((center[0], tip_x), (center[1], tip_y)))
    right, bottom = (int(max(ends) + wide) for ends in ((center[0], tip_x), (center[1], tip_y)))
    part = gray[top:bottom, left:right]
    y, x = np.mgrid[: part.shape[0], : part.shape[1]].astype(np.float64)
    from_x, from_y = x + left - center[0], y + top - center[1]
    along = (from_x * np.cos(angle) + from_y * np.sin(angle)) / length
    across = -from_x * np.sin(angle) + from_y * np.cos(angle)
    half = 0.135 * length * np.sqrt(np.clip(np.sin(np.pi * np.clip(along, 0, 1) ** 0.8), 0, 1))
    share = across / np.maximum(half, 1e-6)
    cover = np.clip(half - np.abs(across), 0, 1.5) / 1.5
    shade = bright + 0.22 * along - 0.10 * share - 0.24 * share**4
    shade += 0.025 * np.cos(across / 4.5) * (1 - along)
    # The shadow that a petal throws on what lies below it.
    throw = (
        np.exp(-(np.clip(np.abs(across + 8) - half, 0, 60) ** 2) / 220) * (along > 0) * (along < 1)
    )
    part *= 1 - 0.22 * throw * (1 - cover)
    part += cover * (shade - part)


def _seeds(gray: Plane, center: tuple[float, float], radius: float) -> None:
    """The disc: seeds on the spiral that sunflowers grow (H. Vogel, Math. Biosci. 44, 1979)."""
    count, step = 520, radius / 520**0.5
    for number in range(count, 0, -1):
        away, turn = step * number**0.5, number * GOLDEN_ANGLE
        at_x, at_y = center[0] + away * np.cos(turn), center[1] + away * np.sin(turn)
        size = 11 + 5 * away / radius
        left, top = int(at_x - 2 * size), int(at_y - 2 * size)
        part = gray[top : top + int(4 * size), left : left + int(4 * size)]
        y, x = np.mgrid[: part.shape[0], : part.shape[1]].astype(np.float64)
        from_x, from_y = x + left - at_x, y + top - at_y
        along = (from_x * np.cos(turn) + from_y * np.sin(turn)) / (1.35 * size)
        across = (-from_x * np.sin(turn) + from_y * np.cos(turn)) / (0.75 * size)
        round_ = np.hypot(along, across)
        cover = np.clip((1 - round_) * size / 2, 0, 1)
        light = np.sqrt(np.clip(1 - round_**2, 0, 1))
        shade = 0.05 + 0.30 * away / radius + 0.30 * light * (0.55 - 0.4 * (from_x + from_y) / size)
        part *= 1 - 0.5 * np.exp(-(np.clip(round_ - 1, 0, 4) ** 2) * 6) * (1 - cover)
        part += cover * (shade - part)


def draw_scan(width: int, height: int) -> Image.Image:
    """A pen drawing as a phone or a cheap scanner sees it: gray paper, light from one side."""
    chance = np.random.default_rng(7)
    ink = Image.new("L", (width * 2, height * 2))
    pen = ImageDraw.Draw(ink)
    _watering_can(pen, 2 * width, 2 * height)
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


def _watering_can(pen: ImageDraw.ImageDraw, width: int, height: int) -> None:
    unit = width / 100

    def at(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x * unit, y * unit) for x, y in points]

    thick, thin = round(0.9 * unit), round(0.55 * unit)
    pen.line(at([(30, 55), (27, 100), (68, 100), (65, 55), (30, 55)]), 255, thick, joint="curve")
    pen.ellipse([*at([(29, 51)])[0], *at([(66, 59)])[0]], outline=255, width=thick)
    pen.line(at([(65.5, 64), (82, 42)]), 255, thick)
    pen.line(at([(67, 88), (86, 46)]), 255, thick)
    pen.line(at([(78, 38), (91, 48), (78, 38)]), 255, thick)
    for number in range(6):
        start = (79.5 + 2.1 * number, 38 + 1.6 * number)
        for drop in range(3):
            x, y = start[0] + 1 + 2.0 * drop, start[1] - 5 - 3 * drop + 0.9 * drop**2
            pen.line(at([(x, y), (x + 1.3, y - 0.8)]), 255, thin)
    pen.arc([*at([(12, 56)])[0], *at([(38, 96)])[0]], 75, 285, 255, thick)
    pen.arc([*at([(34, 30)])[0], *at([(62, 80)])[0]], 182, 358, 255, thick)
    for number in range(17):  # hatching on the shadow side
        y = 62 + 2.1 * number
        pen.line(at([(56 + 0.25 * (number % 3), y + 2), (65.5 + 0.05 * number, y - 1)]), 255, thin)
    for number in range(9):
        x = 24 + 6 * number
        pen.line(at([(x, 106 + number % 2), (x + 5, 106.5)]), 255, thin)
    font = ImageFont.load_default(9 * unit)
    pen.text((17 * unit, 8 * unit), "bring seeds,", 255, font)
    pen.text((30 * unit, 112 * unit), "take seeds", 255, font)


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
    pen.rectangle(
        [0.485 * large, 0.56 * large, 0.515 * large, 0.74 * large], fill=(32, 60, 40, 255)
    )
    for side, tint in ((-1, (74, 120, 66, 255)), (1, (222, 226, 160, 255))):
        foot, tip = np.array([0.5, 0.58]), np.array([0.5 + side * 0.29, 0.24])
        beside = np.array([tip[1] - foot[1], foot[0] - tip[0]]) * 0.28
        share = np.linspace(0, 1, 60)[:, None]
        edge = foot + (tip - foot) * share, beside * np.sin(np.pi * share)
        outline = np.vstack([edge[0] + edge[1], (edge[0] - edge[1])[::-1]]) * large
        pen.polygon([(float(px), float(py)) for px, py in outline], fill=tint)
    pen.chord(
        [0.09 * large, 0.09 * large, 0.91 * large, 0.91 * large], 35, 145, fill=(32, 60, 40, 255)
    )
    font = ImageFont.load_default(large * 0.085)
    text = "SEED SWAP"
    pen.text((0.5 * large, 0.805 * large), text, (236, 226, 190, 255), font, anchor="mm")
    return badge.resize((size, size), Image.Resampling.LANCZOS)


def draw_poster(width: int, height: int) -> Image.Image:
    """Lettering over soft hills: tone and type in one picture."""
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
    pen.text((width / 2, height * 0.115), "SEED SWAP", 0, ImageFont.load_default(150), anchor="mm")
    pen.text(
        (width / 2, height * 0.195),
        "Saturday, the old bakery yard",
        0,
        ImageFont.load_default(54),
        anchor="mm",
    )
    return picture


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

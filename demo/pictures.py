"""Draws the pictures of the guide from what the program makes: film, proof, label, dots and moire.

Run it with a Python that has filmhand; it takes a minute and needs nothing else::

    demo/.venv/bin/python demo/pictures.py daemon/filmhand/guide/pictures

Those of the status page are taken by ``demo/page_pictures.py``.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import dots
import numpy as np
from draw_art import draw_shell
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from filmhand.mesh.limits import MeshLimits
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.screen.screener import Screener
from filmhand.tone import FULL

GROUND, INK, MARK = (247, 244, 236), (40, 38, 34), (176, 58, 46)
WIDTH = 900
PROFILE = """\
sheet: 8.5 x 11 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
angle: 22.5
marks: {steps: true}
write: png
"""
MESHES = ("43-80", "62-64", "90-48", "120-34")


def font(size: int = 20) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The font inside Pillow, so that every computer draws the same."""
    return ImageFont.load_default(size)


def made_film(folder: Path) -> tuple[Image.Image, Image.Image]:
    """A film of the demo's snail shell, as gray, and its proof."""
    art, profile = folder / "moon snail.png", folder / "small-sheet.yaml"
    draw_shell(1500, 1900).save(art)
    profile.write_text(PROFILE)
    words = [sys.executable, "-m", "filmhand", "make", art, "--profile", profile, "--out", folder]
    (folder / "out").mkdir()
    words[-1] = folder / "out"
    subprocess.run(list(map(str, words)), check=True, capture_output=True)
    film = Image.open(folder / "out" / "moon snail.png").convert("L")
    return film, Image.open(folder / "out" / "moon snail.proof.jpg").convert("RGB")


def wedge_film(folder: Path) -> Image.Image:
    """The wedge of the same profile, as gray; on a sheet where each thing is seen."""
    profile = folder / "wedge-sheet.yaml"
    profile.write_text(PROFILE.replace("8.5 x 11 in", "6 x 7 in").replace("300", "600"))
    words = ["wedge", "--profile", profile, "--out", folder / "out"]
    command = [sys.executable, "-m", "filmhand", *map(str, words)]
    subprocess.run(command, check=True, capture_output=True)
    return Image.open(folder / "out" / "wedge-wedge-sheet.png").convert("L")


def label_explained(film: Image.Image) -> Image.Image:
    """The foot of a film, with what stands there numbered."""
    foot = film.crop((0, film.height - 330, film.width, film.height - 30))
    scale = 1300 / foot.width
    foot = foot.resize((1300, round(foot.height * scale)), Image.Resampling.LANCZOS)
    told = (
        ("1", (0.66, 0.24), "the wedge: steps, each with its tone in percent"),
        ("2", (0.87, 0.52), "the art's name; profile; lines to the inch, angle, dot; mesh; size"),
        ("3", (0.535, 0.86), "the bar of 100 mm, to hold a rule to"),
        ("4", (0.91, 0.70), "the solid patch, to hold to a lamp"),
        ("5", (0.68, 0.66), "short prints of art and profile; which side is up; warnings"),
    )
    sheet = Image.new("RGB", (foot.width, foot.height + 26 * len(told) + 20), GROUND)
    sheet.paste(foot.convert("RGB"), (0, 0))
    draw = ImageDraw.Draw(sheet)
    for number, (key, (x, y), words) in enumerate(told):
        _ball(draw, (round(x * foot.width), round(y * foot.height)), key)
        top = foot.height + 20 + 26 * number
        _ball(draw, (24, top), key)
        draw.text((46, top - 12), words, INK, font(19))
    return sheet


def _ball(draw: ImageDraw.ImageDraw, middle: tuple[int, int], text: str) -> None:
    draw.circle(middle, 11, MARK)
    draw.text(middle, text, (255, 255, 255), font(16), anchor="mm")


def flat(lpi: float, angle: float, tone: float, side_mm: float, dpi: int) -> NDArray[np.bool_]:
    """A flat of round dots, True where ink prints."""
    text = f"sheet: a4\ndpi: {dpi}\nlpi: {lpi}\nangle: {angle}\nthreshold: 50\nmesh: none\n"
    profile = read_profile(text + "margin: 5 mm\ndot: round\n", name="flat", file="flat.yaml")
    side = round(side_mm / 25.4 * dpi)
    tones = np.full((side, side), round(tone / 100 * FULL), np.uint16)
    return Screener(plan_screen(profile).tile(), column=0, width=side).cut(tones, row=0)


def threads(mesh: Mesh, side: int, dpi: int) -> NDArray[np.bool_]:
    """True where the mesh is open, over a square of device pixels."""
    place = np.arange(side) * 25400 / dpi % mesh.pitch_um
    open_across = place >= mesh.thread_um
    return open_across[:, None] & open_across[None, :]


def dots_by_mesh() -> Image.Image:
    """The same 10 % of 25 lines an inch, as stencils on four meshes: each dot and its threads."""
    dpi, side_mm, shown = 2540, 2.6, 210
    ink = flat(25, 22.5, 10, side_mm, dpi)
    sheet = Image.new("RGB", (WIDTH, shown + 96), GROUND)
    draw = ImageDraw.Draw(sheet)
    for place, name in enumerate(MESHES):
        mesh = read_mesh(name)
        assert mesh is not None
        opened = threads(mesh, len(ink), dpi)
        colors = np.where(opened[..., None], 255, (206, 198, 178)).astype(np.uint8)
        colors[ink] = (120, 112, 98)
        colors[ink & opened] = INK
        picture = Image.fromarray(colors).resize((shown, shown), Image.Resampling.BOX)
        left = 12 + place * (shown + 12)
        sheet.paste(picture, (left, 12))
        even = MeshLimits.of(mesh).dot.warn_um
        draw.text((left, shown + 18), f"mesh {mesh.label}", INK, font(19))
        draw.text((left, shown + 44), f"even dots from {even / 1000:.2f} mm", INK, font(17))
    words = "10 % at 25 lpi, 2.6 mm across: black where ink gets through, gray where a thread lies"
    draw.text((12, shown + 70), words, INK, font(17))
    return sheet


def moire_by_angle() -> Image.Image:
    """30 % of 55 lines an inch on mesh 230 (90-48), at three angles, as a print would look."""
    dpi, side_mm, shown = 2540, 60.0, 288
    mesh = read_mesh("90-48")
    assert mesh is not None
    angles = (0.0, 45.0, 22.5)
    sheet = Image.new("RGB", (WIDTH, shown + 66), GROUND)
    draw = ImageDraw.Draw(sheet)
    for place, angle in enumerate(angles):
        ink = flat(55, angle, 30, side_mm, dpi)
        through = (ink & threads(mesh, len(ink), dpi)).astype(np.float32)
        # From so far that dots run together: a millimeter is a pixel.
        small = Image.fromarray(255 - 255 * through).resize((60, 60), Image.Resampling.LANCZOS)
        seen = np.asarray(small.resize((shown, shown), Image.Resampling.BICUBIC), np.float32)
        # What is even is left out, and the bands that are left are shown four times as strong.
        bands = np.clip(170 + 4 * (seen - seen.mean()), 0, 255).astype(np.uint8)
        left = 9 + place * (shown + 9)
        sheet.paste(Image.fromarray(bands).convert("RGB"), (left, 9))
        draw.text((left, shown + 14), f"screen at {angle:g} degrees", INK, font(19))
    words = "30 % at 55 lpi on mesh 230 (90-48), 60 mm across, bands shown 4 times as strong"
    draw.text((9, shown + 40), words, INK, font(17))
    return sheet


def save_all(pictures: Sequence[tuple[str, Image.Image, int]], folder: Path) -> None:
    """Small files, of few colors."""
    for name, picture, colors in pictures:
        small = picture.convert("RGB").quantize(colors, dither=Image.Dither.NONE)
        small.save(folder / f"{name}.png", optimize=True)


def main() -> None:
    """Draw all of them into the folder that the command line names."""
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        film, proof = made_film(Path(folder))
        wedge = wedge_film(Path(folder))
        small = film.resize((450, round(film.height * 450 / film.width)), Image.Resampling.BOX)
        save_all(
            [
                ("film", small, 8),
                ("wedge", wedge.resize((900, round(wedge.height * 900 / wedge.width))), 8),
                ("proof", proof.resize((540, round(proof.height * 540 / proof.width))), 16),
                ("label", label_explained(film), 16),
                ("dots", dots.all_shapes(), 16),
                ("dots-by-mesh", dots_by_mesh(), 16),
                ("moire", moire_by_angle(), 24),
            ],
            target,
        )


if __name__ == "__main__":
    main()

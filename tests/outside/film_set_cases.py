"""Open art as finished films of several inks, printed over each other again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from recombination_cases import (
    PROCESS,
    WHITE,
    Row,
    drawing_inks,
    drawn_codes,
    picture,
    process_model,
)

from filmhand.film.bits import BitSheet
from filmhand.ink.flat_colors import flat_colors
from filmhand.ink.mixing import PrintingInk, print_model
from filmhand.ink.recombination import Recombination
from filmhand.ink.solving import InkRules, separation_table
from filmhand.mesh.moire.visibility import Sight
from filmhand.pipeline.make import make_films
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.separation.geometry.film_bits import FilmToFill, ToneSource, fill_films
from filmhand.pipeline.separation.geometry.flat_regions import regions_of_flats
from filmhand.pipeline.separation.geometry.ink_shapes import InkShapes
from filmhand.pipeline.separation.geometry.ink_tones import InkTones
from filmhand.pipeline.separation.moire_of_films import FilmBands, FilmScreen, moire_of_films
from filmhand.pipeline.separation.planning.set_plan import (
    ListedInk,
    SeparationMode,
    WantedSet,
    set_angles,
)
from filmhand.pipeline.separation.recombined import recombined_films
from filmhand.profile.read.load import load_profile
from filmhand.request import JobRequest
from filmhand.screen.dot_shapes import Dot
from filmhand.screen.lattice import Lattice, find_lattice
from filmhand.screen.order_strength import strength_of_tile
from filmhand.screen.screener import Screener
from filmhand.screen.tile import ThresholdTile, build_tile
from filmhand.sheet.layout import Box
from filmhand.units import PixelsPerInch

LPI, DPI, SIDE = 45.0, 600, 1200
DOT = round(DPI / LPI)


@dataclass(frozen=True)
class _Screen:
    lattice: Lattice
    tile: ThresholdTile

    @classmethod
    def of(cls, angle: float) -> _Screen:
        lattice = find_lattice(LPI, angle, PixelsPerInch(DPI, DPI))
        return cls(lattice, build_tile(lattice, Dot.ROUND.row.function))

    def film_screen(self) -> FilmScreen:
        return FilmScreen(self.lattice.frequencies(), strength_of_tile(self.lattice, self.tile))


def _films(
    folder: Path, size: tuple[int, int], source: ToneSource, screens: list[_Screen | None]
) -> list[AreaOfSheet]:
    """The films of a set, the art and nothing else on each."""
    width, height = size
    films = []
    for k, screen in enumerate(screens):
        sheet = BitSheet.create(folder / f"{k}.bits", width=width, height=height)
        screener = screen and Screener(screen.tile, column=0, width=width)
        films.append(FilmToFill(AreaOfSheet(sheet, Box(0, 0, width, height)), screener))
    fill_films(films, source)
    return [film.area for film in films]


def photograph_films(folder: Path, name: str) -> tuple[Row, list[FilmBands]]:
    """A photograph as two inches of process films, and the bands of their screens."""
    codes = np.rint(picture(name) * 255).astype(np.uint8)
    inks = tuple(ListedInk(str(k), tuple(lab), 0.0) for k, lab in enumerate(PROCESS))
    angles = set_angles(WantedSet(("", 0), "", SeparationMode.PROCESS, inks))
    screens = [_Screen.of(angle) for angle in angles]
    model, rules = process_model(), InkRules(total_ink=3.0, black=3)
    table = separation_table(model, rules, compensate_black=False)
    height = round(SIDE * codes.shape[0] / codes.shape[1])
    tones = InkTones(codes, table, (SIDE, height), total_ink=3.0)
    films = _films(folder, (SIDE, height), tones, screens)
    found = recombined_films(films, model, codes * np.uint16(257), cell=DOT)
    sight = Sight(SIDE / DPI * 25.4)
    bands = moire_of_films([screen.film_screen() for screen in screens], model, sight)
    return Row(name, "films of process inks on white", found.difference), bands


PROFILE = """
sheet: 5 x 5 in
dpi: {dpi}
lpi: {lpi}
dot: round
threshold: 50
mesh: 120-34
margin: 0.1 in
marks: {{label: false, ruler: false, solid: false, register: false}}
write: png
inks: {inks}
"""


def made_set(folder: Path, art: Path, inks: str, **more: float) -> dict[str, Any]:
    """The record of the first film of a set, made as any job is."""
    keys = {"dpi": DPI, "lpi": LPI} | more
    (folder / "p.yaml").write_text(PROFILE.format(inks=inks, **keys))
    for name in ("out", "scratch"):
        (folder / name).mkdir(exist_ok=True)
    request = JobRequest(
        art=art, name=art.name, profile=load_profile(folder / "p.yaml"), out=folder / "out",
        scratch=folder / "scratch", threads=2,
    )  # fmt: skip
    record: dict[str, Any] = make_films(request).films[0].record
    return record


def made_row(folder: Path, name: str, inks: str, said: str) -> Row:
    """How far the finished films of an open picture, or the drawing, are from it."""
    codes = drawn_codes(None) if name == "drawing" else np.rint(picture(name) * 255)
    art = folder / f"{name}.png"
    Image.fromarray(codes.astype(np.uint8)).save(art)
    found = made_set(folder, art, inks)["separation"]
    return Row(name, said, Recombination(found["mean_de00"], found["p95_de00"]))


def drawing_films(folder: Path) -> Row:
    """The drawing as films of its three inks, four device pixels to each of its own."""
    codes, inks = drawn_codes(None), drawing_inks()
    regions = regions_of_flats(codes, flat_colors(codes, inks, WHITE)).regions
    size = codes.shape[1] * 4, codes.shape[0] * 4
    films = _films(folder, size, InkShapes(regions, size), [None] * len(inks))
    model = print_model([PrintingInk(lab, 1) for lab in inks], WHITE)
    found = recombined_films(films, model, codes * np.uint16(257), cell=4, cells=1)
    return Row("drawing", "films of its three inks", found.difference)

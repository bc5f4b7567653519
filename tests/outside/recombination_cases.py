"""Open pictures and drawings separated to inks and printed again by the model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO

import numpy as np
import resvg_py
from PIL import Image
from skimage import data

from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.flat_colors import flat_colors, share_flats
from filmhand.ink.mixing import PrintingInk, PrintModel, print_model
from filmhand.ink.palette import find_inks
from filmhand.ink.recombination import Recombination, recombination
from filmhand.ink.solving import InkRules, separation_table

WHITE, BLACK = np.array([100.0, 0, 0]), np.array([10.0, 0, 0])
# Solids of process inks on coated paper as ISO 12647-2:2004 gives them, from memory.
PROCESS = [[55, -37, -50], [48, 74, -3], [89, -5, 93], [16, 0, 0]]
# White below, four colors, white on top: opaque inks as on dark cloth, from memory.
ON_BLACK = [[95, 0, 0], [50, 65, 45], [87, 0, 85], [35, 15, -55], [55, -55, 35], [95, 0, 0]]
PICTURES = ("astronaut", "coffee", "chelsea", "rocket")
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="400" height="300">
<rect width="400" height="300" fill="#ffffff"/>
<circle cx="150" cy="150" r="120" fill="#f2c418"/><circle cx="250" cy="150" r="90" fill="#1d3f9c"/>
<path d="M60 250 L200 40 L340 250 Z" fill="none" stroke="#b3261e" stroke-width="9"/>
</svg>"""
DRAWING_INKS = ["#b3261e", "#1d3f9c", "#f2c418"]


@dataclass(frozen=True)
class Row:
    """One case: what was separated how, and how far the print is from the art.

    ``plain`` is the same of a way without the model, where there is one.
    """

    art: str
    inks: str
    found: Recombination
    plain: Recombination | None = None


def picture(name: str) -> np.ndarray:
    """(H, W, 3) codes 0..1 of an open photograph of scikit-image, at half its size."""
    return getattr(data, name)()[::2, ::2, :3] / 255


def process_model() -> PrintModel:
    """Four transparent inks on white."""
    inks = [PrintingInk(np.array(lab, float)) for lab in PROCESS]
    return print_model(inks, WHITE, yule_nielsen=1.7)


def process_rows() -> Iterator[Row]:
    """Photographs in process inks, against one minus each code with its gray in black."""
    model = process_model()
    rules = InkRules(total_ink=3.0, black=3)
    table = separation_table(model, rules, compensate_black=False)
    for name in PICTURES:
        codes = picture(name)
        art = srgb_to_lab(codes)
        black = 1 - codes.max(axis=-1, keepdims=True)
        plain = np.concatenate([1 - codes - black, black], axis=-1)
        yield Row(
            name,
            "process on white",
            recombination(art, model.screened(table.at(codes))),
            recombination(art, model.screened(plain)),
        )


def simulated_rows() -> Iterator[Row]:
    """Photographs in six opaque inks on black cloth."""
    opacities = (0.9, 0.7, 0.7, 0.7, 0.7, 0.9)
    inks = [
        PrintingInk(np.array(lab, float), opacity)
        for lab, opacity in zip(ON_BLACK, opacities, strict=True)
    ]
    model = print_model(inks, BLACK, yule_nielsen=1.7)
    table = separation_table(model, InkRules(), compensate_black=False)
    for name in PICTURES:
        codes = picture(name)
        printed = model.screened(table.at(codes))
        yield Row(name, "six on black", recombination(srgb_to_lab(codes), printed))


def found_rows() -> Iterator[Row]:
    """Photographs in six inks found in them, opaque ones, on white."""
    for name in PICTURES:
        codes = picture(name)
        found = find_inks((codes * 255).astype(np.uint8), WHITE, count=6)
        inks = [PrintingInk(lab, 0.5) for lab in found.colors]
        model = print_model(inks, WHITE, yule_nielsen=1.7)
        table = separation_table(model, InkRules(), compensate_black=False)
        printed = model.screened(table.at(codes))
        yield Row(name, "six found, on white", recombination(srgb_to_lab(codes), printed))


def drawn_codes(quality: int | None) -> np.ndarray:
    """(H, W, 3) uint8 codes of the drawing, after JPEG of a quality, where one is given."""
    codes = np.asarray(
        Image.open(BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=DRAWING)))).convert("RGB")
    )
    if quality is not None:
        coded = BytesIO()
        Image.fromarray(codes).save(coded, "JPEG", quality=quality)
        codes = np.asarray(Image.open(coded))
    return codes


def drawing_inks() -> np.ndarray:
    """(3, 3) L*, a*, b* of the drawing's inks."""
    colors = [list(bytes.fromhex(color[1:])) for color in DRAWING_INKS]
    return srgb_to_lab(np.array(colors) / 255)


def drawing_row(quality: int | None) -> Row:
    """The drawing in its three inks, after JPEG of a quality, where one is given."""
    codes, inks = drawn_codes(quality), drawing_inks()
    shares = share_flats(codes, flat_colors(codes, inks, WHITE)).shares[..., :-1]
    model = print_model([PrintingInk(lab, 1) for lab in inks], WHITE, yule_nielsen=2)
    printed = model.side_by_side(shares.astype(float))
    name = "drawing" if quality is None else f"drawing, JPEG {quality}"
    return Row(name, "its three inks", recombination(srgb_to_lab(codes / 255), printed))


def all_rows() -> Iterator[Row]:
    """Every case."""
    yield from (drawing_row(quality) for quality in (None, 90, 70))
    yield from process_rows()
    yield from simulated_rows()
    yield from found_rows()

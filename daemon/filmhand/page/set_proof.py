"""The proof of a set: the expected print large, and below it each film small with its ink.

It is one picture, so that one look shows whether the set is right; the proofs of the films, with
what was mended and a detail, lie beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from filmhand.arrays import Float32Array, UInt8Array
from filmhand.film.bits import BitSheet
from filmhand.page.film_picture import light_seen
from filmhand.page.page_words import ProofCaption
from filmhand.page.predicted_print import coded
from filmhand.page.proof_page import (
    INSIDE,
    Captioned,
    Color,
    ProofWords,
    Symbol,
    column_width,
    set_proof_page,
    turned_quarters,
)
from filmhand.page.swatch import swatch_color
from filmhand.tone import srgb_to_linear
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

_HIGHEST_PRINT, _HIGHEST_FILM = 1300, 620
_SIDE, _EDGE = 13, (25, 25, 25)  # of a swatch; its edge parts it from the page, whatever its color


@dataclass(frozen=True, slots=True, eq=False)
class SmallFilm:
    """One film of a set, as its proof shows it.

    Attributes
    ----------
    k, of : its number in print order, from 1, and how many films the set has
    ink : the ink's name
    color : L*, a*, b* of the ink under D50
    light : (h, w) float32, the light that the film lets through, 0..1, as it lies on the sheet;
        see :func:`small_light`
    """

    k: int
    of: int
    ink: str
    color: tuple[float, float, float]
    light: Float32Array


def small_light(
    bits: BitSheet, resolution: PixelsPerInch, *, of: int, sideways: bool = False
) -> Float32Array:
    """A film as small as the proof of a set shows it, (h, w) float32, light 0..1.

    Parameters
    ----------
    of : how many films the set has
    sideways : the proof turns the films by a quarter, so that the art stands upright
    """
    size = (bits.width / resolution.x, bits.height / resolution.y)
    room = (column_width(_columns(of)), _HIGHEST_FILM)
    return light_seen(bits, resolution, _fitting(size, room, sideways=sideways))


def write_set_proof(
    path: Path,
    films: Sequence[SmallFilm],
    printed: UInt8Array,
    *,
    size_mm: tuple[float, float],
    words: ProofWords,
) -> None:
    """Write the proof of a set as JPEG, 1080 pixels wide.

    Parameters
    ----------
    films : in print order
    printed : (H, W, 3) uint8, sRGB, the expected print of the art as it lies on the sheet, of
        whatever resolution; some 1000 columns are as fine as it is shown
    size_mm : width and height of what ``printed`` shows, millimeters
    words : title, facts and warnings of the set, and by how much the pictures are turned so that
        the art stands upright
    """
    sideways = words.turn != 0
    size = _fitting(size_mm, (INSIDE, _HIGHEST_PRINT), sideways=sideways)
    small = [
        Captioned(
            turned_quarters(Image.fromarray(coded(film.light)).convert("RGB"), words.turn),
            _square_of(swatch_color(film.color)),
            ProofCaption.FILM_OF_INK.say(k=film.k, of=film.of, ink=film.ink),
        )
        for film in films
    ]
    large = turned_quarters(_resized(printed, size), words.turn)
    caption = ProofCaption.ALL_INKS.say()
    page = set_proof_page(large, caption, small, words, _columns(len(films)))
    page.save(path, "JPEG", quality=85, subsampling=0)  # full color, for swatches and edges


def _columns(films: int) -> int:
    """How many films stand beside each other, so that rows are about even."""
    return 2 if films in {1, 2, 4} else 3


def _fitting(
    size: tuple[float, float], room: tuple[int, int], *, sideways: bool
) -> tuple[int, int]:
    """Width and height in pixels, before the turn, of what has to find room after it."""
    wide, high = room[::-1] if sideways else room
    scale = min(wide / size[0], high / size[1])
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _resized(printed: UInt8Array, size: tuple[int, int]) -> Image.Image:
    """The picture at that size. Light is what averages, so it is filtered as light."""
    light = srgb_to_linear(printed / 255).astype(np.float32)
    channels = [
        coded(np.asarray(Image.fromarray(one).resize(size, Image.Resampling.BICUBIC)))
        for one in np.moveaxis(light, -1, 0)
    ]
    return Image.fromarray(np.stack(channels, axis=-1))


def _square_of(color: Color) -> Symbol:
    def draw_square(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
        box = (at[0] - _SIDE, at[1] - _SIDE, at[0] + _SIDE, at[1] + _SIDE)
        draw.rectangle(box, fill=color, outline=_EDGE, width=2)

    return draw_square

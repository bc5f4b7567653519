"""The colors of art on its cloth, read by the way that every file is read.

The reader gives one plane of coded gray at a time, laid over white. Art is read once for each color
and once for its opacity, so that whatever it opens is opened here with the same color management,
and the cloth takes the place of the white that shows. Pictures are laid over white in linear light;
what draws the commands of a drawing, or flattened a layered file, blends codes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from filmhand.arrays import Float64Array, UInt8Array, UInt16Array
from filmhand.art.drawings.vector import Sizing
from filmhand.art.files.file_types import FileType
from filmhand.art.files.open_art import open_art
from filmhand.art.files.pixel_layouts import no_transparency
from filmhand.art.opened_art import Art
from filmhand.art.raster import row_strips
from filmhand.errors import Refused
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel
from filmhand.tone import FULL, linear_table, linear_to_srgb, srgb_to_linear
from filmhand.values import dataclass

_STRIP_PIXELS = 96_000
_COLORS = (Channel.RED, Channel.GREEN, Channel.BLUE)
_BLENDED_CODES = {FileType.SVG.value, FileType.PDF.value, FileType.LAYERED.value}


@dataclass(slots=True, eq=False)
class ArtColors:
    """Art in color, upright, on the cloth.

    Attributes
    ----------
    codes : (H, W, 3) uint16, sRGB; an 8-bit code g is exactly 257 g
    ppi : own resolution across and down, None where the file gives none worth believing
    format : what the content is, whatever the name says
    notes : plain sentences: what was decided, assumed or left out
    see_through : whether any cloth shows that is not white
    """

    codes: UInt16Array
    ppi: tuple[float, float] | None
    format: str
    notes: list[str]
    see_through: bool


def colors_of_art(
    path: Path,
    *,
    name: str,
    limits: Limits,
    cloth: Float64Array,
    page: int = 0,
    sizing: Sizing | None = None,
) -> ArtColors:
    """The colors of the art at ``path``.

    Parameters
    ----------
    cloth : (3,) float64, sRGB codes 0..1, what shows where art is see-through
    name, limits, page, sizing : as for :func:`filmhand.art.files.open_art.open_art`, and so is what
        is raised, but that art may be opaque
    """

    def plane(channel: Channel) -> Art:
        return open_art(path, name=name, limits=limits, channel=channel, page=page, sizing=sizing)

    first = plane(_COLORS[0])
    codes = np.empty((*first.coded.shape, 3), np.uint16)
    codes[..., 0] = first.coded
    for place, channel in enumerate(_COLORS[1:], 1):
        codes[..., place] = plane(channel).coded
    if (cloth == 1).all():  # white lies below already
        return ArtColors(codes, first.ppi, first.format, first.notes, see_through=False)
    try:
        clear = plane(Channel.ALPHA).coded
    except Refused as refusal:
        if str(refusal) != str(no_transparency(name)):
            raise
        return ArtColors(codes, first.ppi, first.format, first.notes, see_through=False)
    lay_on_cloth(codes, clear, cloth, in_light=first.format not in _BLENDED_CODES)
    return ArtColors(codes, first.ppi, first.format, first.notes, bool(clear.any()))


def lay_on_cloth(
    codes: UInt16Array, clear: UInt16Array, cloth: Float64Array, *, in_light: bool
) -> None:
    """Have the cloth show where white does now, in place.

    Parameters
    ----------
    codes : (H, W, 3) uint16, sRGB codes of art that was laid over white
    clear : (H, W) uint16, how much of the ground shows, 65535 for all of it
    cloth : (3,) float64, sRGB codes 0..1
    in_light : whether it was laid over white in linear light, else by its codes
    """
    values = linear_table() if in_light else np.arange(FULL + 1) / FULL
    missing = 1 - (srgb_to_linear(cloth) if in_light else cloth)
    for rows in row_strips(clear.shape, _STRIP_PIXELS):
        shown = clear[rows] > 0
        part = codes[rows]
        share = clear[rows][shown].astype(np.float64)[:, None] / FULL
        laid = np.clip(values[part[shown]] - share * missing, 0, 1)
        part[shown] = np.rint((linear_to_srgb(laid) if in_light else laid) * FULL)


def eight_bits(codes: UInt16Array) -> UInt8Array:
    """The nearest 8-bit codes; 257 g becomes exactly g."""
    return np.rint(codes / 257).astype(np.uint8)

"""The colors of a scan or photograph, at no more pixels than a reading makes use of.

A letter sheet at 1200 ppi has 135 million pixels, of which tones need every sixteenth. Each color
is read, made smaller and let go before the next, and large files are decoded in strips where a
library can, so memory follows what a reading needs and not what the scanner gave.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, sqrt
from pathlib import Path

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.art.files.open_art import open_art
from filmhand.art.opened_art import Art
from filmhand.art.raster import row_strips
from filmhand.errors import Reason, Refused
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel
from filmhand.tone import FULL, linear_table, linear_to_srgb
from filmhand.values import dataclass

MOST_SCAN_PIXELS = 40_000_000
"""Pixels up to which a scan is read as it is: a letter sheet at 600 ppi has 34 million."""
_MEMORY = 960 * 2**20  # bytes, above which a file is decoded in strips instead of whole
_STRIP_PIXELS = 1_000_000
_COLORS = (Channel.RED, Channel.GREEN, Channel.BLUE)
_STEPS = 1 << 16


@dataclass(frozen=True, slots=True, eq=False)
class ScanColors:
    """A scan in color, upright, on white.

    Attributes
    ----------
    codes : (H, W, 3) uint16, sRGB
    ppi : own resolution of ``codes`` across and down, None where the file gives none
    shrunk : how many pixels of the file, each way, became one
    """

    codes: UInt16Array
    ppi: tuple[float, float] | None
    shrunk: int


def colors_of_scan(path: Path, *, name: str, limits: Limits) -> ScanColors:
    """The colors of the scan at ``path``; raises as ``open_art``."""
    codes, shrunk, ppi = np.empty((0, 0, 3), np.uint16), 1, None
    for place, channel in enumerate(_COLORS):
        art = _plane(path, name, limits, channel)
        if not place:
            shrunk, ppi = ceil(sqrt(art.coded.size / MOST_SCAN_PIXELS)), art.ppi
            shrunk = min(shrunk, *art.coded.shape)  # so thin a picture shows no wedge, but is one
            height, width = (side // shrunk for side in art.coded.shape)
            codes = np.empty((height, width, 3), np.uint16)
        shrink(art.coded, shrunk, codes[..., place])
        del art
    return ScanColors(codes, ppi and (ppi[0] / shrunk, ppi[1] / shrunk), shrunk)


def _plane(path: Path, name: str, limits: Limits, channel: Channel) -> Art:
    """One color; in strips where it is large, unless that takes more than the profile allows."""
    if limits.memory > _MEMORY:
        try:
            small = replace(limits, memory=_MEMORY)
            return open_art(path, name=name, limits=small, channel=channel)
        except Refused as refusal:
            if refusal.reason is not Reason.TOO_BIG:
                raise
    return open_art(path, name=name, limits=limits, channel=channel)


def shrink(codes: UInt16Array, by: int, out: UInt16Array) -> None:
    """Fill in the mean light of each square of ``by`` x ``by`` pixels; what is left over is cut.

    Parameters
    ----------
    codes : (H, W) uint16, sRGB codes
    out : (H // by, W // by) uint16, sRGB codes
    """
    if by == 1:
        out[...] = codes
        return
    light = linear_table().astype(np.float32)
    coded = np.rint(linear_to_srgb(np.arange(_STEPS + 1) / _STEPS) * FULL).astype(np.uint16)
    width = out.shape[1]
    for rows in row_strips(out.shape, max(1, _STRIP_PIXELS // by**2)):
        part = codes[rows.start * by : rows.stop * by, : width * by]
        squares = light[part].reshape(rows.stop - rows.start, by, width, by)
        out[rows] = coded[np.rint(squares.mean(axis=(1, 3)) * _STEPS).astype(np.int32)]

"""Lines of text, put together of letters that were each drawn once.

The library for pictures draws every letter of a line anew, and measures it before; a proof has some
hundred of a few kinds. Where its letters stand on whole pixels, a line of them is the same, to the
bit, as the line that it draws.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import ceil, modf
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from filmhand.arrays import UInt8Array
from filmhand.values import dataclass

_ADDED_UP = ImageFont.Layout.BASIC  # the layout that sets letter after letter
_KEPT = 1 << 11  # letters


@dataclass(frozen=True, slots=True)
class _Letter:
    """Its ink, (h, w) uint8, and where that begins, from its place and from its frame's top."""

    ink: UInt8Array
    left: int
    top: int


def is_added_up(font: object) -> bool:
    """Whether a line in this font is as long as the steps from letter to letter are together."""
    return isinstance(font, ImageFont.FreeTypeFont) and font.layout_engine == _ADDED_UP


def draw_line(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    fill: Any,
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
    anchor: str,
) -> None:
    """As ``draw.text`` does, with the same bits, for one line; ``anchor`` is ``la`` or ``ls``."""
    composed = None
    # Letters without shades are set to fractions of a pixel by the library.
    if draw.fontmode == "L" and text.isprintable() and at[0] == int(at[0]) and at[1] >= 0:
        composed = _composed(text, font, anchor, modf(at[1])[0])
    if composed is None:
        draw.text(at, text, fill=fill, font=font, anchor=anchor)
        return
    ink, left, top = composed
    if ink.size:
        draw.bitmap((int(at[0]) + left, int(at[1]) + top), Image.fromarray(ink), fill)


def _composed(
    text: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont, anchor: str, fraction: float
) -> tuple[UInt8Array, int, int] | None:
    """The ink of a line, and where it begins from its place; None where it cannot be told so."""
    if not isinstance(font, ImageFont.FreeTypeFont) or not is_added_up(font):
        return None
    steps = [step(pair, font) for pair in map("".join, pairwise(text))]
    if not all(one == int(one) for one in steps):
        return None
    frame = ceil(font.size)
    line = np.zeros((3 * frame, int(sum(steps)) + 4 * frame), np.uint8)
    place, reached, first, last = frame, 0, 3 * frame, 0
    for letter, width in zip(text, [*steps, 0.0], strict=False):
        drawn = _letter(letter, font, anchor, fraction)
        if drawn is not None:
            height, wide = drawn.ink.shape
            left = place + drawn.left
            part = line[drawn.top : drawn.top + height, left : left + wide]
            part[...] = drawn.ink if left >= reached else _laid_over(part, drawn.ink)
            reached = max(reached, left + wide)
            first, last = min(first, drawn.top), max(last, drawn.top + height)
        place += int(width)
    return line[first:last, :reached], -frame, first - frame


def _laid_over(below: UInt8Array, ink: UInt8Array) -> UInt8Array:
    """What both cover, as the library rounds it: a + b - ab of shares of 255."""
    bare = (255 - below.astype(np.int32)) * ink + 128
    covered: UInt8Array = (below + (((bare >> 8) + bare) >> 8)).astype(np.uint8)
    return covered


@lru_cache(maxsize=_KEPT)
def _letter(
    letter: str, font: ImageFont.FreeTypeFont, anchor: str, fraction: float
) -> _Letter | None:
    """A letter in a frame that reaches the font's size beyond its place; None without any ink."""
    frame = ceil(font.size)
    picture = Image.new("L", (3 * frame, 3 * frame))
    ImageDraw.Draw(picture).text((frame, frame + fraction), letter, 255, font, anchor=anchor)
    box = picture.getbbox()
    if box is None:
        return None
    left, top, right, bottom = box
    ink = np.asarray(picture)[top:bottom, left:right].copy()
    return _Letter(ink, left - frame, top)


@lru_cache(maxsize=1 << 14)
def step(pair: str, font: ImageFont.FreeTypeFont) -> float:
    """From a letter to the one beside it, or the width of one that is alone.

    In whole 64ths of a pixel, so that sums are exact.
    """
    return font.getlength(pair) - font.getlength(pair[1:])


def keep_letters(letters: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont) -> None:
    """Draw letters once, as they stand on lines that are a quarter of a pixel apart and more."""
    if isinstance(font, ImageFont.FreeTypeFont):
        for letter in letters:
            for quarter in range(4):
                _letter(letter, font, "la", quarter / 4)

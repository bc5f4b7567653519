"""Letters that the font lacks and that Spanish or micrometers need, drawn of those that it has.

An accent is drawn over its letter, and the sign for micro is a u with a longer first stem; the
inverted marks are the upright ones turned by half.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from itertools import pairwise
from math import ceil
from typing import Any

from PIL import Image, ImageDraw, ImageFont

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

_ADDED_UP = ImageFont.Layout.BASIC  # the layout that sets letter after letter

_TURNED = {"¿": "?", "¡": "!"}
_BASES = {letter: unicodedata.normalize("NFD", letter)[0] for letter in "áéíóúüñÁÉÍÓÚÜÑ"}
_MICRO = {"µ": "u"}
_PLAIN = str.maketrans(_BASES | _TURNED | _MICRO)
DRAWN = frozenset(_BASES) | frozenset(_TURNED) | frozenset(_MICRO)
"""The letters beyond ASCII that can be drawn."""
# Of a font's size: how high its letters are.
_SMALL, _CAPITAL = 0.55, 0.7
# Strokes of each accent over the middle of a letter, as (across, up) of the font's size.
_STROKES = {
    "\u0301": (((-0.03, 0.05), (0.1, 0.19)),),
    "\u0303": (((-0.16, 0.08), (-0.07, 0.15), (0.05, 0.09), (0.15, 0.16)),),
    "\u0308": (((-0.12, 0.07), (-0.12, 0.16)), ((0.12, 0.07), (0.12, 0.16))),
}
_FLAT = 0.6  # how much of their height is left over capitals
_THICK = 0.08
_STEM = 0.2  # how far the stem of the sign for micro reaches down


@lru_cache(maxsize=32)
def font_of(size: float) -> Font:
    """The font inside Pillow at a size, the same object each time: what is measured of it stays."""
    return ImageFont.load_default(size)


def length_of(text: str, font: Font) -> float:
    """The width of a text in pixels."""
    plain = text.translate(_PLAIN)
    if not isinstance(font, ImageFont.FreeTypeFont) or font.layout_engine != _ADDED_UP:
        return font.getlength(plain)
    # Each letter is as far from the next as the two have it, in whole 64ths of a pixel, so that the
    # sum is exact. To measure a letter takes as long as to draw it, and lines are broken by trial.
    steps = (_step(pair, font) for pair in map("".join, pairwise(plain)))
    return sum(steps) + _step(plain[-1:], font)


@lru_cache(maxsize=1 << 14)
def _step(pair: str, font: ImageFont.FreeTypeFont) -> float:
    """From a letter to the one beside it, or the width of one that is alone."""
    return font.getlength(pair) - font.getlength(pair[1:])


def draw_text(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    fill: Any,
    font: Font,
    *,
    paper: Any = 0,
    anchor: str = "la",
) -> None:
    """Draw a line of text as the library for pictures does, with the letters that its font lacks.

    ``paper`` is the color around it; ``anchor`` is ``la`` where its top lies at the place, ``ls``
    where its base line does.
    """
    if DRAWN.isdisjoint(text):
        draw.text(at, text, fill=fill, font=font, anchor=anchor)
        return
    assert isinstance(font, ImageFont.FreeTypeFont)
    left, base = at[0], at[1] + (font.getmetrics()[0] if anchor == "la" else 0)
    for run in re.findall(r"[¿¡]|[^¿¡]+", text):
        if run in _TURNED:
            _draw_turned(draw, (left, base), _TURNED[run], fill, font)
        else:
            draw.text((left, base), run.translate(_PLAIN), fill=fill, font=font, anchor="ls")
            for place, letter in enumerate(run):
                first = left + length_of(run[:place], font)
                if letter in _BASES:
                    _draw_accent(draw, letter, (first, base), (fill, paper), font)
                elif letter in _MICRO:
                    _draw_stem(draw, (first, base), fill, font)
        left += length_of(run, font)


def _draw_stem(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], fill: Any, font: ImageFont.FreeTypeFont
) -> None:
    """What a u lacks of the sign for micro, below the base line."""
    glyph = Image.new("1", (ceil(font.getlength("u")), ceil(font.size)))
    ImageDraw.Draw(glyph).text((0, font.size), "u", 1, font, anchor="ls")
    left = round(at[0]) + (glyph.getbbox() or (0,))[0]
    right = left + max(1, round(_THICK * font.size)) - 1
    draw.rectangle((left, round(at[1] - _STEM * font.size), right, at[1] + _STEM * font.size), fill)


def _draw_turned(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    sign: str,
    fill: Any,
    font: ImageFont.FreeTypeFont,
) -> None:
    """The sign turned by half, so that it hangs as far below the base line as others stand up."""
    left, top, right, bottom = font.getbbox(sign, anchor="ls")
    glyph = Image.new("1", (ceil(right - left), ceil(bottom - top)))
    drawn = ImageDraw.Draw(glyph)
    drawn.fontmode = "1"
    drawn.text((-left, -top), sign, 1, font, anchor="ls")
    place = round(at[0]), round(at[1] - _SMALL * font.size)
    draw.bitmap(place, glyph.transpose(Image.Transpose.ROTATE_180), fill)


def _draw_accent(
    draw: ImageDraw.ImageDraw,
    letter: str,
    at: tuple[float, float],
    colors: tuple[Any, Any],
    font: ImageFont.FreeTypeFont,
) -> None:
    parts = unicodedata.normalize("NFD", letter)
    base, accent = parts[0], parts[1]
    size, width = font.size, font.getlength(base)
    middle = at[0] + width / 2
    top = at[1] - (_CAPITAL if base.isupper() else _SMALL) * size
    if base == "i":  # its own dot gives way
        draw.rectangle((at[0], top - 0.25 * size, at[0] + width - 1, top - 0.02 * size), colors[1])
    flat = _FLAT if base.isupper() else 1.0
    for stroke in _STROKES[accent]:
        points = [(middle + across * size, top - up * flat * size) for across, up in stroke]
        draw.line(points, colors[0], max(1, round(_THICK * size)))

"""Lines that are put together of letters are those of the library for pictures, to the bit."""

from __future__ import annotations

import random
import string

import pytest
from PIL import Image, ImageChops, ImageDraw

from filmhand.sheet import composed_text
from filmhand.sheet.accents import font_of
from filmhand.sheet.composed_text import draw_line

_LETTERS = string.printable[:95] + "°"


def lines():
    chance = random.Random(3)
    pairs = [a + b for a in _LETTERS for b in _LETTERS]
    chance.shuffle(pairs)
    return ["".join(pairs[k : k + 30]) for k in range(0, len(pairs), 30)]


def drawn(draw_one, mode, color, places):
    picture = Image.new(mode, (2400, 40 * len(places) + 80))
    draw = ImageDraw.Draw(picture)
    if mode == "1":
        draw.fontmode = "1"
    for number, (text, x, fraction, size, anchor) in enumerate(places):
        at = (x, 40 * number + 40 + fraction)
        draw_one(draw, at, text, color, font_of(size), anchor)
    return picture


def by_library(draw, at, text, color, font, anchor):
    draw.text(at, text, fill=color, font=font, anchor=anchor)


@pytest.mark.parametrize(("mode", "color"), [("RGB", (150, 20, 20)), ("L", 200), ("1", 1)])
def test_a_line_is_as_the_library_draws_it(mode, color):
    # Begun left of the picture, too, and on fractions of a pixel.
    kinds = [(20, 0, 31, "la"), (-3, 0.25, 38.75, "la"), (7, 0.5, 10, "ls"), (20.5, 0.75, 31, "ls")]
    places = [
        (text, *kinds[number % len(kinds)])
        for number, text in enumerate([*lines(), "", " ", "a ", " j"])
    ]
    found, wanted = (drawn(one, mode, color, places) for one in (draw_line, by_library))
    assert wanted.getbbox() is not None
    assert ImageChops.difference(found.convert("RGB"), wanted.convert("RGB")).getbbox() is None


def test_letters_are_drawn_once(monkeypatch):
    font = font_of(23)
    draw = ImageDraw.Draw(Image.new("L", (300, 60)))
    draw_line(draw, (0, 0), "abcab", 255, font, "la")
    monkeypatch.setattr(composed_text.ImageDraw, "Draw", None)  # which draws further ones
    draw_line(draw, (0, 8), "cbacba", 255, font, "la")
    with pytest.raises(TypeError):
        draw_line(draw, (0, 8), "abcd", 255, font, "la")

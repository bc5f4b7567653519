"""Letters on films and proofs: names made drawable, and lines fitted to the room there is.

The font is the one inside Pillow, so that every computer draws the same; it has little beyond
ASCII, and :mod:`filmhand.sheet.accents` what Spanish and micrometers need more.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from collections.abc import Sequence
from math import ceil

import numpy as np
from PIL import Image, ImageDraw

from filmhand.arrays import BoolArray
from filmhand.sheet.accents import DRAWN, Font, draw_text, font_of, length_of
from filmhand.sheet.layout import in_pixels
from filmhand.units import PixelsPerInch

_TEXT_MM = 2.1
_LONGEST_LINE = 500  # letters
_ALSO_THERE = DRAWN | {"°"}
# What Unicode does not take apart.
_FOLDED = str.maketrans(
    {
        "μ": "µ", "ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o",
        "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ð": "d", "Ð": "D", "þ": "th",
        "Þ": "Th", "ı": "i", "‘": "'", "’": "'", "“": '"', "”": '"',
        "«": '"', "»": '"', "–": "-", "—": "-",
        "×": "x", "…": "...",
    }
)  # fmt: skip
# Of a font's size: how far its letters reach above and below the base line, and a little between.
_ABOVE, _BELOW = 0.79, 0.24
_LARGEST_LABEL_MM, _SMALLEST_LABEL_MM = 3.4, 1.8
"""Sizes of the label's letters (common practice, no source)."""
SEPARATOR = " | "


def plain_text(text: str) -> str:
    """The text in ASCII, Spanish letters, µ and degrees, which is all that can be drawn."""
    if text.isascii() and text.isprintable():
        return text  # as most are
    composed = unicodedata.normalize("NFC", text.translate(_FOLDED))
    kept = "".join(c if c in _ALSO_THERE else _without_marks(c) for c in composed)
    return "".join(c if " " <= c <= "~" or c in _ALSO_THERE else "?" for c in kept)


def _without_marks(letter: str) -> str:
    folded = unicodedata.normalize("NFKD", letter)
    return "".join(c for c in folded if not unicodedata.combining(c))


def text_bits(
    lines: list[str],
    width: int,
    height: int,
    pitch: int,
    dpi: PixelsPerInch,
    *,
    tall_mm: float = _TEXT_MM,
) -> BoolArray:
    """Lines of text, (height, width) bool; what is too long for a line ends in dots.

    ``pitch`` is the rows from line to line, ``tall_mm`` the height of letters where it allows that.
    """
    # Four fifths of the line pitch leaves room for the descenders of the last line.
    size = max(8, min(in_pixels(tall_mm * 1.25, dpi)[1], pitch * 4 // 5))
    font = font_of(size)
    square = _square_width(width, dpi)
    cut = [shortened(plain_text(line), font, square) for line in lines]
    return _drawn(cut, (width, height), square, font, [n * pitch for n in range(len(cut))], "la")


def label_bits(lines: list[str], width: int, height: int, dpi: PixelsPerInch) -> BoolArray:
    """The label, (height, width) bool, in letters as large as its words leave room for.

    Words that fit in fewer lines get larger letters; then the lines are one text, which breaks
    where one thing told ends. Where even the smallest letters want more room, each line stays by
    itself and ends in dots.
    """
    told = [plain_text(line) for line in lines]
    square = _square_width(width, dpi)
    whole = SEPARATOR.join(told).split(SEPARATOR)
    largest, smallest = (in_pixels(mm, dpi)[1] for mm in (_LARGEST_LABEL_MM, _SMALLEST_LABEL_MM))
    for count in range(1, len(told) + 1):
        pitch = height // count
        size = min(largest, int(pitch / (_ABOVE + _BELOW)))
        # Letters between two sizes of line still fill the lines better than smaller ones.
        for tried in range(size, max(smallest, height // (count + 1)), -max(1, size // 20)):
            font = font_of(max(8, tried))
            rows = _flowed(whole, font, square)
            if len(rows) <= count:
                return _lines_drawn(rows, (width, height), square, font, max(8, tried))
    size = max(8, int(height // max(1, len(told)) / (_ABOVE + _BELOW)))
    font = font_of(size)
    cut = [shortened(line, font, square) for line in told]
    return _lines_drawn(cut, (width, height), square, font, size)


def paragraph_bits(
    paragraphs: Sequence[str], width: int, dpi: PixelsPerInch, *, tall_mm: float
) -> BoolArray:
    """Paragraphs in letters of one height, broken into lines of a width; as high as it takes."""
    size = max(8, in_pixels(tall_mm * 1.25, dpi)[1])
    font = font_of(size)
    square = _square_width(width, dpi)
    rows = [row for text in paragraphs for row in wrapped(plain_text(text), font, square)]
    return _lines_drawn(rows, (width, ceil(size * 1.25) * len(rows)), square, font, size)


def _lines_drawn(
    rows: list[str], shape: tuple[int, int], square: int, font: Font, size: int
) -> BoolArray:
    pitch = shape[1] / max(1, len(rows))
    spare = (pitch - size * (_ABOVE + _BELOW)) / 2
    places = [int(number * pitch + spare + size * _ABOVE) for number in range(len(rows))]
    return _drawn(rows, shape, square, font, places, "ls")


def _square_width(width: int, dpi: PixelsPerInch) -> int:
    """Text is drawn on square pixels of the finer direction's pitch, then squeezed."""
    return max(1, round(width / (dpi.x / dpi.y)))


def _drawn(
    rows: list[str], shape: tuple[int, int], square: int, font: Font, places: list[int], anchor: str
) -> BoolArray:
    width, height = shape
    image = Image.new("1", (square, height))
    draw = ImageDraw.Draw(image)
    draw.fontmode = "1"
    for row, place in zip(rows, places, strict=True):
        draw_text(draw, (0, place), row, 1, font, anchor=anchor)
    if image.width != width:
        image = image.resize((width, height), Image.Resampling.NEAREST)
    return np.asarray(image)


def shortened(text: str, font: Font, width: int) -> str:
    """The text, or as much of it as the width has room for, with dots at its end."""
    if len(text) <= _LONGEST_LINE and length_of(text, font) <= width:
        return text
    text = text[:_LONGEST_LINE]
    too_long = bisect_right(
        range(len(text) + 1), width, key=lambda kept: ceil(length_of(text[:kept] + "...", font))
    )
    return text[: max(0, too_long - 1)] + "..."


def _flowed(fields: Sequence[str], font: Font, width: int) -> list[str]:
    """The fields in lines of a width; one that is longer than a line goes on in the next."""
    rows = [""]
    for told in fields:
        joined = rows[-1] + SEPARATOR + told if rows[-1] else told
        if len(joined) <= _LONGEST_LINE and length_of(joined, font) <= width:
            rows[-1] = joined
            continue
        broken = wrapped(told, font, width)
        rows[-1:] = broken if not rows[-1] else [rows[-1], *broken]
    return rows


def wrapped(text: str, font: Font, width: int) -> list[str]:
    """The text in lines of a width, broken at blanks, and within words that are longer."""
    rows = [""]
    for word in text.split():
        rest = word
        joined = f"{rows[-1]} {rest}" if rows[-1] else rest
        if length_of(joined, font) <= width:
            rows[-1] = joined
            continue
        if rows[-1]:
            rows.append("")
        while length_of(rest, font) > width:
            kept = max(
                1,
                bisect_right(
                    range(len(rest) + 1), width, key=lambda n: ceil(length_of(rest[:n], font))
                )
                - 1,
            )
            # A name is parted after one of its own signs, if one stands near the end of the line.
            signs = [at + 1 for at in range(kept // 2, kept) if rest[at] in "-_./"]
            kept = max(signs, default=kept)
            rows[-1:] = [rest[:kept], ""]
            rest = rest[kept:]
        rows[-1] = rest
    return rows if rows[-1] or len(rows) == 1 else rows[:-1]

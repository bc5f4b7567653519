"""Two long bars to lay a steel rule along, and what to do with what it shows."""

from __future__ import annotations

from collections.abc import Callable
from math import floor

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.sheet.layout import Box
from filmhand.sheet.lettering import paragraph_bits
from filmhand.sheet.marks import Mark
from filmhand.units import MM_PER_INCH, PixelsPerInch, Resolution
from filmhand.values import dataclass

LONGEST_BAR_MM = 300
READS_TO_MM = 0.25
"""What a steel rule and a good eye tell apart (common practice, no source)."""
_LINE_MM, _TALLEST_LINE_MM = 0.1, 8.0
_SHARES = ((10, 0.7), (5, 0.45), (1, 0.3))  # of the tallest line, each so many millimeters
_BAND_MM = 13.0  # a bar with its numbers
_NUMBER_MM, _WORDS_MM = 2.0, 3.0
_FINEST_MM_LINES_DPI = 250  # below, lines a millimeter apart run together


@dataclass(frozen=True, slots=True)
class LongBars:
    """The marks of the film, and how long its two bars are in millimeters."""

    marks: tuple[Mark, ...]
    across_mm: int
    down_mm: int


def bar_length_mm(room_mm: float) -> int:
    """The longest bar that a room holds: 300 mm, or whole 50 mm, or on small sheets whole 10 mm.

    >>> bar_length_mm(420), bar_length_mm(284.9), bar_length_mm(49), bar_length_mm(8)
    (300, 250, 40, 0)
    """
    step = 50 if room_mm >= 50 else 10
    return min(LONGEST_BAR_MM, floor(room_mm / step) * step)


def long_bars(
    printable: Box, dpi: Resolution, words: Callable[[int, int], list[str]]
) -> LongBars | None:
    """The bars at the top and at the left of a printable area, and words beside them.

    Both bars begin with line 0. The upper or left edge of each line is the place that counts, so
    that ink which spreads changes nothing of what is measured. None where there is no room.

    Parameters
    ----------
    words : of the lengths in millimeters, paragraphs for the person with the rule
    """
    spare = 1.0  # for the last line beyond its place
    width_mm, height_mm = (
        printable.width / dpi.x * MM_PER_INCH,
        printable.height / dpi.y * MM_PER_INCH,
    )
    across, down = bar_length_mm(width_mm - spare), bar_length_mm(height_mm - _BAND_MM - spare)
    if not across or not down:
        return None
    lying = _bar(across, dpi)
    # The one that runs down is drawn lying, with the resolutions changed about, then turned.
    upright = np.ascontiguousarray(_bar(down, Resolution(dpi.y, dpi.x), numbers=False).T)
    band = round(_BAND_MM / MM_PER_INCH * dpi.x), round(_BAND_MM / MM_PER_INCH * dpi.y)
    left, top = printable.left, printable.top
    marks = [
        Mark(Box(left, top, lying.shape[1], lying.shape[0]), lying),
        Mark(Box(left, top + band[1], upright.shape[1], upright.shape[0]), upright),
        *_numbers_down(down, left + upright.shape[1], top + band[1], dpi),
    ]
    room = Box(
        left + band[0] + round(4 / MM_PER_INCH * dpi.x),
        top + band[1] + round(4 / MM_PER_INCH * dpi.y),
        printable.width - band[0] - round(4 / MM_PER_INCH * dpi.x),
        printable.height - band[1] - round(4 / MM_PER_INCH * dpi.y),
    )
    marks += words_in(room, words(across, down), dpi, tall_mm=_WORDS_MM)
    return LongBars(tuple(marks), across, down)


def words_in(room: Box, words: list[str], dpi: PixelsPerInch, *, tall_mm: float) -> list[Mark]:
    """Paragraphs at the top of a room, in smaller letters where it takes them, else none at all."""
    while tall_mm > 1.2 and room.width > 0:
        bits = paragraph_bits(words, room.width, dpi, tall_mm=tall_mm)
        if len(bits) <= room.height:
            return [Mark(Box(room.left, room.top, room.width, len(bits)), bits)]
        tall_mm *= 0.9
    return []


def _places(length_mm: int, along_dpi: float, every_mm: int) -> list[tuple[int, int]]:
    """(millimeter, pixel) of lines along a bar."""
    return [(mm, round(mm / MM_PER_INCH * along_dpi)) for mm in range(0, length_mm + 1, every_mm)]


def _bar(length_mm: int, dpi: Resolution, *, numbers: bool = True) -> BoolArray:
    """A bar that lies, its line 0 at the left edge; lines hang down from it, numbers under them."""
    line = max(1, round(_LINE_MM / MM_PER_INCH * dpi.x))
    tall = round(_TALLEST_LINE_MM / MM_PER_INCH * dpi.y)
    beam = max(1, round(0.3 / MM_PER_INCH * dpi.y))
    height = tall + (len(_number(0, dpi)) if numbers else 0)
    last = round(length_mm / MM_PER_INCH * dpi.x)
    bits = np.zeros((height, last + line), np.bool_)
    bits[:beam] = True
    for mm, at in _places(length_mm, dpi.x, 1 if dpi.x >= _FINEST_MM_LINES_DPI else 5):
        longest = mm % 50 == 0 or mm == length_mm
        share = 1.0 if longest else next(s for every, s in _SHARES if mm % every == 0)
        bits[: round(tall * share), at : at + line] = True
    if numbers:
        for mm, at in _places(length_mm, dpi.x, 10):
            text = _number(mm, dpi)
            # That of the last line stands before it, for there may be no room beyond.
            start = at - text.shape[1] if mm == length_mm else at
            bits[tall : tall + len(text), start : start + text.shape[1]] |= text
    return bits


def _number(mm: int, dpi: PixelsPerInch) -> BoolArray:
    """A number, no wider than its figures."""
    text = paragraph_bits([f"{mm}"], round(9 / MM_PER_INCH * dpi.x), dpi, tall_mm=_NUMBER_MM)
    return text[:, : np.flatnonzero(text.any(axis=0))[-1] + 1]


def _numbers_down(length_mm: int, left: int, top: int, dpi: Resolution) -> list[Mark]:
    """Numbers right of the lines of the bar that runs down; each under its line, the last above."""
    off = max(1, round(0.6 / MM_PER_INCH * dpi.x))
    marks = []
    for mm, at in _places(length_mm, dpi.y, 10):
        text = _number(mm, dpi)
        first = at - len(text) if mm == length_mm else at
        marks.append(Mark(Box(left + off, top + first, text.shape[1], len(text)), text))
    return marks

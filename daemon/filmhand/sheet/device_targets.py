"""Patterns of whole device pixels, which show what a printer really lays down of them.

Lines and checkers are half ink, dots are a sixteenth and shadow dots leave a sixteenth, whatever
their size: patches of one kind look alike to the plain eye where the printer draws every pixel.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.sheet.layout import Box, in_pixels
from filmhand.sheet.lettering import paragraph_bits
from filmhand.sheet.marks import Mark
from filmhand.sheet.sheet_words import PatternWord
from filmhand.units import Resolution
from filmhand.values import dataclass

LINE_SIZES = (1, 2, 3)
CHECKER_SIZES = (1, 2)
DOT_SIZES = (1, 2, 3, 4, 6, 8)
_DOT_PITCH = 4  # times its side
_PATCH_MM = (30.0, 20.0, 15.0, 12.0, 10.0)
"""Sides of a patch, the first that leaves room for all."""
_APART_MM, _CAPTION_MM, _CAPTION_ROOM_MM = 2.5, 1.7, 6.0
_FRAME_MM = 0.5


@dataclass(frozen=True, slots=True)
class PixelPattern:
    """A patch: what stands under it, and its bits for a width and a height in pixels."""

    caption: str
    draw: Callable[[int, int], BoolArray]
    large: bool = False


@dataclass(frozen=True, slots=True)
class PlacedPatch:
    """A patch on the sheet."""

    caption: str
    box: Box


def comb(width: int, height: int, *, size: int, upright: bool) -> BoolArray:
    """Lines of ``size`` pixels with gaps as wide; (height, width) bool, ink first.

    >>> comb(6, 1, size=1, upright=True).astype(int).tolist()
    [[1, 0, 1, 0, 1, 0]]
    """
    y, x = np.mgrid[:height, :width]
    bits: BoolArray = (x if upright else y) // size % 2 == 0
    return bits


def checker(width: int, height: int, *, size: int) -> BoolArray:
    """A checker of squares of ``size`` pixels, (height, width) bool."""
    y, x = np.mgrid[:height, :width]
    bits: BoolArray = (x // size + y // size) % 2 == 0
    return bits


def squares(width: int, height: int, *, size: int, ink: bool) -> BoolArray:
    """Separate squares of ``size`` pixels, four sides apart: dots, or shadow dots in a solid."""
    y, x = np.mgrid[:height, :width]
    inside = (x // size % _DOT_PITCH == 1) & (y // size % _DOT_PITCH == 1)
    bits: BoolArray = inside if ink else ~inside
    return bits


def single_lines(width: int, height: int, *, upright: bool, ink: bool) -> BoolArray:
    """A line (or a gap in a solid) of each size by itself."""
    long, short = (height, width) if upright else (width, height)
    across = np.zeros(short, np.bool_)
    for number, size in enumerate(LINE_SIZES):
        at = short * (number + 1) // (len(LINE_SIZES) + 1)
        across[at : at + size] = True
    row = np.broadcast_to(across if ink else ~across, (long, short))
    bits: BoolArray = np.ascontiguousarray(row if upright else row.T)
    return bits


def solid(width: int, height: int) -> BoolArray:
    """All ink."""
    return np.ones((height, width), np.bool_)


def blank(width: int, height: int) -> BoolArray:
    """No ink."""
    return np.zeros((height, width), np.bool_)


def targets() -> list[PixelPattern]:
    """All patches, in the order in which they lie on the sheet."""
    found = [
        PixelPattern(PatternWord.SOLID.say(), solid, large=True),
        PixelPattern(PatternWord.CLEAR.say(), blank, large=True),
    ]
    for upright, lines in ((True, PatternWord.LINES_UPRIGHT), (False, PatternWord.LINES_LYING)):
        for size in LINE_SIZES:
            draw = partial(comb, size=size, upright=upright)
            found.append(PixelPattern(lines.say(size=size), draw))
    for size in CHECKER_SIZES:
        found.append(PixelPattern(PatternWord.CHECKER.say(size=size), partial(checker, size=size)))
    sizes = ", ".join(map(str, LINE_SIZES))
    for ink, upright, single in (
        (True, True, PatternWord.SINGLE_LINES_UPRIGHT),
        (True, False, PatternWord.SINGLE_LINES_LYING),
        (False, True, PatternWord.SINGLE_GAPS_UPRIGHT),
        (False, False, PatternWord.SINGLE_GAPS_LYING),
    ):
        draw = partial(single_lines, upright=upright, ink=ink)
        found.append(PixelPattern(single.say(sizes=sizes), draw))
    for ink, dots in ((True, PatternWord.DOTS), (False, PatternWord.SHADOW_DOTS)):
        for size in DOT_SIZES:
            draw = partial(squares, size=size, ink=ink)
            found.append(PixelPattern(dots.say(size=size), draw))
    return found


def lay_targets(room: Box, dpi: Resolution) -> tuple[list[Mark], list[PlacedPatch], int] | None:
    """Marks of all patches, their places, and the first row below; None where there is no room.

    The large patches share a row of their own.
    """
    for side_mm in _PATCH_MM:
        laid = _laid(room, dpi, side_mm)
        if laid is not None:
            return laid
    return None


def _laid(
    room: Box, dpi: Resolution, side_mm: float
) -> tuple[list[Mark], list[PlacedPatch], int] | None:
    side, apart = in_pixels(side_mm, dpi), in_pixels(_APART_MM, dpi)
    caption = in_pixels(_CAPTION_ROOM_MM, dpi)[1]
    step = side[0] + apart[0], side[1] + caption
    columns = (room.width + apart[0]) // step[0]
    if columns < 2:
        return None
    marks, places = [], []
    all_of_them = targets()
    large = [target for target in all_of_them if target.large]
    wide = (room.width - apart[0]) // 2
    tall = side[1] * 3 // 2
    small = [target for target in all_of_them if not target.large]
    rows = -(-len(small) // columns)
    below = room.top + tall + caption + rows * step[1]
    if below > room.bottom:
        return None
    boxes = [Box(room.left + n * (wide + apart[0]), room.top, wide, tall) for n in range(2)]
    boxes += [
        Box(
            room.left + number % columns * step[0],
            room.top + tall + caption + number // columns * step[1],
            *side,
        )
        for number in range(len(small))
    ]
    for target, box in zip([*large, *small], boxes, strict=True):
        bits = target.draw(box.width, box.height)
        marks.append(Mark(box, bits))
        places.append(PlacedPatch(target.caption, box))
        marks += _beside(target, box, dpi, caption)
    return marks, places, below


def _beside(target: PixelPattern, box: Box, dpi: Resolution, room: int) -> list[Mark]:
    """The caption under a patch; around a clear one a frame too, so that it is seen."""
    tall = _CAPTION_MM
    text = paragraph_bits([target.caption], box.width, dpi, tall_mm=tall)
    while len(text) > room * 9 // 10 and tall > 1:
        tall *= 0.9
        text = paragraph_bits([target.caption], box.width, dpi, tall_mm=tall)
    text = text[:room]
    gap = in_pixels(0.4, dpi)[1]
    marks = [Mark(Box(box.left, box.bottom + gap, box.width, len(text)), text)]
    if target.draw is blank:
        across, down = (max(1, pixels) for pixels in in_pixels(_FRAME_MM, dpi))
        frame = np.ones((box.height, box.width), np.bool_)
        frame[down:-down, across:-across] = False
        marks.append(Mark(box, frame))
    return marks

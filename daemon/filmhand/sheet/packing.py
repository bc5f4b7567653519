"""Where several art files lie on one sheet, each with room for its label below it."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

import rpack  # type: ignore[import-untyped]

from filmhand.sheet.layout import Box, placed, sheet_boxes
from filmhand.sheet.lettering import text_bits
from filmhand.sheet.marks import Mark
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

LINE_MM = 2.5
LABEL_LINES = 3
# Between art and label, and the least width in which a label can be read.
_APART_MM, _READABLE_MM = 1.0, 45.0


@dataclass(frozen=True, slots=True)
class Cell:
    """An art's place with that of its label, which is None where the profile wants none."""

    art: Box
    label: Box | None


def cells_of(
    profile: Profile, sizes: Sequence[tuple[int, int]], *, gap_mm: float
) -> tuple[list[int], list[Cell]]:
    """As many art files as fit on one sheet, in the order given, and their places.

    One that does not fit beside those before it is passed over, and the next is tried.

    Parameters
    ----------
    sizes : (width, height) of each art in device pixels
    gap_mm : least distance between one art with its label and the next

    Returns
    -------
    the numbers of those that fit, rising, and a cell for each of them; cells share no pixel and lie
    in the room that margin and marks leave
    """
    free, gap = sheet_boxes(profile)[3], _pixels(gap_mm, profile.acetate_dpi)
    wholes = [_with_label(profile, size) for size in sizes]
    # The gap belongs to each cell's right and lower edge, so the sheet has one to spare.
    apart = [(width + gap[0], height + gap[1]) for width, height in wholes]
    room = free.width + gap[0], free.height + gap[1]
    chosen: list[int] = []
    places: list[tuple[int, int]] = []
    for number in range(len(sizes)):
        tried = _packed([apart[n] for n in (*chosen, number)], room)
        if tried is not None:
            chosen, places = [*chosen, number], tried
    if not chosen:
        return [], []
    ends = [(x + wholes[n][0], y + wholes[n][1]) for n, (x, y) in zip(chosen, places, strict=True)]
    whole = placed(free, (max(x for x, _ in ends), max(y for _, y in ends)), profile.art.place)
    return chosen, [
        _cell(profile, sizes[n], whole.left + x, whole.top + y)
        for n, (x, y) in zip(chosen, places, strict=True)
    ]


def fits_on_sheet(profile: Profile, size: tuple[int, int]) -> bool:
    """Whether an art of so many pixels with its label fits at all where art may share a sheet."""
    return bool(cells_of(profile, [size], gap_mm=0.0)[0])


def around(cells: Sequence[Cell]) -> Box:
    """The smallest box that holds all cells."""
    boxes = [box for cell in cells for box in (cell.art, cell.label) if box is not None]
    return Box.around(boxes)


def label_mark(cell: Cell, lines: list[str], dpi: PixelsPerInch) -> Mark:
    """The label of one art, below it."""
    assert cell.label is not None
    box = cell.label
    return Mark(box, text_bits(lines, box.width, box.height, box.height // LABEL_LINES, dpi))


def _pixels(mm: float, dpi: PixelsPerInch) -> tuple[int, int]:
    across, down = (ceil(mm / MM_PER_INCH * side - 1e-9) for side in (dpi.x, dpi.y))
    return across, down


def _label_size(profile: Profile, width: int) -> tuple[int, int]:
    least, _ = _pixels(_READABLE_MM, profile.acetate_dpi)
    _, height = _pixels(LINE_MM * LABEL_LINES, profile.acetate_dpi)
    return max(width, least), height


def _with_label(profile: Profile, size: tuple[int, int]) -> tuple[int, int]:
    if not profile.marks.label:
        return size
    width, height = _label_size(profile, size[0])
    return width, size[1] + _pixels(_APART_MM, profile.acetate_dpi)[1] + height


def _cell(profile: Profile, size: tuple[int, int], left: int, top: int) -> Cell:
    art = Box(left, top, *size)
    if not profile.marks.label:
        return Cell(art, None)
    below = art.bottom + _pixels(_APART_MM, profile.acetate_dpi)[1]
    return Cell(art, Box(left, below, *_label_size(profile, size[0])))


def _packed(sizes: list[tuple[int, int]], room: tuple[int, int]) -> list[tuple[int, int]] | None:
    """Left and top of each size in the room; None where they do not fit."""
    if any(side > have for size in sizes for side, have in zip(size, room, strict=True)):
        return None
    try:
        places: list[tuple[int, int]] = rpack.pack(sizes, max_width=room[0], max_height=room[1])
    except rpack.PackingImpossibleError:
        return None
    return places

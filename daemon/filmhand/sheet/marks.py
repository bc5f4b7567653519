"""What is drawn beside the art: label, rulers, patch, wedge, registration, cut and join marks.

Everything lies inside the margin and clear of the art; what finds no room is left off and named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.sheet.layout import (
    REGISTRATION_MM,
    STEP_MM,
    Box,
    Layout,
    in_pixels,
    side_width,
    step_row_height,
    steps_in,
    strip_height,
    wedge_grid,
)
from filmhand.sheet.lettering import label_bits, text_bits
from filmhand.sheet.sheet_words import SheetWord
from filmhand.sheet.trim_marks import alignment_crosses, trim_marks
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

ScreenFlat = Callable[[Box, float], BoolArray]

RULER_MM = 100.0
_PATCH_MM = 8.0
_MARK_MM = 6.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A bitmap and where its top left corner lies, as the sheet is read."""

    box: Box
    bits: BoolArray


@dataclass(slots=True)
class Furniture:
    """The marks of a sheet, and what they are drawn by.

    Attributes
    ----------
    strip : the strip at the foot that is kept for them
    lines : the label, one string a line
    screen_flat : screens a flat tone (0..1) at a place of the sheet; None for line art
    marks : those that found room
    left_off : the names of those that found none
    """

    profile: Profile
    layout: Layout
    strip: Box
    lines: list[str]
    screen_flat: ScreenFlat | None
    marks: list[Mark] = field(default_factory=list)
    left_off: list[str] = field(default_factory=list)

    @property
    def dpi(self) -> PixelsPerInch:
        """Device pixels to the inch."""
        return self.profile.acetate_dpi

    def place(self, marks: list[tuple[Box, BoolArray]]) -> None:
        """Take marks that are known to lie clear of the art and of one another."""
        self.marks += [Mark(box, bits) for box, bits in marks]

    def add(self, name: SheetWord, box: Box, draw: Callable[[], BoolArray]) -> None:
        """Draw the mark unless it would touch the art or another, or reach into the margin."""
        room = self.layout.printable
        inside = Box.around([box, room]) == room
        taken = [self.layout.art, *(mark.box for mark in self.marks)]
        if not inside or any(box.overlaps(other) for other in taken):
            self.left_off.append(name.say())
            return
        self.marks.append(Mark(box, draw()))


@dataclass(frozen=True, slots=True)
class MarkRow:
    """All that belongs to a mark that a profile can ask for.

    Attributes
    ----------
    key : of the profile's group ``marks``
    where, use : the guide's words
    draw : puts it on the sheet, or names it as left off
    """

    key: str
    where: str
    use: str
    draw: Callable[[Furniture], None]


def draw_furniture(
    profile: Profile, layout: Layout, *, lines: list[str], screen_flat: ScreenFlat | None
) -> Furniture:
    """All the marks that the profile asks for.

    Parameters
    ----------
    profile, layout : the plan of the sheet
    lines : the label, one string a line
    screen_flat : screens a flat tone (0..1) at a place of the sheet; None for line art, which has
        no step wedge
    """
    printable = layout.printable
    height, side = strip_height(profile), side_width(profile)
    strip = Box(printable.left + side, printable.bottom - height, printable.width - side, height)
    furniture = Furniture(profile, layout, strip, lines, screen_flat)
    # These belong to the places of the art, so the others give way to them.
    furniture.place(trim_marks(layout, profile.acetate_dpi))
    furniture.place(alignment_crosses(layout, profile.acetate_dpi))
    for row in MARKS:
        wanted = getattr(profile.marks, row.key)
        if profile.has_register_marks if row.key == "register" else wanted:
            row.draw(furniture)
    return furniture


def _add_rulers(furniture: Furniture) -> None:
    layout, strip, dpi = furniture.layout, furniture.strip, furniture.dpi
    length, tick = in_pixels(RULER_MM, dpi), in_pixels(2.6, dpi)
    inches = furniture.profile.sheet.in_inches
    across = Box(strip.left, strip.bottom - tick[1], length[0], tick[1])
    furniture.add(
        SheetWord.RULER_ACROSS, across, lambda: _ruler(length[0], tick[1], dpi, in_inches=inches)
    )
    down = Box(layout.printable.left, strip.top - length[1], tick[0], length[1])
    if down.top < layout.printable.top:
        down = Box(down.left, layout.printable.top, tick[0], length[1])
    furniture.add(
        SheetWord.RULER_DOWN,
        down,
        lambda: np.ascontiguousarray(
            _ruler(length[1], tick[0], PixelsPerInch(dpi.y, dpi.x), in_inches=inches)[::-1].T
        ),
    )


def _ruler(length: int, height: int, dpi: PixelsPerInch, *, in_inches: bool) -> BoolArray:
    """A bar with a tick each 10 mm, longer at the ends and the middle; ends are exact.

    ``dpi``: x along the bar. Its length stands between two ticks, and in inches beside that.
    """
    bar = np.zeros((height, length), np.bool_)
    line = max(2, round(0.25 / MM_PER_INCH * dpi.y))
    thick = max(2, round(0.25 / MM_PER_INCH * dpi.x))
    told = [f"{RULER_MM:g} mm"] + [f"{RULER_MM / MM_PER_INCH:.2f} in"] * in_inches
    room = height - 2 * line
    # Where the bar begins, so that no tick is taken for the length that they tell.
    for number, words in enumerate(told if room >= 8 else ()):
        first, stop = (
            round(mm / MM_PER_INCH * dpi.x) for mm in (10 * number + 1.2, 10 * number + 9.2)
        )
        bar[:room, first:stop] = text_bits([words], stop - first, room, room, dpi, tall_mm=1.6)
    bar[-line:] = True
    for number in range(11):
        middle = round(number * 10 / MM_PER_INCH * dpi.x)
        first = min(max(0, middle - thick // 2), length - thick)
        reach = height if number in (0, 5, 10) else height * 6 // 10
        bar[-reach:, first : first + thick] = True
    return bar


def _add_solid(furniture: Furniture) -> None:
    patch = in_pixels(_PATCH_MM, furniture.dpi)
    box = Box(furniture.strip.right - patch[0], furniture.strip.bottom - patch[1], *patch)
    furniture.add(SheetWord.SOLID_PATCH, box, lambda: np.ones(patch[::-1], np.bool_))


def _add_label(furniture: Furniture) -> None:
    strip, dpi, lines = furniture.strip, furniture.dpi, furniture.lines
    width = strip.width
    if furniture.profile.marks.solid:
        width -= in_pixels(_PATCH_MM, dpi)[0] + in_pixels(2, dpi)[0]
    room = strip.height - in_pixels(3.2, dpi)[1]
    box = Box(strip.left, strip.top + strip.height - room - in_pixels(3.0, dpi)[1], width, room)
    if width < in_pixels(30, dpi)[0]:
        furniture.left_off.append(SheetWord.LABEL.say())
        return
    furniture.add(SheetWord.LABEL, box, lambda: label_bits(lines, width, room, dpi))


def _add_steps(furniture: Furniture) -> None:
    profile, strip, screen_flat = furniture.profile, furniture.strip, furniture.screen_flat
    if screen_flat is None:
        return
    wide, high = in_pixels(STEP_MM, profile.acetate_dpi)
    columns, rows = wedge_grid(profile, strip.width)
    row_height = step_row_height(profile.acetate_dpi)
    box = Box(strip.left, strip.top - rows * row_height, columns * wide, rows * row_height)

    def draw() -> BoolArray:
        bits = np.zeros((box.height, box.width), np.bool_)
        for number, tone in enumerate(steps_in(columns * rows)):
            row, column = divmod(number, columns)
            left, top = column * wide, row * row_height
            place = Box(box.left + left, box.top + top, wide, high)
            bits[top : top + high, left : left + wide] = screen_flat(place, tone / 100)
            figures = bits[top + high : top + row_height, left : left + wide]
            room = len(figures)
            figures[:] = text_bits([str(tone)], wide, room, room, profile.acetate_dpi)
        return bits

    furniture.add(SheetWord.STEP_WEDGE, box, draw)


def _add_registration(furniture: Furniture) -> None:
    profile, layout = furniture.profile, furniture.layout
    wide, high = in_pixels(_MARK_MM, profile.acetate_dpi)
    area = layout.zone
    # A cross that touched the step wedge could not be lined up with another. Line art has no wedge,
    # but its marks are to lie where those of the other films do.
    _, apart = (
        in_pixels(REGISTRATION_MM - _MARK_MM, profile.acetate_dpi)
        if profile.marks.steps
        else (0, 0)
    )
    middle_x, middle_y = area.left + (area.width - wide) // 2, area.top + (area.height - high) // 2
    places = {
        SheetWord.MARK_AT_TOP: (middle_x, area.top),
        SheetWord.MARK_AT_BOTTOM: (middle_x, area.bottom - high - apart // 2),
        SheetWord.MARK_AT_LEFT: (area.left, middle_y),
        SheetWord.MARK_AT_RIGHT: (area.right - wide, middle_y),
    }
    # One of a set is turned, so that no film is laid the wrong way round or face down: at the left,
    # as a film that is turned over keeps its head.
    plain, aslant = (partial(_target, wide, high, aslant=turned) for turned in (False, True))
    turned = SheetWord.MARK_AT_LEFT if profile.inks is not None else None
    for name, (x, y) in places.items():
        furniture.add(name, Box(x, y, wide, high), aslant if name is turned else plain)


def _target(width: int, height: int, *, aslant: bool = False) -> BoolArray:
    """A cross in a circle, its lines about 0.1 mm or at least two pixels; turned by 45 degrees."""
    y, x = np.mgrid[:height, :width]
    from_x, from_y = (x + 0.5) / width - 0.5, (y + 0.5) / height - 0.5
    line = max(2 / min(width, height), 0.1 / _MARK_MM) / 2
    ring = np.abs(np.hypot(from_x, from_y) - 0.3) <= line
    if aslant:
        from_x, from_y = (from_x + from_y) / np.sqrt(2), (from_x - from_y) / np.sqrt(2)
    cross = (np.abs(from_x) <= line) | (np.abs(from_y) <= line)
    bits: BoolArray = ring | cross
    return bits


# In the order in which they take their room: on a narrow sheet only one of ruler and solid finds
# room, and the ruler tells more.
MARKS = (
    MarkRow(
        "ruler",
        "at the foot and at the left",
        "two bars of 100 mm, to see that nothing scaled the film",
        _add_rulers,
    ),
    MarkRow("solid", "foot, at the right", "a block to judge the black by", _add_solid),
    MarkRow(
        "label",
        "at the foot",
        "whose, what, its sub-folder; ruling, angle, mesh, size; which side is up; warnings",
        _add_label,
    ),
    MarkRow(
        "steps",
        "above the label, if asked for",
        "21 to 35 screened patches, 1 to 99 %, each with its figure, to see what your press does",
        _add_steps,
    ),
    MarkRow(
        "register",
        "in the middle of the four sides, if asked for, with `film.stack` and `inks`",
        "crosses, to lay films over each other; of several inks the left one is turned",
        _add_registration,
    ),
)

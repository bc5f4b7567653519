"""Where the art lies on the sheet, in whole device pixels."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor
from typing import TYPE_CHECKING

from filmhand.errors import Quantity, Refused
from filmhand.sheet.sheet_words import SheetRefusal, SheetWord
from filmhand.units import MM_PER_INCH, PixelsPerInch, SheetSize, length_text, size_text
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

# Room kept for the label, the ruler across and the solid patch; and for the ruler down.
STRIP_MM = 10.0
SIDE_STRIP_MM = 5.0
REGISTRATION_MM = 7.0
STEP_MM = 6.0
STEP_FIGURES_MM = 3.0  # below each row of steps, for what each is in percent
# A step wedge needs its ends closer than its middle, for there dots are lost and holes fill
# (common practice, no source).
STEPS = (1, 2, 3, 5, 7, 10, 15, 20, 30, 40, 50, 60, 70, 80, 85, 90, 93, 95, 97, 98, 99)
# Those that come between where the rows have room for them too, the first two first.
MORE_STEPS = ((25, 75), (4, 96), (6, 94), (8, 92), (12, 88), (45, 55), (35, 65))


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of whole pixels: left and top edge, width and height."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """The column just past the rectangle."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """The row just past the rectangle."""
        return self.top + self.height

    def mirrored(self, sheet_width: int) -> Box:
        """The same rectangle on a sheet that is turned over left to right."""
        return Box(sheet_width - self.right, self.top, self.width, self.height)

    @classmethod
    def around(cls, boxes: Sequence[Box]) -> Box:
        """The smallest rectangle that holds all of them."""
        left, top = min(box.left for box in boxes), min(box.top for box in boxes)
        right, bottom = max(box.right for box in boxes), max(box.bottom for box in boxes)
        return cls(left, top, right - left, bottom - top)

    def holds(self, x: int, y: int) -> bool:
        """Whether a pixel lies in it."""
        return self.left <= x < self.right and self.top <= y < self.bottom

    def overlaps(self, other: Box) -> bool:
        """Whether the two rectangles share a pixel."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@dataclass(frozen=True, slots=True)
class CopyGrid:
    """Copies of one art: how many across and down, the pixels between them, and each of them.

    ``cells`` run along the rows from the top left.
    """

    columns: int
    rows: int
    gap: tuple[int, int]
    cells: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class FilmPart:
    """One of the films that art larger than the sheet goes over.

    Attributes
    ----------
    row, column, rows, columns : which one, from 1, and of how many
    shown : what of the joined sheet it shows
    overlap : how many pixels neighbors share, across and down
    """

    row: int
    column: int
    rows: int
    columns: int
    shown: Box
    overlap: tuple[int, int]

    @property
    def suffix(self) -> str:
        """What is added to a film's name."""
        return f"-r{self.row}c{self.column}"

    def __str__(self) -> str:
        return SheetWord.PART.say(
            row=self.row, rows=self.rows, column=self.column, columns=self.columns
        )


@dataclass(frozen=True, slots=True)
class Layout:
    """The plan of one sheet; all boxes as the sheet is read, before any mirroring.

    Attributes
    ----------
    sheet : the whole sheet
    printable : the sheet inside the margin
    zone : the part of it that label, rulers and wedge leave
    art : where the art lies; of several copies, the rectangle around all of them
    turned : 0, or 90 where the art is turned a quarter counter-clockwise
    art_mm : width and height of the printed art
    ppi : art pixels per inch on the film, the smaller of the two directions
    grid : the copies, where the art lies on the sheet several times
    films : where the art goes over several films: the layout of each; this layout's own sheet is
        then the joined one, which no printer prints
    part : of such a film, which one it is
    """

    sheet: Box
    printable: Box
    zone: Box
    art: Box
    turned: int
    art_mm: tuple[float, float]
    ppi: float
    grid: CopyGrid | None = None
    films: tuple[Layout, ...] = ()
    part: FilmPart | None = None

    @property
    def copies(self) -> tuple[Box, ...]:
        """Every place where the whole art lies."""
        return self.grid.cells if self.grid else (self.art,)


def plan_sheet(
    profile: Profile, *, art_px: tuple[int, int], art_ppi: tuple[float, float] | None
) -> Layout:
    """The layout that the profile asks for.

    Parameters
    ----------
    profile : sheet, margin, fit, turn, place and marks are read
    art_px : (width, height) of the art, upright
    art_ppi : the art's own resolution, where the file says one

    Raises
    ------
    Refused
        where the art cannot be placed: it is larger than the sheet at the size asked for, or is
        to be printed at its own size and does not say one
    """
    dpi = profile.acetate_dpi
    sheet, printable, zone, free = sheet_boxes(profile)
    size_in = printed_size(profile, art_px, art_ppi)

    may_turn = profile.art.turn == "auto"
    if profile.art.fit.kind == "page":
        size_in, turned = largest_in(art_px, in_inches(free, dpi), may_turn=may_turn)
        area = free
    else:
        room = in_inches(printable, dpi)
        turned = _turn_to_fit(size_in, room, profile.sheet, may_turn=may_turn)
        area = free if fits(turn_size(size_in, turned), in_inches(free, dpi)) else printable
    width, height = whole_pixels(turn_size(size_in, turned), dpi)
    size = min(width, area.width), min(height, area.height)
    return Layout(
        sheet=sheet,
        printable=printable,
        zone=zone,
        art=placed(area, size, profile.art.place),
        turned=turned,
        art_mm=in_millimeters(size, dpi),
        ppi=ppi_of(art_px, turned, size, dpi),
    )


def sheet_boxes(profile: Profile) -> tuple[Box, Box, Box, Box]:
    """The sheet, the sheet inside its margin, what the marks leave of that, and the room for art.

    The last two differ by the room of the registration marks.
    """
    dpi, margin = profile.acetate_dpi, profile.margin
    width, height = profile.sheet.pixels(profile.dpi)
    left, right = (ceil(mm * dpi.x / MM_PER_INCH - 1e-9) for mm in (margin.left, margin.right))
    top, bottom = (ceil(mm * dpi.y / MM_PER_INCH - 1e-9) for mm in (margin.top, margin.bottom))
    printable = Box(left, top, width - left - right, height - top - bottom)
    zone = _zone(profile, printable)
    return Box(0, 0, width, height), printable, zone, _inside_registration(profile, zone)


def strip_height(profile: Profile) -> int:
    """Rows kept free at the foot of the sheet for label, ruler and patch; 0 without them."""
    marks = profile.marks
    if not (marks.label or marks.ruler or marks.solid):
        return 0
    return ceil(STRIP_MM * profile.acetate_dpi.y / MM_PER_INCH)


def side_width(profile: Profile) -> int:
    """Columns kept free at the left edge for the ruler down; 0 without it."""
    return ceil(SIDE_STRIP_MM * profile.acetate_dpi.x / MM_PER_INCH) if profile.marks.ruler else 0


def wedge_grid(profile: Profile, width: int) -> tuple[int, int]:
    """(columns, rows) of the step wedge in a strip of this width; (0, 0) without one.

    There are as many rows as :data:`STEPS` need, and as many columns as there is room for.
    """
    if not profile.marks.steps:
        return 0, 0
    columns = max(1, width // round(STEP_MM / MM_PER_INCH * profile.acetate_dpi.x))
    rows = -(-len(STEPS) // columns)
    return min(columns, -(-len(steps_in(columns * rows)) // rows)), rows


def steps_in(places: int) -> tuple[int, ...]:
    """The steps of a wedge that has so many places, in percent.

    >>> len(steps_in(21)), len(steps_in(22)), len(steps_in(33)), len(steps_in(100))
    (21, 21, 33, 35)
    """
    more = MORE_STEPS[: max(0, places - len(STEPS)) // 2]
    return tuple(sorted((*STEPS, *(step for pair in more for step in pair))))


def step_row_height(dpi: PixelsPerInch) -> int:
    """Pixel rows of a row of steps with the figures below it."""
    return in_pixels(STEP_MM, dpi)[1] + in_pixels(STEP_FIGURES_MM, dpi)[1]


def _zone(profile: Profile, printable: Box) -> Box:
    side, strip = side_width(profile), strip_height(profile)
    _, wedge_rows = wedge_grid(profile, printable.width - side)
    strip += wedge_rows * step_row_height(profile.acetate_dpi)
    if printable.height - strip < 1:
        return printable
    return Box(
        printable.left + side, printable.top, printable.width - side, printable.height - strip
    )


def _inside_registration(profile: Profile, zone: Box) -> Box:
    if not profile.has_register_marks:
        return zone
    x, y = (
        ceil(REGISTRATION_MM / MM_PER_INCH * dpi)
        for dpi in (profile.acetate_dpi.x, profile.acetate_dpi.y)
    )
    if zone.width <= 2 * x or zone.height <= 2 * y:
        return zone
    return shrunk(zone, x, y)


def printed_size(
    profile: Profile, art_px: tuple[int, int], art_ppi: tuple[float, float] | None
) -> tuple[float, float]:
    """Width and height in inches that the art is to have, upright; unused for ``page``."""
    fit = profile.art.fit
    width, height = art_px
    if fit.mm is not None and fit.height_mm is not None:
        scale = min(fit.mm / width, fit.height_mm / height) / MM_PER_INCH
        return width * scale, height * scale
    if fit.mm is not None:
        side = fit.mm / MM_PER_INCH
        if fit.kind == "width":
            return side, side * height / width
        return side * width / height, side
    if fit.kind == "own":
        if art_ppi is None:
            raise SheetRefusal.NO_OWN_SIZE.refused(
                found=Quantity(None, "ppi"), needed=Quantity(SheetWord.OWN_RESOLUTION.say(), "ppi")
            )
        return width / art_ppi[0], height / art_ppi[1]
    return 1.0, 1.0


def turn_size(size: tuple[float, float], turned: int) -> tuple[float, float]:
    """Width and height as they lie on the sheet."""
    return size if turned == 0 else (size[1], size[0])


def fits(size: tuple[float, float], room: tuple[float, float]) -> bool:
    """Whether a size (width, height) has room; a few hundredths of a millimeter are forgiven."""
    return size[0] <= room[0] * 1.000_5 and size[1] <= room[1] * 1.000_5


def largest_in(
    art_px: tuple[float, float], room: tuple[float, float], *, may_turn: bool
) -> tuple[tuple[float, float], int]:
    """The largest size that fits, and whether it is reached turned."""
    width, height = art_px
    upright = min(room[0] / width, room[1] / height)
    turned = min(room[0] / height, room[1] / width)
    # An exact square gains nothing from a turn.
    if may_turn and turned > upright * 1.000_001:
        return (width * turned, height * turned), 90
    return (width * upright, height * upright), 0


def _turn_to_fit(
    size: tuple[float, float], room: tuple[float, float], sheet: SheetSize, *, may_turn: bool
) -> int:
    if fits(size, room):
        return 0
    if may_turn and fits(turn_size(size, 90), room):
        return 90
    raise too_large(size, room, sheet, may_turn=may_turn)


def too_large(
    size: tuple[float, float], room: tuple[float, float], sheet: SheetSize, *, may_turn: bool
) -> Refused:
    """The refusal of art of a size (inches, upright) that the sheet has no room for."""
    across, down = (side * MM_PER_INCH for side in size)
    room_across, room_down = (side * MM_PER_INCH for side in room)
    widest = max(1.0, MM_PER_INCH * largest_in(size, room, may_turn=may_turn)[0][0])
    return SheetRefusal.LARGER_THAN_SHEET.refused(
        found=Quantity(f"{across:.1f} x {down:.1f}", "mm"),
        needed=Quantity(f"{room_across:.1f} x {room_down:.1f}", "mm"),
        art=size_text((across, down), sheet, decimals=1),
        room=size_text((room_across, room_down), sheet, decimals=1),
        widest=length_text(widest, sheet, cut=floor),
    )


def spare_shares(place: str) -> tuple[float, float]:
    """Share of the spare room left of and above the art."""
    words = str(place).split("-")
    x = 0.0 if "left" in words else 1.0 if "right" in words else 0.5
    y = 0.0 if "top" in words else 1.0 if "bottom" in words else 0.5
    return x, y


def in_pixels(mm: float, dpi: PixelsPerInch) -> tuple[int, int]:
    """A length as the nearest whole pixels, across and down."""
    return round(mm / MM_PER_INCH * dpi.x), round(mm / MM_PER_INCH * dpi.y)


def in_inches(box: Box, dpi: PixelsPerInch) -> tuple[float, float]:
    """Width and height of a box."""
    return box.width / dpi.x, box.height / dpi.y


def shrunk(box: Box, x: int, y: int) -> Box:
    """The box without so many columns at either side, and so many rows above and below."""
    return Box(box.left + x, box.top + y, box.width - 2 * x, box.height - 2 * y)


def placed(area: Box, size: tuple[int, int], place: str) -> Box:
    """A rectangle of a size at its place in an area."""
    x, y = spare_shares(place)
    left = area.left + floor((area.width - size[0]) * x)
    return Box(left, area.top + floor((area.height - size[1]) * y), *size)


def whole_pixels(size: tuple[float, float], dpi: PixelsPerInch) -> tuple[int, int]:
    """A size in inches as pixels, at least one each way."""
    return max(1, round(size[0] * dpi.x)), max(1, round(size[1] * dpi.y))


def ppi_of(
    art_px: tuple[int, int], turned: int, size: tuple[int, int], dpi: PixelsPerInch
) -> float:
    """Art pixels per inch on film where art has a size in pixels; the smaller direction counts."""
    source = art_px if turned == 0 else (art_px[1], art_px[0])
    return min(source[0] / (size[0] / dpi.x), source[1] / (size[1] / dpi.y))


def in_millimeters(size: tuple[int, int], dpi: PixelsPerInch) -> tuple[float, float]:
    """Width and height in pixels as millimeters."""
    return size[0] / dpi.x * MM_PER_INCH, size[1] / dpi.y * MM_PER_INCH

"""Where the art lies on the sheet, in whole device pixels."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from typing import TYPE_CHECKING

from filmhand.errors import Quantity, Reason, Refused
from filmhand.units import MM_PER_INCH

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

# Room kept for the label, the ruler across and the solid patch; and for the ruler down.
STRIP_MM = 10.0
SIDE_STRIP_MM = 5.0
REGISTRATION_MM = 7.0
STEP_MM = 6.0
# A step wedge needs its ends closer than its middle, for there dots are lost and holes fill
# (common practice, no source).
STEPS = (1, 2, 3, 5, 7, 10, 15, 20, 30, 40, 50, 60, 70, 80, 85, 90, 93, 95, 97, 98, 99)


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

    def overlaps(self, other: Box) -> bool:
        """Whether the two rectangles share a pixel."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@dataclass(frozen=True, slots=True)
class Layout:
    """The plan of one sheet; all boxes as the sheet is read, before any mirroring.

    Attributes
    ----------
    sheet : the whole sheet
    printable : the sheet inside the margin
    zone : the part of it that label, rulers and wedge leave
    art : where the art lies
    turned : 0, or 90 where the art is turned a quarter counter-clockwise
    art_mm : width and height of the printed art
    ppi : art pixels per inch on the film, the smaller of the two directions
    """

    sheet: Box
    printable: Box
    zone: Box
    art: Box
    turned: int
    art_mm: tuple[float, float]
    ppi: float


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
    dpi = profile.dpi
    sheet, printable, zone, free = areas_of(profile)
    size_in = _own_size(profile, art_px, art_ppi)

    def room(box: Box) -> tuple[float, float]:
        return box.width / dpi.x, box.height / dpi.y

    if profile.art.fit.kind == "page":
        size_in, turned = _fit_page(art_px, room(free), may_turn=profile.art.turn == "auto")
        area = free
    else:
        turned = _turn_to_fit(size_in, room(printable), may_turn=profile.art.turn == "auto")
        area = free if _fits(_turn(size_in, turned), room(free)) else printable
    across, down = _turn(size_in, turned)
    art_width = min(max(1, round(across * dpi.x)), area.width)
    art_height = min(max(1, round(down * dpi.y)), area.height)
    x, y = spare_shares(profile.art.place)
    art = Box(
        area.left + floor((area.width - art_width) * x),
        area.top + floor((area.height - art_height) * y),
        art_width,
        art_height,
    )
    source = art_px if turned == 0 else (art_px[1], art_px[0])
    return Layout(
        sheet=sheet,
        printable=printable,
        zone=zone,
        art=art,
        turned=turned,
        art_mm=(art_width / dpi.x * MM_PER_INCH, art_height / dpi.y * MM_PER_INCH),
        ppi=min(source[0] / (art_width / dpi.x), source[1] / (art_height / dpi.y)),
    )


def areas_of(profile: Profile) -> tuple[Box, Box, Box, Box]:
    """The sheet, the sheet inside the margin, what the marks leave of that, and the room for art.

    The last two differ by the room of the registration marks.
    """
    dpi, margin = profile.dpi, profile.margin
    width, height = profile.sheet.pixels(dpi)
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
    return ceil(STRIP_MM * profile.dpi.y / MM_PER_INCH)


def side_width(profile: Profile) -> int:
    """Columns kept free at the left edge for the ruler down; 0 without it."""
    return ceil(SIDE_STRIP_MM * profile.dpi.x / MM_PER_INCH) if profile.marks.ruler else 0


def wedge_grid(profile: Profile, width: int) -> tuple[int, int]:
    """(columns, rows) of the step wedge in a strip of this width; (0, 0) without one."""
    if not profile.marks.steps:
        return 0, 0
    columns = min(len(STEPS), max(1, width // round(STEP_MM / MM_PER_INCH * profile.dpi.x)))
    return columns, -(-len(STEPS) // columns)


def _zone(profile: Profile, printable: Box) -> Box:
    side, strip = side_width(profile), strip_height(profile)
    _, wedge_rows = wedge_grid(profile, printable.width - side)
    strip += wedge_rows * round(STEP_MM / MM_PER_INCH * profile.dpi.y)
    if printable.width - side < 1 or printable.height - strip < 1:
        return printable
    return Box(
        printable.left + side, printable.top, printable.width - side, printable.height - strip
    )


def _inside_registration(profile: Profile, zone: Box) -> Box:
    if not profile.marks.register:
        return zone
    x, y = (ceil(REGISTRATION_MM / MM_PER_INCH * dpi) for dpi in (profile.dpi.x, profile.dpi.y))
    if zone.width <= 2 * x or zone.height <= 2 * y:
        return zone
    return Box(zone.left + x, zone.top + y, zone.width - 2 * x, zone.height - 2 * y)


def _own_size(
    profile: Profile, art_px: tuple[int, int], art_ppi: tuple[float, float] | None
) -> tuple[float, float]:
    """Width and height in inches that the art is to have, upright; unused for ``page``."""
    fit = profile.art.fit
    width, height = art_px
    if fit.mm is not None:
        side = fit.mm / MM_PER_INCH
        if fit.kind == "width":
            return side, side * height / width
        return side * width / height, side
    if fit.kind == "own":
        if art_ppi is None:
            raise Refused(
                Reason.TOO_SMALL,
                "This art is to be printed at its own size, but the file does not say how many "
                "pixels it has to the inch.",
                "Save it again with its resolution set, or give the width in a ticket, such as "
                "art: {fit: width 7 in}.",
                found=Quantity(None, "ppi"),
                needed=Quantity("its own resolution", "ppi"),
            )
        return width / art_ppi[0], height / art_ppi[1]
    return 1.0, 1.0


def _turn(size: tuple[float, float], turned: int) -> tuple[float, float]:
    return size if turned == 0 else (size[1], size[0])


def _fits(size: tuple[float, float], room: tuple[float, float]) -> bool:
    return size[0] <= room[0] * 1.000_5 and size[1] <= room[1] * 1.000_5


def _fit_page(
    art_px: tuple[int, int], room: tuple[float, float], *, may_turn: bool
) -> tuple[tuple[float, float], int]:
    """The largest size that fits, and whether it is reached turned."""
    width, height = art_px
    upright = min(room[0] / width, room[1] / height)
    turned = min(room[0] / height, room[1] / width)
    # An exact square gains nothing from a turn.
    if may_turn and turned > upright * 1.000_001:
        return (width * turned, height * turned), 90
    return (width * upright, height * upright), 0


def _turn_to_fit(size: tuple[float, float], room: tuple[float, float], *, may_turn: bool) -> int:
    if _fits(size, room):
        return 0
    if may_turn and _fits(_turn(size, 90), room):
        return 90
    across, down = (side * MM_PER_INCH for side in size)
    room_across, room_down = (side * MM_PER_INCH for side in room)
    raise Refused(
        Reason.TOO_BIG,
        f"At the size asked for, the art is {across:.1f} x {down:.1f} mm, and this sheet has room "
        f"for {room_across:.1f} x {room_down:.1f} mm.",
        "Ask for a smaller size, or use a profile with a larger sheet.",
        found=Quantity(f"{across:.1f} x {down:.1f}", "mm"),
        needed=Quantity(f"{room_across:.1f} x {room_down:.1f}", "mm"),
    )


def spare_shares(place: str) -> tuple[float, float]:
    """Share of the spare room left of and above the art."""
    words = str(place).split("-")
    x = 0.0 if "left" in words else 1.0 if "right" in words else 0.5
    y = 0.0 if "top" in words else 1.0 if "bottom" in words else 0.5
    return x, y

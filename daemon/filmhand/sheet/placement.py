"""Where art lies that is laid on the sheet once, several times, or over several films.

Copies are reckoned in whole pixels, so that gaps are exact; films by
:mod:`filmhand.sheet.joined_films`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from filmhand.errors import Quantity, Reason, Refused
from filmhand.sheet.joined_films import plan_films
from filmhand.sheet.layout import (
    Box,
    CopyGrid,
    Layout,
    fits,
    in_inches,
    in_millimeters,
    in_pixels,
    largest_in,
    placed,
    plan_sheet,
    ppi_of,
    printed_size,
    sheet_boxes,
    shrunk,
    turn_size,
    whole_pixels,
)

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

# Room for cut marks around copies, with a little air (common practice, no source).
CUT_MM = 4.5
MOST_COPIES_ON_SHEET = 2500
# A size that was rounded to whole pixels may be this many too large for the room it was made for.
_SLACK = 1


def place_art(
    profile: Profile, *, art_px: tuple[int, int], art_ppi: tuple[float, float] | None
) -> Layout:
    """The layout that the profile asks for, of one sheet or of several.

    Parameters and what is raised are those of :func:`filmhand.sheet.layout.plan_sheet`.
    """
    if profile.art.repeat is not None:
        return _repeated(profile, art_px, art_ppi)
    if profile.art.tile == "auto" and profile.art.fit.kind != "page":
        size = printed_size(profile, art_px, art_ppi)
        _, printable, _, _ = sheet_boxes(profile)
        ways = (0, 90) if profile.art.turn == "auto" else (0,)
        if not any(fits(turn_size(size, way), in_inches(printable, profile.dpi)) for way in ways):
            return plan_films(profile, art_px, size, ways)
    return plan_sheet(profile, art_px=art_px, art_ppi=art_ppi)


def most_in(room: int, side: int, gap: int) -> int:
    """How many sides of so many pixels lie in a room with gaps between them.

    >>> most_in(100, 30, 5), most_in(100, 31, 5), most_in(10, 31, 5)
    (3, 2, 0)
    """
    return max(0, (room + gap) // (side + gap))


def grid_of(columns: int, rows: int, *, cell: Box, gap: tuple[int, int]) -> CopyGrid:
    """Equal cells with equal gaps; ``cell`` is the one at the top left."""
    cells = tuple(
        Box(
            cell.left + column * (cell.width + gap[0]),
            cell.top + row * (cell.height + gap[1]),
            cell.width,
            cell.height,
        )
        for row in range(rows)
        for column in range(columns)
    )
    return CopyGrid(columns, rows, gap, cells)


def _repeated(
    profile: Profile, art_px: tuple[int, int], art_ppi: tuple[float, float] | None
) -> Layout:
    """Several copies on one sheet, with room for cut marks around them."""
    dpi = profile.dpi
    sheet, printable, zone, free = sheet_boxes(profile)
    gap, ring = in_pixels(profile.art.gap, dpi), in_pixels(CUT_MM, dpi)
    # What does not fit beside the marks of the sheet may take their room, as one art alone may.
    areas = [shrunk(free, *ring), shrunk(printable, *ring)]
    if profile.art.fit.kind == "page":
        area = areas[0]
        size, turned, count = _largest_copies(profile, art_px, area, gap)
    else:
        size_in = printed_size(profile, art_px, art_ppi)
        ways = (0, 90) if profile.art.turn == "auto" else (0,)
        for area in areas:
            choices = [
                (found, way)
                for way in ways
                if (
                    found := _copies_in(
                        profile, whole_pixels(turn_size(size_in, way), dpi), area, gap
                    )
                )
            ]
            if choices:
                break
        else:
            raise _too_many(profile, whole_pixels(size_in, dpi), areas[1], gap)
        # The most copies win, then art that is not turned.
        count, turned = max(choices, key=lambda choice: choice[0][0] * choice[0][1])
        size = _clipped(whole_pixels(turn_size(size_in, turned), dpi), area, count, gap)
    columns, rows = count
    around = placed(
        area,
        (columns * (size[0] + gap[0]) - gap[0], rows * (size[1] + gap[1]) - gap[1]),
        profile.art.place,
    )
    return Layout(
        sheet=sheet,
        printable=printable,
        zone=zone,
        art=around,
        turned=turned,
        art_mm=in_millimeters(size, dpi),
        ppi=ppi_of(art_px, turned, size, dpi),
        grid=grid_of(columns, rows, cell=Box(around.left, around.top, *size), gap=gap),
    )


def _largest_copies(
    profile: Profile, art_px: tuple[int, int], area: Box, gap: tuple[int, int]
) -> tuple[tuple[int, int], int, tuple[int, int]]:
    """Size in pixels, turn, and count of copies that are as large as so many can be."""
    repeat, dpi = profile.art.repeat, profile.dpi
    assert repeat is not None and repeat.columns is not None and repeat.rows is not None
    columns, rows = repeat.columns, repeat.rows
    room = (area.width + gap[0]) // columns - gap[0], (area.height + gap[1]) // rows - gap[1]
    if min(room) < 1:
        raise _too_many(profile, (1, 1), area, gap)
    size, turned = largest_in(
        art_px, (room[0] / dpi.x, room[1] / dpi.y), may_turn=profile.art.turn == "auto"
    )
    across, down = whole_pixels(turn_size(size, turned), dpi)
    return (min(across, room[0]), min(down, room[1])), turned, (columns, rows)


def _copies_in(
    profile: Profile, size: tuple[int, int], area: Box, gap: tuple[int, int]
) -> tuple[int, int] | None:
    """How many copies lie across and down; None where those asked for do not fit, or none do."""
    repeat = profile.art.repeat
    assert repeat is not None
    across = most_in(area.width, size[0] - _SLACK, gap[0])
    down = most_in(area.height, size[1] - _SLACK, gap[1])
    if repeat.columns is None or repeat.rows is None:
        return (across, down) if across and down and across * down <= MOST_COPIES_ON_SHEET else None
    if across < repeat.columns or down < repeat.rows:
        return None
    return repeat.columns, repeat.rows


def _clipped(
    size: tuple[int, int], area: Box, count: tuple[int, int], gap: tuple[int, int]
) -> tuple[int, int]:
    """The size, less the pixel that rounding may have made it too large for the room."""
    return (
        min(size[0], (area.width + gap[0]) // count[0] - gap[0]),
        min(size[1], (area.height + gap[1]) // count[1] - gap[1]),
    )


def _too_many(profile: Profile, size: tuple[int, int], area: Box, gap: tuple[int, int]) -> Refused:
    across, down = in_millimeters(size, profile.dpi)
    fit = most_in(area.width, size[0], gap[0]), most_in(area.height, size[1], gap[1])
    repeat = profile.art.repeat
    assert repeat is not None
    whole = (
        (repeat.columns or 1) * (size[0] + gap[0]) - gap[0],
        (repeat.rows or 1) * (size[1] + gap[1]) - gap[1],
    )
    asked = "one copy" if repeat.columns is None else f"{repeat.columns} x {repeat.rows} copies"
    return Refused(
        Reason.TOO_BIG,
        f"At {across:.1f} x {down:.1f} mm with gaps of {profile.art.gap:g} mm there is no room for "
        f"{asked} and their trim marks on this sheet.",
        (
            f"Ask for {fit[0]} x {fit[1]} copies or fewer, a smaller size, or a smaller gap."
            if min(fit) and repeat.columns is not None
            else "Ask for a smaller size, or use a profile with a larger sheet."
        ),
        found=Quantity("{:.1f} x {:.1f}".format(*in_millimeters(whole, profile.dpi)), "mm"),
        needed=Quantity(
            "{:.1f} x {:.1f}".format(
                *in_millimeters((max(0, area.width), max(0, area.height)), profile.dpi)
            ),
            "mm",
        ),
    )

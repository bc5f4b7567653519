"""Where art lies that is laid on the sheet once, several times, or over several films.

Copies and films are reckoned in whole pixels, so that gaps and overlaps are exact. Films are joined
again by hand.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor
from typing import TYPE_CHECKING

from filmhand.errors import Quantity, Refused
from filmhand.sheet.layout import (
    Box,
    CopyGrid,
    FilmPart,
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
from filmhand.sheet.sheet_words import SheetRefusal, SheetWord
from filmhand.units import MM_PER_INCH, PixelsPerInch, length_text, size_text

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

# Room for join crosses beside a part of the art, with a little air (common practice, no source).
JOIN_MM = 7.0
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
        if not any(
            fits(turn_size(size, way), in_inches(printable, profile.acetate_dpi)) for way in ways
        ):
            return plan_films(profile, art_px, size, ways)
    return plan_sheet(profile, art_px=art_px, art_ppi=art_ppi)


def spans(length: int, *, most: int, overlap: int) -> list[tuple[int, int]]:
    """The fewest spans of at most so many pixels that cover a length and overlap exactly.

    Parameters
    ----------
    length : to be covered
    most : the longest span; more than ``overlap``
    overlap : pixels that neighbors share

    Returns
    -------
    (start, length) of each; all but the last, which may be a few pixels shorter, are equal

    >>> spans(100, most=100, overlap=10), spans(100, most=60, overlap=10)
    ([(0, 100)], [(0, 55), (45, 55)])
    """
    if length <= most:
        return [(0, length)]
    count = ceil((length - overlap) / (most - overlap))
    each = ceil((length + (count - 1) * overlap) / count)
    starts = [number * (each - overlap) for number in range(count)]
    return [(start, min(each, length - start)) for start in starts]


def plan_films(
    profile: Profile, art_px: tuple[int, int], size_in: tuple[float, float], ways: tuple[int, ...]
) -> Layout:
    """The joined layout of art that no sheet holds, with those of as few films as it takes.

    Parameters
    ----------
    art_px : (width, height) of the art, upright
    size_in : its printed size in inches, upright
    ways : the turns to choose from, 0 and perhaps 90

    Raises
    ------
    Refused
        where marks and overlap leave no room, or it takes more films than a job may have pages
    """
    dpi = profile.acetate_dpi
    sheet, printable, zone, free = sheet_boxes(profile)
    overlap = in_pixels(profile.art.overlap, dpi)
    choices = [
        (found, way)
        for way in ways
        if (found := _parts(whole_pixels(turn_size(size_in, way), dpi), free, overlap, dpi))
    ]
    if not choices:
        raise _no_room(profile, size_in, in_inches(free, dpi))
    (columns, rows, area), turned = min(choices, key=lambda c: len(c[0][0]) * len(c[0][1]))
    count = len(columns) * len(rows)
    if count > profile.limits.pages:
        most = profile.limits.pages
        raise SheetRefusal.TOO_MANY_FILMS.refused(
            found=Quantity(count, "films"),
            needed=Quantity(most, "films"),
            size=_size_asked(profile, size_in),
            count=count,
            most=most,
        )
    width, height = whole_pixels(turn_size(size_in, turned), dpi)
    # As on a sheet of the art's own size with this margin, so that the screen begins there.
    left, top = printable.left, printable.top
    art = Box(left, top, width, height)
    right, bottom = sheet.right - printable.right, sheet.bottom - printable.bottom
    joined = Layout(
        sheet=Box(0, 0, left + width + right, top + height + bottom),
        printable=art,
        zone=art,
        art=art,
        turned=turned,
        art_mm=in_millimeters((width, height), dpi),
        ppi=ppi_of(art_px, turned, (width, height), dpi),
    )
    films = tuple(
        replace(
            joined,
            sheet=sheet,
            printable=printable,
            zone=zone,
            art=placed(area, (across, down), profile.art.place),
            part=FilmPart(
                row + 1,
                column + 1,
                len(rows),
                len(columns),
                Box(left + x, top + y, across, down),
                overlap,
            ),
        )
        for row, (y, down) in enumerate(rows)
        for column, (x, across) in enumerate(columns)
    )
    return replace(joined, films=films)


_Spans = list[tuple[int, int]]


def _parts(
    size: tuple[int, int], free: Box, overlap: tuple[int, int], dpi: PixelsPerInch
) -> tuple[_Spans, _Spans, Box] | None:
    """Columns, rows and the room for each part; None where marks and overlap leave none.

    Join marks of neighbors side by side lie above and below the art, those of neighbors above
    one another left and right of it; only what is needed takes room.
    """
    join = in_pixels(JOIN_MM, dpi)
    beside = above = 0
    while True:
        area = shrunk(free, beside, above)
        if area.width <= 2 * overlap[0] or area.height <= 2 * overlap[1]:
            return None
        columns = spans(size[0], most=area.width, overlap=overlap[0])
        rows = spans(size[1], most=area.height, overlap=overlap[1])
        needed = (join[0] if len(rows) > 1 else 0, join[1] if len(columns) > 1 else 0)
        if needed[0] <= beside and needed[1] <= above:
            return columns, rows, area
        beside, above = max(beside, needed[0]), max(above, needed[1])


def _no_room(
    profile: Profile, size_in: tuple[float, float], free_in: tuple[float, float]
) -> Refused:
    # The overlaps of both neighbors must lie apart, so each has less than half.
    most = max(0.0, min(free_in) * MM_PER_INCH - 2 * JOIN_MM) / 2
    row = SheetRefusal.OVERLAP_TOO_WIDE if most >= 1 else SheetRefusal.NO_ROOM_BETWEEN
    return row.refused(
        found=Quantity(round(profile.art.overlap, 1), "mm of overlap"),
        needed=Quantity(SheetWord.UNDER.say(most=floor(most)), "mm of overlap"),
        size=_size_asked(profile, size_in),
        overlap=length_text(profile.art.overlap, profile.sheet, decimals=1),
        most=length_text(most, profile.sheet, cut=floor),
    )


def _size_asked(profile: Profile, size_in: tuple[float, float]) -> str:
    return size_text([side * MM_PER_INCH for side in size_in], profile.sheet)


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
    dpi = profile.acetate_dpi
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
    repeat, dpi = profile.art.repeat, profile.acetate_dpi
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
    across, down = _fitting(size, area, gap)
    if repeat.columns is None or repeat.rows is None:
        return (across, down) if across and down and across * down <= MOST_COPIES_ON_SHEET else None
    if across < repeat.columns or down < repeat.rows:
        return None
    return repeat.columns, repeat.rows


def _fitting(size: tuple[int, int], area: Box, gap: tuple[int, int]) -> tuple[int, int]:
    return (
        most_in(area.width, size[0] - _SLACK, gap[0]),
        most_in(area.height, size[1] - _SLACK, gap[1]),
    )


def _clipped(
    size: tuple[int, int], area: Box, count: tuple[int, int], gap: tuple[int, int]
) -> tuple[int, int]:
    """The size, less the pixel that rounding may have made it too large for the room."""
    return (
        min(size[0], (area.width + gap[0]) // count[0] - gap[0]),
        min(size[1], (area.height + gap[1]) // count[1] - gap[1]),
    )


def _too_many(profile: Profile, size: tuple[int, int], area: Box, gap: tuple[int, int]) -> Refused:
    """The refusal of copies of a size; of one pixel where they may be as small as they like."""
    sheet, repeat, dpi = profile.sheet, profile.art.repeat, profile.acetate_dpi
    assert repeat is not None
    fit = _fitting(size, area, gap)
    told = {
        "size": size_text(in_millimeters(size, dpi), sheet, decimals=1),
        "gap": length_text(profile.art.gap, sheet, decimals=1),
        "asked": f"{repeat.columns} x {repeat.rows}",
        "fitting": f"{fit[0]} x {fit[1]}",
    }
    if repeat.columns is None and min(fit):
        count = fit[0] * fit[1]
        return SheetRefusal.FILLED_BY_TOO_MANY.refused(
            found=Quantity(count, "copies"),
            needed=Quantity(MOST_COPIES_ON_SHEET, "copies"),
            count=count,
            most=MOST_COPIES_ON_SHEET,
            **told,
        )
    whole = (
        (repeat.columns or 1) * (size[0] + gap[0]) - gap[0],
        (repeat.rows or 1) * (size[1] + gap[1]) - gap[1],
    )
    room = max(0, area.width), max(0, area.height)
    if repeat.columns is None:
        row = SheetRefusal.NO_ROOM_FOR_COPY
    elif profile.art.fit.kind == "page":
        row = SheetRefusal.NO_ROOM_HOWEVER_SMALL
    elif min(fit):
        alone = fit == (1, 1)
        row = SheetRefusal.NO_ROOM_BUT_FOR_ONE if alone else SheetRefusal.NO_ROOM_FOR_COPIES
    else:
        row = SheetRefusal.NO_ROOM_FOR_ANY
    return row.refused(
        found=Quantity("{:.1f} x {:.1f}".format(*in_millimeters(whole, dpi)), "mm"),
        needed=Quantity("{:.1f} x {:.1f}".format(*in_millimeters(room, dpi)), "mm"),
        **told,
    )

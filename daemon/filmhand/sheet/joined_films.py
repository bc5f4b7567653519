"""Art that no sheet holds, over several films that are joined again by hand.

Films are reckoned in whole pixels, so that overlaps are exact.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING

from filmhand.errors import Quantity, Reason, Refused
from filmhand.sheet.layout import (
    Box,
    FilmPart,
    Layout,
    in_inches,
    in_millimeters,
    in_pixels,
    placed,
    ppi_of,
    sheet_boxes,
    shrunk,
    turn_size,
    whole_pixels,
)
from filmhand.units import MM_PER_INCH, Resolution

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

# Room for join crosses beside a part of the art, with a little air (common practice, no source).
JOIN_MM = 7.0


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
    dpi = profile.dpi
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
        raise _too_big(
            size_in,
            f"{count} films, and the profile allows {most}.",
            "Ask for a smaller size, or use a profile with a larger sheet or more limits.pages.",
            Quantity(count, "films"),
            Quantity(most, "films"),
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
    size: tuple[int, int], free: Box, overlap: tuple[int, int], dpi: Resolution
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
    least = min(free_in) * MM_PER_INCH - 2 * JOIN_MM
    return _too_big(
        size_in,
        f"several films, and an overlap of {profile.art.overlap:g} mm on every side leaves nothing "
        "between on this sheet.",
        "Ask for a smaller art.overlap, such as 5 mm, or a smaller size, or use a profile with a "
        "larger sheet.",
        Quantity(round(profile.art.overlap, 1), "mm of overlap"),
        Quantity(f"under {max(0.0, least) / 2:.0f}", "mm of overlap"),
    )


def _too_big(
    size_in: tuple[float, float], takes: str, do: str, found: Quantity, needed: Quantity
) -> Refused:
    across, down = (side * MM_PER_INCH for side in size_in)
    say = f"At {across:.0f} x {down:.0f} mm this art takes {takes}"
    return Refused(Reason.TOO_BIG, say, do, found=found, needed=needed)

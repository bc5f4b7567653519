"""Lines that people cut and join by: cut marks of several copies, crosses of films to be joined.

Room was kept for them (:mod:`filmhand.sheet.placement`), so that they lie inside the margin and
clear of the art.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.sheet.layout import Box, Layout
from filmhand.units import MM_PER_INCH, PixelsPerInch

Placed = tuple[Box, BoolArray]

# Long enough to lay a ruler along, wide enough for any office printer, and off the copies by more
# than a cut goes astray (common practice, no source).
_LINE_MM = 0.25
_CUT_LENGTH_MM, _OFF_MM = 3.0, 1.0
_NARROWEST_GAP_MM = 2.5
_CROSS_MM = 5.0


def trim_marks(layout: Layout, dpi: PixelsPerInch) -> list[Placed]:
    """Marks around and between copies, in line with their edges; none where art lies once.

    Between copies there are some only where the gap has room for them.
    """
    grid = layout.grid
    if grid is None:
        return []
    cells, art = grid.cells, layout.art
    columns, rows = cells[: grid.columns], cells[:: grid.columns]
    wide, high = (max(2, round(_LINE_MM / MM_PER_INCH * along)) for along in (dpi.x, dpi.y))
    lefts = _firsts([edge for cell in columns for edge in (cell.left, cell.right)], wide)
    tops = _firsts([edge for cell in rows for edge in (cell.top, cell.bottom)], high)
    bands = _bands(art.top, art.bottom, [cell.bottom for cell in rows], grid.gap[1], dpi.y)
    beside = _bands(art.left, art.right, [cell.right for cell in columns], grid.gap[0], dpi.x)
    # Half of the outermost lines lies beyond the outermost edges.
    inked = np.zeros(art.width + 2 * wide, np.bool_)
    for left in lefts:
        inked[left - art.left + wide :][:wide] = True
    upright = [
        (
            Box(art.left - wide, top, inked.size, height),
            np.broadcast_to(inked, (height, inked.size)),
        )
        for top, height in bands
    ]
    lying = [
        (Box(left, top, width, high), np.ones((high, width), np.bool_))
        for left, width in beside
        for top in tops
    ]
    return [*upright, *lying]


def alignment_crosses(layout: Layout, dpi: PixelsPerInch) -> list[Placed]:
    """Crosses at both ends of every overlap with a neighboring film, just off the art.

    Those of two neighbors lie on the same places of the joined art, so films lie right when their
    crosses do; and between two crosses runs the line to cut along.
    """
    part = layout.part
    if part is None:
        return []
    # Odd, and no wider than the least overlap, so that a cross never reaches beside the art.
    width, height = ((round(_CROSS_MM / MM_PER_INCH * a) - 1) | 1 for a in (dpi.x, dpi.y))
    off_x, off_y = (round((_OFF_MM + _CROSS_MM / 2) / MM_PER_INCH * a) for a in (dpi.x, dpi.y))
    cross = _cross(width, height, dpi)
    art = layout.art
    # Where an overlap is odd its middle is the pixel after it, on both films alike.
    joins_x = [art.left + part.overlap[0] // 2] if part.column > 1 else []
    if part.column < part.columns:
        joins_x.append(art.right - part.overlap[0] + part.overlap[0] // 2)
    joins_y = [art.top + part.overlap[1] // 2] if part.row > 1 else []
    if part.row < part.rows:
        joins_y.append(art.bottom - part.overlap[1] + part.overlap[1] // 2)
    middles = [(x, y) for x in joins_x for y in (art.top - off_y, art.bottom + off_y)]
    middles += [(x, y) for y in joins_y for x in (art.left - off_x, art.right + off_x)]
    return [(Box(x - width // 2, y - height // 2, width, height), cross) for x, y in middles]


def _cross(width: int, height: int, dpi: PixelsPerInch) -> BoolArray:
    bits = np.zeros((height, width), np.bool_)
    # An odd number of pixels, so that the line has a middle one, and at least three.
    across, down = (max(1, round(_LINE_MM / 4 / MM_PER_INCH * a)) for a in (dpi.x, dpi.y))
    middle_x, middle_y = width // 2, height // 2
    bits[:, middle_x - across : middle_x + across + 1] = True
    bits[middle_y - down : middle_y + down + 1] = True
    return bits


def _firsts(edges: list[int], line: int) -> list[int]:
    """The first pixel of a line over each edge; edges that meet share one."""
    return [edge - line // 2 for edge in sorted(set(edges))]


def _bands(first: int, last: int, ends: list[int], gap: int, dpi: float) -> list[tuple[int, int]]:
    """Start and length of what marks may take before, behind and between the copies of one axis.

    ``ends`` are the pixels just past each copy.
    """
    off, length = (round(mm / MM_PER_INCH * dpi) for mm in (_OFF_MM, _CUT_LENGTH_MM))
    bands = [(first - off - length, length), (last + off, length)]
    if gap >= round(_NARROWEST_GAP_MM / MM_PER_INCH * dpi):
        # In a wide gap each copy has its own, so that they do not join into frames.
        inside = [(off, gap - 2 * off)]
        if gap > 2 * (off + length) + off:
            inside = [(off, length), (gap - off - length, length)]
        bands += [(end + start, some) for end in ends[:-1] for start, some in inside]
    return bands

"""Boxes and sizes on a sheet in pixels, inches and millimeters."""

from __future__ import annotations

from math import floor

from filmhand.sheet.layout import Box, spare_shares
from filmhand.units import MM_PER_INCH, Resolution


def in_pixels(mm: float, dpi: Resolution) -> tuple[int, int]:
    """A length as the nearest whole pixels, across and down."""
    return round(mm / MM_PER_INCH * dpi.x), round(mm / MM_PER_INCH * dpi.y)


def in_inches(box: Box, dpi: Resolution) -> tuple[float, float]:
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


def whole_pixels(size: tuple[float, float], dpi: Resolution) -> tuple[int, int]:
    """A size in inches as pixels, at least one each way."""
    return max(1, round(size[0] * dpi.x)), max(1, round(size[1] * dpi.y))


def ppi_of(art_px: tuple[int, int], turned: int, size: tuple[int, int], dpi: Resolution) -> float:
    """Art pixels per inch on film where art has a size in pixels; the smaller direction counts."""
    source = art_px if turned == 0 else (art_px[1], art_px[0])
    return min(source[0] / (size[0] / dpi.x), source[1] / (size[1] / dpi.y))


def in_millimeters(size: tuple[int, int], dpi: Resolution) -> tuple[float, float]:
    """Width and height in pixels as millimeters."""
    return size[0] / dpi.x * MM_PER_INCH, size[1] / dpi.y * MM_PER_INCH

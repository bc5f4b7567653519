"""Boxes, corner marks and bars of a wedge, in millimeters from its top left corner."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor

from filmhand.sheet.layout import Box
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

RING_INSIDE, CORE = 0.78, 0.55
"""Of a corner mark's diameter: the inside of its ring, and the disc in its middle."""
ONE_HOLE, TWO_HOLES, HOLE_OFF_CENTER = 0.22, 0.16, 0.14
"""Of the same: diameters of a hole that is alone and of two, and how far those lie off center."""


@dataclass(frozen=True, slots=True)
class BoxMm:
    """A rectangle in millimeters; x runs to the right and y down."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.top + self.height

    def inside(self, by: float) -> BoxMm:
        """The rectangle without a rim of so many millimeters."""
        return BoxMm(self.left + by, self.top + by, self.width - 2 * by, self.height - 2 * by)

    def overlaps(self, other: BoxMm) -> bool:
        """Whether the two share more than an edge."""
        slack = 1e-6
        return (
            self.left < other.right - slack
            and other.left < self.right - slack
            and self.top < other.bottom - slack
            and other.top < self.bottom - slack
        )

    def in_pixels(self, dpi: PixelsPerInch, *, left: int = 0, top: int = 0) -> Box:
        """The nearest whole pixels, where the origin lies at a pixel of the sheet."""
        x = [round(mm / MM_PER_INCH * dpi.x) for mm in (self.left, self.right)]
        y = [round(mm / MM_PER_INCH * dpi.y) for mm in (self.top, self.bottom)]
        return Box(left + x[0], top + y[0], x[1] - x[0], y[1] - y[0])


@dataclass(frozen=True, slots=True)
class CornerMark:
    """A ring around a disc, which is round from everywhere.

    The disc has holes by which corners are told apart: ``holes`` is 1 at the top left, 2 (side by
    side) at the top right, 0 at the foot. So a turned picture differs from a mirrored one.
    """

    center: tuple[float, float]
    diameter: float
    holes: int

    @property
    def box(self) -> BoxMm:
        """The square around the ring."""
        half = self.diameter / 2
        x, y = self.center
        return BoxMm(x - half, y - half, self.diameter, self.diameter)

    def discs(self) -> list[tuple[tuple[float, float], float, bool]]:
        """(center, diameter, ink) of the discs that are laid over each other to draw it."""
        (x, y), size = self.center, self.diameter
        drawn = [
            ((x, y), size, True),
            ((x, y), size * RING_INSIDE, False),
            ((x, y), size * CORE, True),
        ]
        if self.holes == 1:
            drawn.append(((x, y), size * ONE_HOLE, False))
        elif self.holes:
            off = size * HOLE_OFF_CENTER
            drawn += [((x + side * off, y), size * TWO_HOLES, False) for side in (-1, 1)]
        return drawn


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar with a line each 10 mm, to measure lengths by.

    Attributes
    ----------
    box : all of it
    length_mm : from the first edge (left, or upper) of the first line to that of the last
    upright : whether it runs down; its lines then lie
    """

    box: BoxMm
    length_mm: int
    upright: bool


def corner_marks(width: float, height: float, diameter: float) -> tuple[CornerMark, ...]:
    """Those of a wedge of a size: top left, top right, lower right, lower left."""
    half = diameter / 2
    near, far, low = half, width - half, height - half
    places = ((near, half, 1), (far, half, 2), (far, low, 0), (near, low, 0))
    return tuple(CornerMark((x, y), diameter, holes) for x, y, holes in places)


def scale_bars(
    width: float, height: float, band: float, *, line_mm: float = 0.3
) -> tuple[ScaleBar, ...]:
    """The bar at the foot and the one at the left, between the corner marks; none under 10 mm.

    Parameters
    ----------
    band : what the marks and their quiet zone take of each side, millimeters
    """
    across, down = (floor((side - 2 * band - line_mm) / 10) * 10 for side in (width, height))
    tall = 2.6
    bars = []
    if across > 0:
        box = BoxMm(band, height - tall, across + line_mm, tall)
        bars.append(ScaleBar(box, across, upright=False))
    if down > 0:
        bars.append(ScaleBar(BoxMm(0, band, tall, down + line_mm), down, upright=True))
    return tuple(bars)


class Shelves:
    """Rooms that are filled in rows, one room after the other."""

    def __init__(self, rooms: Sequence[BoxMm]) -> None:
        """Take rooms, the first to be filled first."""
        self._rooms = list(rooms)
        self._used = 0.0

    def row(self, count: int, size: tuple[float, float], gap: float) -> list[BoxMm]:
        """The places of a row of at most ``count``; empty where no room is left for a row."""
        width, height = size
        while self._rooms:
            room = self._rooms[0]
            fits = floor((room.width + gap + 1e-6) / (width + gap))
            if fits > 0 and self._used + height <= room.height + 1e-6:
                top = room.top + self._used
                self._used += height
                step = width + gap
                return [
                    BoxMm(room.left + number * step, top, width, height)
                    for number in range(min(count, fits))
                ]
            self._rooms.pop(0)
            self._used = 0.0
        return []

    def skip(self, height: float) -> None:
        """Leave so much bare below the last row."""
        self._used += height

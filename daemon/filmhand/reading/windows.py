"""Weighted means over parts of a wedge, taken among the pixels of the picture itself.

Nothing is resampled: each pixel counts by where its middle lies on the wedge. A mean over a
screened patch goes by how many dots happen to lie in it, unless the window takes in whole cells of
the screen however it lies. So windows are boxes blurred with one cell: whatever repeats with the
cells then averages to the same wherever the window lies. (The transform of a cell has its zeros at
all harmonics of the screen.)
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Float64Array, UInt16Array
from filmhand.reading.wedge_search import moved
from filmhand.sheet.wedge_places import BoxMm
from filmhand.tone import linear_table
from filmhand.values import dataclass

_MOST_PIXELS = 90_000
"""Of a part of a picture more are thinned out: by whole steps, which keeps what repeats apart."""
_SPARE = 0.25  # of a cell: a narrower base of a window would hold too few pixels
_STEPS = 5  # across a cell, each way, that a window is blurred by


@dataclass(frozen=True, slots=True)
class RepeatedCell:
    """The cell of what repeats: two vectors in millimeters, each x and y, y down."""

    first: tuple[float, float]
    second: tuple[float, float]

    @classmethod
    def of_screen(cls, lpi: float, angle_deg: float) -> RepeatedCell:
        """That of a screen of square cells; the angle is counter-clockwise as it is seen."""
        side, angle = 25.4 / lpi, np.deg2rad(angle_deg)
        across, up = side * float(np.cos(angle)), side * float(np.sin(angle))
        return cls((across, -up), (up, across))

    @property
    def reach(self) -> tuple[float, float]:
        """Width and height of the box around it, millimeters."""
        return (abs(self.first[0]) + abs(self.second[0]), abs(self.first[1]) + abs(self.second[1]))

    def fits(self, box: BoxMm) -> bool:
        """Whether a window in the box can take in whole cells, with some room to spare."""
        wide, high = self.reach
        spare = _SPARE * max(wide, high)
        return box.width - wide >= spare and box.height - high >= spare

    def shifts(self) -> Float64Array:
        """(n, 2) millimeters: places evenly over the cell, about its middle."""
        steps = (np.arange(_STEPS) + 0.5) / _STEPS - 0.5
        one, other = np.meshgrid(steps, steps)
        vectors = np.array([self.first, self.second], np.float64)
        return np.asarray(np.column_stack([one.ravel(), other.ravel()]) @ vectors, np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class SeenPart:
    """The pixels of a picture whose middles lie in a box of the wedge.

    Attributes
    ----------
    x, y : (n,) float64, millimeters of the wedge
    light : (n, 3) float32, linear red, green and blue, 0..1
    box : the part that was asked for
    """

    x: Float64Array
    y: Float64Array
    light: Float32Array
    box: BoxMm

    def within(self, box: BoxMm) -> BoolArray:
        """(n,) bool: which pixels lie in a box."""
        return (
            (self.x >= box.left)
            & (self.x < box.right)
            & (self.y >= box.top)
            & (self.y < box.bottom)
        )

    def window(self, box: BoxMm, cell: RepeatedCell | None) -> Float64Array:
        """(n,) float64: weights of a window that stays in a box and takes in whole cells.

        Where the box has no room for that, or nothing repeats, all of it counts alike.
        """
        if cell is None or not cell.fits(box):
            return self.within(box).astype(np.float64)
        wide, high = cell.reach
        base = BoxMm(box.left + wide / 2, box.top + high / 2, box.width - wide, box.height - high)
        weights = np.zeros(len(self.x))
        for across, down in cell.shifts():
            weights += self.within(
                BoxMm(base.left + across, base.top + down, base.width, base.height)
            )
        return weights


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture of a wedge, and where the wedge lies in it.

    Attributes
    ----------
    codes : (H, W, 3) uint16, sRGB
    matrix : (3, 3) float64, from millimeters of the wedge to pixels
    """

    codes: UInt16Array
    matrix: Float64Array

    def part(self, box: BoxMm) -> SeenPart:
        """The pixels in a box of the wedge."""
        corners = np.array(
            [
                (box.left, box.top),
                (box.right, box.top),
                (box.right, box.bottom),
                (box.left, box.bottom),
            ]
        )
        seen = moved(self.matrix, corners)
        height, width = self.codes.shape[:2]
        left, top = np.clip(np.floor(seen.min(axis=0)).astype(int), 0, (width, height))
        right, bottom = np.clip(np.ceil(seen.max(axis=0)).astype(int) + 1, 0, (width, height))
        step = max(1, int(np.sqrt((right - left) * (bottom - top) / _MOST_PIXELS)))
        rows, columns = np.mgrid[top:bottom:step, left:right:step]
        back = np.asarray(np.linalg.inv(self.matrix), np.float64)
        places = moved(back, np.column_stack([columns.ravel(), rows.ravel()]))
        codes = self.codes[top:bottom:step, left:right:step].reshape(-1, 3)
        seen_part = SeenPart(
            places[:, 0], places[:, 1], linear_table()[codes].astype(np.float32), box
        )
        inside = seen_part.within(box)
        return SeenPart(seen_part.x[inside], seen_part.y[inside], seen_part.light[inside], box)

    def ppi_at(self, x: float, y: float) -> float:
        """Pixels to an inch of the wedge at a place in millimeters."""
        here = np.array([(x, y), (x + 0.5, y), (x, y + 0.5)])
        origin, right, down = moved(self.matrix, here)
        area = abs(float(np.linalg.det(np.array([right - origin, down - origin]))))
        return float(2 * np.sqrt(area) * 25.4)

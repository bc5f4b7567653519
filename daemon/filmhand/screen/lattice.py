"""The grid that the dots sit on, and the tile of whole pixels that repeats it exactly.

A screen has two dot vectors (real numbers of pixels) and a period: two vectors of *whole* pixels
that are whole combinations of the dot vectors. The period need be neither square nor parallel to
the pixel grid, so any angle and unequal device resolutions come out of the same search.

Coordinates here are a viewer's: x to the right, y up, angles counter-clockwise. Sheet rows run
downward, so a pixel in column c and row r has its center at (c + 1/2, -(r + 1/2)).
"""

from __future__ import annotations

from functools import cache, lru_cache
from math import gcd

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# Half of what the outer surface promises (0.1 % and 0.05 degrees), so that a measurement with its
# own small error still finds the film inside.
LPI_TOLERANCE = 0.0005
ANGLE_TOLERANCE_DEG = 0.025
# A tile that repeats faster than this shows as a pattern where whole dots are dropped.
SHORTEST_REPEAT_IN = 0.5
_LARGEST_ORDER = 160
_TRIED = (640, 2560, 10_240)  # of the smallest tiles, one after the other
# Of the tiles up to this much larger than the smallest good one, the most exact is taken.
_ROOM_FOR_ACCURACY = 1.5


def _extended_gcd(a: int, b: int) -> tuple[int, int, int]:
    """Return (g, s, t) with g = gcd(a, b) = s a + t b > 0, for numbers that are not both 0."""
    common = gcd(a, b)
    if not b:
        return common, a // common, 0
    s = pow(a // common, -1, abs(b) // common)
    return common, s, (common - s * a) // b


@dataclass(frozen=True, slots=True)
class TileBrick:
    """A two-dimensional integer lattice as a brick wall: the Hermite normal form of its basis.

    The plane is covered by bricks ``length`` wide and ``height`` high; each brick course is
    shifted by ``shift`` against the one before. (T. M. Holladay, An optimum algorithm for halftone
    generation for displays and hard copies, Proc. SID 21(2), 1980, for the one-cell case; from
    memory.)
    """

    length: int
    height: int
    shift: int

    @classmethod
    def of(cls, first: tuple[int, int], second: tuple[int, int]) -> TileBrick:
        """The brick of the lattice that two vectors (across, along the courses) span.

        >>> TileBrick.of((5, 6), (-6, 5))
        TileBrick(length=61, height=1, shift=11)
        """
        (a, b), (c, d) = first, second
        area = abs(a * d - b * c)
        if area == 0:
            raise ValueError("the two period vectors are parallel")
        height, s, t = _extended_gcd(b, d)
        length = area // height
        return cls(length, height, (s * a + t * c) % length)

    def index(self, x: Int64Array, y: Int64Array) -> Int64Array:
        """Number, 0 .. length x height - 1, of each lattice residue (x, y)."""
        course = y // self.height
        inside: Int64Array = (x - course * self.shift) % self.length
        return (y - course * self.height) * self.length + inside


@dataclass(frozen=True, slots=True)
class Lattice:
    """A dot grid that repeats exactly on the device's pixels.

    Attributes
    ----------
    period : two (x, y) vectors of whole pixels, y up
    order : two (i, j) vectors of whole dots: period = order x dot vectors
    resolution : device pixels per inch
    """

    period: tuple[tuple[int, int], tuple[int, int]]
    order: tuple[tuple[int, int], tuple[int, int]]
    resolution: PixelsPerInch

    @property
    def pixels(self) -> int:
        """Pixels in one period."""
        (a, b), (c, d) = self.period
        return abs(a * d - b * c)

    @property
    def dots(self) -> int:
        """Dots in one period."""
        (a, b), (c, d) = self.order
        return abs(a * d - b * c)

    @property
    def dot_vectors(self) -> Float64Array:
        """(2, 2) float64: the two vectors from dot to dot, in pixels, y up."""
        return np.linalg.solve(np.array(self.order, np.float64), np.array(self.period, np.float64))

    @property
    def pixel_brick(self) -> TileBrick:
        """The period as bricks of pixels, courses counted in sheet rows (downward)."""
        (a, b), (c, d) = self.period
        return TileBrick.of((a, -b), (c, -d))

    @property
    def dot_brick(self) -> TileBrick:
        """The period as bricks of dots, for numbering the dots of one tile."""
        return TileBrick.of(*self.order)

    def frequencies(self) -> Float64Array:
        """(2, 2) float64: the two screen frequency vectors in cycles per inch, y up."""
        per_inch = self.dot_vectors / [self.resolution.x, self.resolution.y]
        return np.linalg.inv(per_inch).T.astype(np.float64)

    @property
    def lpi(self) -> float:
        """Screen frequency as made, lines per inch: the mean of the two axes."""
        return float(np.hypot(*self.frequencies().T).mean())

    @property
    def angle(self) -> float:
        """Screen angle as made, degrees, counter-clockwise as seen, 0 <= angle < 180."""
        (x, y), (x2, y2) = self.frequencies()
        first = np.degrees(np.arctan2(y, x))
        second = np.degrees(np.arctan2(-x2, y2))  # turned back by a right angle
        return float((first + (second - first + 180) % 360 / 2 - 90) % 180)


def _errors(
    vectors: Float64Array, *, lpi: float, angle: float
) -> tuple[Float64Array, Float64Array]:
    """Worst relative lpi error and worst angle error (degrees) of dot vectors in inches.

    ``vectors`` is (K, 2, 2): K candidates, two vectors each.
    """
    frequency = np.linalg.inv(vectors).transpose(0, 2, 1)
    lpi_error = np.abs(np.hypot(frequency[..., 0], frequency[..., 1]) / lpi - 1).max(axis=1)
    seen = np.degrees(np.arctan2(frequency[..., 1], frequency[..., 0])) - [angle, angle + 90]
    angle_error = np.abs((seen + 180) % 360 - 180).max(axis=1)
    return lpi_error, angle_error


def _most_exact(
    size: Float64Array, lpi_error: Float64Array, angle_error: Float64Array, *, all_tried: bool
) -> int | None:
    """The place of the tile to take, None where none is good or a larger one might be better.

    ``size`` rises.
    """
    for slack in (1, 2) if all_tried else (1,):
        good = np.flatnonzero(
            (lpi_error <= slack * LPI_TOLERANCE) & (angle_error <= slack * ANGLE_TOLERANCE_DEG)
        )
        if good.size:
            most = _ROOM_FOR_ACCURACY * size[good[0]]
            if not all_tried and most >= size[-1]:
                return None
            near = good[size[good] <= most]
            error = lpi_error[near] / LPI_TOLERANCE + angle_error[near] / ANGLE_TOLERANCE_DEG
            return int(near[error.argmin()])
    return None


@cache
def orders_by_size() -> tuple[Int64Array, Int64Array, Float64Array]:
    """The orders (i, j) of all tiles that are tried, the smallest first, and their lengths."""
    i, j = (axis.ravel() for axis in np.mgrid[1 : _LARGEST_ORDER + 1, 0 : _LARGEST_ORDER + 1])
    by_size = np.argsort(i * i + j * j, kind="stable")
    i, j = i[by_size], j[by_size]
    return i, j, np.hypot(i, j)


@lru_cache(maxsize=64)
def find_lattice(lpi: float, angle: float, resolution: PixelsPerInch) -> Lattice:
    """A small tile, no shorter than half an inch, whose lpi and angle are as asked.

    Parameters
    ----------
    lpi : screen frequency, lines per inch, at most a quarter of the resolution
    angle : degrees, counter-clockwise as seen on the sheet
    resolution : device pixels per inch

    Returns
    -------
    Lattice
        lpi within 0.1 % and angle within 0.05 degrees of what was asked; where a tile of
        reasonable size allows, within half of that.

    Raises
    ------
    ValueError
        if no tile of at most 160 dots a side reaches 0.1 % and 0.05 degrees.

    Notes
    -----
    The period vectors are whole-number combinations of the wanted dot vectors, rounded to pixels;
    dividing the rounded vectors back gives the dots as they will be made. For equal resolutions
    this is the Gaussian-integer supercell; for unequal ones the two vectors round independently.
    """
    scale = np.array([resolution.x, resolution.y], np.float64)
    direction = np.radians(angle)
    first = np.array([np.cos(direction), np.sin(direction)]) / lpi
    second = np.array([-np.sin(direction), np.cos(direction)]) / lpi
    i, j, length = orders_by_size()
    long_enough = length >= lpi * SHORTEST_REPEAT_IN
    i, j, size = i[long_enough], j[long_enough], length[long_enough] ** 2
    # Nearly every screen is found among the smallest tiles; only where none is, more are tried.
    for count in sorted({*(min(few, len(i)) for few in _TRIED), len(i)}):
        m, n = i[:count, None], j[:count, None]
        period = np.rint(np.stack([m * first + n * second, m * second - n * first], 1) * scale)
        order = np.stack([np.hstack([m, n]), np.hstack([-n, m])], 1)
        made = np.linalg.solve(order.astype(np.float64), period) / scale
        errors = _errors(made, lpi=lpi, angle=angle)
        k = _most_exact(size[:count], *errors, all_tried=count == len(i))
        if k is not None:
            (a, b), (c, d) = period[k].astype(int).tolist()
            (p, q), (r, s) = order[k].tolist()
            return Lattice(((a, b), (c, d)), ((p, q), (r, s)), resolution)
    raise ValueError(f"no tile holds {lpi} lpi at {angle} degrees at {resolution} dpi")

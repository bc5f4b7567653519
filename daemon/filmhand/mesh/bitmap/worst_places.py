"""Where on a bitmap the strokes, gaps, dots and shadow dots are that a mesh would lose first."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor
from typing import Any

import numpy as np

from filmhand.arrays import BoolArray, Int64Array, UInt8Array
from filmhand.mesh.bitmap.small_components import SmallComponents
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.mesh.bitmap.strokes import InkShape, ThinPieces
from filmhand.mesh.limits import Feature, diameter_um
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

# How many places are told, and how far they must lie from one another to tell more than one would.
MOST_PLACES = 3
_APART_MM = 5.0
# Side of the squares in which losses are gathered: a word of the rows, and as many rows.
_SQUARE = 64
_MOST_TRIED = 10_000


@dataclass(frozen=True, slots=True)
class WorstPlace:
    """A place that the mesh would lose: pixel, width there, and what lies there.

    The width of a dot or a shadow dot is the diameter of the circle with its area.
    """

    x_px: int
    y_px: int
    width_um: float
    feature: Feature

    def millimeters(self, resolution: PixelsPerInch) -> tuple[float, float]:
        """How far it lies from the sheet's left and top edge."""
        return self.x_px / resolution.x * MM_PER_INCH, self.y_px / resolution.y * MM_PER_INCH

    def record(self, resolution: PixelsPerInch) -> dict[str, Any]:
        """As records and reports show it, in mm from the sheet's top left corner."""
        x, y = self.millimeters(resolution)
        return {
            "what": str(self.feature),
            "x_mm": round(x, 1),
            "y_mm": round(y, 1),
            "width_um": round(self.width_um, 1),
        }

    def moved(self, x: int, y: int) -> WorstPlace:
        """The same place with this much added to its pixel."""
        return WorstPlace(self.x_px + x, self.y_px + y, self.width_um, self.feature)


def smallest_components(
    runs: SmallRuns, resolution: PixelsPerInch, *, ink: bool
) -> list[WorstPlace]:
    """The smallest components of those whose runs are given, the smallest first.

    Components close to one another are told once.
    """
    components = SmallComponents.of(runs)
    feature = Feature.DOT if ink else Feature.SHADOW_DOT
    return _first_apart(
        (
            WorstPlace(
                int(components.column[one]),
                int(components.row[one]),
                diameter_um(int(components.area[one]), resolution),
                feature,
            )
            for one in np.argsort(components.area, kind="stable")[:_MOST_TRIED]
        ),
        resolution,
    )


def longest_pieces(
    pieces: ThinPieces, feature: Feature, resolution: PixelsPerInch
) -> list[WorstPlace]:
    """Where the longest thin strokes or gaps are; of those close to one another one is told."""
    return _first_apart(
        (WorstPlace(one.x_px, one.y_px, one.width_um, feature) for one in pieces.longest),
        resolution,
    )


def _first_apart(spots: Iterable[WorstPlace], resolution: PixelsPerInch) -> list[WorstPlace]:
    """The first of the spots, each apart from those before it."""
    found: list[WorstPlace] = []
    for spot in spots:
        if all(_apart(spot, other, resolution) for other in found):
            found.append(spot)
            if len(found) == MOST_PLACES:
                break
    return found


def narrowest_places(shape: InkShape, disc_um: float) -> list[WorstPlace]:
    """The places where an opening takes most of the strokes or gaps, the worst first.

    ``disc_um`` is the disc's width.
    """
    resolution = shape.resolution
    taken = _taken_by_square(shape, disc_um)
    # A stroke may run along the seam of two squares.
    padded, around = np.pad(taken, 1), np.zeros_like(taken)
    for y in range(3):
        for x in range(3):
            around += padded[y : y + taken.shape[0], x : x + taken.shape[1]]
    spots: list[WorstPlace] = []
    reach = [ceil(_APART_MM / MM_PER_INCH * dpi / _SQUARE) for dpi in (resolution.y, resolution.x)]
    while len(spots) < MOST_PLACES and taken.any():
        # The square that itself loses most, where the neighborhood does.
        row, column = np.unravel_index(np.where(taken > 0, around, 0).argmax(), taken.shape)
        spot = _in_square(shape, (int(row), int(column)), disc_um)
        if all(_apart(spot, other, resolution) for other in spots):
            spots.append(spot)
        rows, columns = (
            slice(max(0, at - far), at + far + 1)
            for at, far in zip((int(row), int(column)), reach, strict=True)
        )
        taken[rows, columns] = 0
    return spots


def _taken_by_square(shape: InkShape, disc_um: float) -> Int64Array:
    taken = np.zeros((ceil(shape.height / _SQUARE), ceil(shape.width / _SQUARE)), np.int64)
    for top, left in shape.parts:
        lost = shape.vanishing(disc_um, (top, left))
        words = np.bitwise_count(lost.view(np.uint64)).astype(np.int64)
        squares = np.add.reduceat(words, np.arange(0, len(words), _SQUARE))
        row, column = top // _SQUARE, left * 8 // _SQUARE
        taken[row : row + len(squares), column : column + squares.shape[1]] = squares
    return taken


def _in_square(shape: InkShape, square: tuple[int, int], disc_um: float) -> WorstPlace:
    """The middle of what a square loses, and how wide it is there."""
    resolution, skip = shape.resolution, shape.skip
    top, left = square[0] * _SQUARE, square[1] * _SQUARE
    pixel = max(resolution.pixel_um())
    margin = ceil((4 * disc_um + shape.near_um) / min(resolution.pixel_um())) + 8
    margin += -margin % 8
    first_row, last_row = max(0, top - margin), min(shape.height, top + _SQUARE + margin)
    first, last = max(0, left - margin), min(shape.width, left + _SQUARE + margin)

    def part(a: int, b: int) -> UInt8Array:
        return shape.read(first_row + a, first_row + b)[:, first // 8 : (last + 7) // 8]

    near = InkShape(
        part,
        (last - max(first, skip), last_row - first_row),
        resolution=resolution,
        ink=shape.ink,
        near_um=shape.near_um,
        skip=max(0, skip - first),
    )

    def lost(width_um: float) -> BoolArray:
        bits = np.zeros((last_row - first_row + _SQUARE, last - first + 2 * _SQUARE), np.bool_)
        for row, byte in near.parts:
            rows = np.unpackbits(near.vanishing(width_um, (row, byte)), axis=1)
            bits[row : row + len(rows), 8 * byte : 8 * byte + rows.shape[1]] = rows
        y, x = top - first_row, left - first
        return bits[y : y + _SQUARE, x : x + _SQUARE]

    gone = lost(disc_um)
    rows, columns = np.nonzero(gone)
    middle = np.hypot(rows - rows.mean(), columns - columns.mean()).argmin()
    width = 0
    while (width + 1) * pixel < disc_um:
        if 2 * int((lost((width + 1) * pixel) & gone).sum()) >= rows.size:
            break
        width += 1
    return WorstPlace(
        left + int(columns[middle]) - skip,
        top + int(rows[middle]),
        width * pixel,
        Feature.STROKE if shape.ink else Feature.GAP,
    )


def disc_over(limit_um: float, resolution: PixelsPerInch) -> float:
    """The narrowest disc of whole pixels that is wider than a limit."""
    pixel = max(resolution.pixel_um())
    return (floor(limit_um / pixel + 1e-9) + 1) * pixel


def _apart(one: WorstPlace, other: WorstPlace, resolution: PixelsPerInch) -> bool:
    x = (one.x_px - other.x_px) / resolution.x
    y = (one.y_px - other.y_px) / resolution.y
    return bool(np.hypot(x, y) * MM_PER_INCH >= _APART_MM)

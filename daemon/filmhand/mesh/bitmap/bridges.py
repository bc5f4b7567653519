"""Where a stray component is cheapest joined to a neighbor that the mesh holds.

A bridge is a whole rectangle at least as wide, both ways, as what the mesh just holds, so that it
is no hair-line itself. It must meet the small component, and a neighbor that is no small component,
along at least its own width: two shapes that touch at a corner are joined by a block around the
corner.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Int64Array, UInt16Array
from filmhand.mesh.bitmap.labeling import with_neighbors
from filmhand.values import dataclass

# No bridge: dearer than anything else that can be done with a small component.
NONE = 1 << 40
_AT_ONCE = 1024
_Pixels = tuple[Int64Array, Int64Array, Int64Array]


@dataclass(frozen=True, slots=True)
class Bridges:
    """The cheapest bridge of each small component.

    Attributes
    ----------
    cost : (n,) int64, pixels that it changes; ``NONE`` where no bridge is possible
    row, column : (n,) int64, its first row and column
    """

    cost: Int64Array
    row: Int64Array
    column: Int64Array

    @classmethod
    def none(cls, count: int) -> Bridges:
        """No bridge for any of so many small components."""
        return cls(
            np.full(count, NONE, np.int64), np.zeros(count, np.int64), np.zeros(count, np.int64)
        )


@dataclass(frozen=True, slots=True)
class NearbyPixels:
    """What lies around the small components of one color.

    Attributes
    ----------
    bits : (h, w) bool, True = ink
    small : (h, w) bool, pixels of any small component of their color
    closed : (h, w) bool, pixels that must not take that color; None for none
    reach : how far from its middle a small component's bridge is looked for
    bridge : width and height of a bridge
    ink : whether the small components are of ink
    """

    bits: BoolArray
    small: BoolArray
    closed: BoolArray | None
    reach: int
    bridge: tuple[int, int]
    ink: bool = True


def find_bridges(
    around: NearbyPixels, row: Int64Array, column: Int64Array, own: _Pixels
) -> Bridges:
    """The cheapest bridge of each small component to a neighbor.

    Parameters
    ----------
    around : the pixels
    row, column : (n,) int64, the middles of the small components
    own : their pixels, sorted by small component: whose (0 .. n-1), row and column of each
    """
    found = Bridges.none(row.size)
    for first in range(0, row.size, _AT_ONCE):
        some = slice(first, min(row.size, first + _AT_ONCE))
        begin, end = np.searchsorted(own[0], [some.start, some.stop])
        theirs = (own[0][begin:end] - first, own[1][begin:end], own[2][begin:end])
        found.cost[some], found.row[some], found.column[some] = _some(
            around, row[some], column[some], theirs
        )
    return found


def _some(
    around: NearbyPixels, row: Int64Array, column: Int64Array, own: _Pixels
) -> tuple[Int64Array, Int64Array, Int64Array]:
    across, down = around.bridge
    reach, side = around.reach, 2 * around.reach + 1
    height, width = around.bits.shape
    rows = row[:, None] - reach + np.arange(side)
    columns = column[:, None] - reach + np.arange(side)
    beyond = ((rows < 0) | (rows >= height))[:, :, None]
    beyond = beyond | ((columns < 0) | (columns >= width))[:, None, :]
    place = rows.clip(0, height - 1)[:, :, None] * width + columns.clip(0, width - 1)[:, None, :]
    same = (around.bits.ravel()[place] == around.ink) & ~beyond
    mine = _windows_of(own, row, column, reach)
    whole = same & ~around.small.ravel()[place]
    # Bridges that take in a third shape would cost more once that shape is mended itself.
    closed = beyond | (same & ~mine & ~whole)
    if around.closed is not None:
        closed |= around.closed.ravel()[place] & ~same
    contact = min(across, down)
    possible = _boxes(closed, across, down) == 0
    possible &= _boxes(with_neighbors(mine), across, down) >= contact
    possible &= _boxes(with_neighbors(whole), across, down) >= contact
    cost = np.where(possible, _boxes(~same, across, down).astype(np.int64), NONE)
    flat = cost.reshape(len(cost), -1)
    best = flat.argmin(axis=1)
    y, x = np.divmod(best, cost.shape[2])
    return flat[np.arange(len(flat)), best], row - reach + y, column - reach + x


def _windows_of(own: _Pixels, row: Int64Array, column: Int64Array, reach: int) -> BoolArray:
    """Each small component's own pixels in the window around its middle."""
    side = 2 * reach + 1
    mine = np.zeros((row.size, side, side), np.bool_)
    component, y, x = own
    y, x = y - row[component] + reach, x - column[component] + reach
    inside = (y >= 0) & (y < side) & (x >= 0) & (x < side)
    mine[component[inside], y[inside], x[inside]] = True
    return mine


def _boxes(bits: BoolArray, across: int, down: int) -> UInt16Array:
    """How many pixels are set in each box of the size given, by its top left corner."""
    rows, columns = bits.shape[1] - down + 1, bits.shape[2] - across + 1
    high = np.zeros((len(bits), rows, bits.shape[2]), np.uint16)
    for offset in range(down):
        high += bits[:, offset : offset + rows]
    boxes = np.zeros((len(bits), rows, columns), np.uint16)
    for offset in range(across):
        boxes += high[:, :, offset : offset + columns]
    return boxes

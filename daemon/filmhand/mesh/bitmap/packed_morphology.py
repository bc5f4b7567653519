"""Shapes on a grid of cells packed 64 to a word, grown and shrunk by octagons.

A grid is one long row of bits, line after line, the first cell of a word in its lowest bit. A step
of any number of cells in any direction is then one shift of the whole grid. What a shift carries
over the end of a line comes in at the start of the next, so whoever uses this keeps a border of
cells on every side that does not count, as wide as all steps together reach.

The octagon stands in for the disc: it is built from one segment along each axis and each diagonal
(J. Serra, Image Analysis and Mathematical Morphology, Academic Press, 1982, ch. VI), each of which
takes as many steps as its length has binary digits.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from itertools import product
from operator import mul
from typing import Any

import numpy as np

from filmhand.arrays import UInt64Array
from filmhand.kernels.loops import compiled

WORD = 64
# The diagonal sides of a regular octagon of width 1 advance 1 - 1 / sqrt(2) along each axis.
_DIAGONAL = 1 - 0.5**0.5


@lru_cache(maxsize=64)
def octagon(cells: int, across: int, down: int) -> tuple[int, ...]:
    """The steps that build an octagon: signed moves; at each, a shape is joined with itself moved.

    Parameters
    ----------
    cells : cells of a line, a multiple of 64
    across, down : how much wider and higher a shape gets, in cells
    """
    narrow = min(across, down)
    # Diagonals alone would leave every second cell of a chequered pattern out.
    slanted = max(0, min(round(_DIAGONAL * narrow), (narrow - 1) // 2))
    return tuple(
        sign * step
        for length, step in (
            (across - 2 * slanted, 1),
            (down - 2 * slanted, cells),
            (slanted, cells + 1),
            (slanted, cells - 1),
        )
        for sign in _doubling(length)
    )


def _doubling(length: int) -> tuple[int, ...]:
    """Signed steps that spread one cell over ``length`` more, about evenly to both sides."""
    sizes = []
    reached = 1
    while reached <= length:
        sizes.append(min(reached, length + 1 - reached))
        reached += sizes[-1]
    return min(
        (tuple(map(mul, sizes, signs)) for signs in product((1, -1), repeat=len(sizes))),
        key=lambda steps: abs(sum(steps)),
    )


class PackedMorphology:
    """Grows and shrinks grids of one size, and keeps the room that this takes.

    Parameters
    ----------
    size : words of a grid
    """

    def __init__(self, size: int) -> None:
        self._size = size

    @cached_property
    def _room(self) -> tuple[UInt64Array, UInt64Array]:
        return np.empty(self._size, np.uint64), np.empty(self._size, np.uint64)

    def grow(self, grid: UInt64Array, steps: tuple[int, ...]) -> UInt64Array:
        """Every cell that the octagon covers when its middle lies on a set cell; in place."""
        return self._swept(grid, steps, meets=False)

    def shrink(self, grid: UInt64Array, steps: tuple[int, ...]) -> UInt64Array:
        """Every cell about which the octagon lies in the shape; in place."""
        return self._swept(grid, tuple(-step for step in steps), meets=True)

    def _swept(self, grid: UInt64Array, steps: tuple[int, ...], *, meets: bool) -> UInt64Array:
        """Join the grid with itself moved by each step in turn: what both have, or either has."""
        loops = compiled()
        if loops is None:
            for step in steps:
                self._join(grid, step, np.bitwise_and if meets else np.bitwise_or)
        else:
            loops.join_moved(grid, np.array(steps, np.int64), meets)
        return grid

    def _join(self, grid: UInt64Array, step: int, combine: Any) -> None:
        """Combine the grid with itself moved by ``step`` cells."""
        whole, part = divmod(abs(step), WORD)
        (moved, carried), stop = self._room, self._size - whole
        if not part:
            np.copyto(moved, grid)
        elif step > 0:
            np.left_shift(grid, np.uint64(part), out=moved)
            np.right_shift(grid, np.uint64(WORD - part), out=carried)
            np.bitwise_or(moved[1:], carried[:-1], out=moved[1:])
        else:
            np.right_shift(grid, np.uint64(part), out=moved)
            np.left_shift(grid, np.uint64(WORD - part), out=carried)
            np.bitwise_or(moved[:-1], carried[1:], out=moved[:-1])
        if step > 0:
            combine(grid[whole:], moved[:stop], out=grid[whole:])
        else:
            combine(grid[:stop], moved[whole:], out=grid[:stop])

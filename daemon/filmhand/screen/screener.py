"""Strips of tone, or of light, to bits, against a tile that is anchored to the sheet."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, UInt16Array
from filmhand.kernels.repeated_levels import COLUMNS_BESIDE, RepeatedLevels
from filmhand.screen.tile import ThresholdTile

# Bytes and rows that are laid out at once: more would leave the processor's cache.
_LARGEST_BLOCK, _MOST_ROWS = 4 * 2**20, 8


class Screener:
    """Cuts strips into ink and bare film.

    The phase of the screen is fixed to the sheet's top left corner, so the same place of the
    sheet gets the same dots whatever strip it is part of, and strips may be cut in any order and
    in several threads.

    Parameters
    ----------
    tile : the threshold tile
    column, width : the columns of the sheet that strips will be given for
    cuts : by threshold, what is compared in its place; the thresholds themselves unless given
    dark_inks : ink is where the strip is at or below its cut, not at or above
    """

    def __init__(
        self,
        tile: ThresholdTile,
        *,
        column: int,
        width: int,
        cuts: Float32Array | None = None,
        dark_inks: bool = False,
    ) -> None:
        self._brick = tile.brick
        self._column = column
        self._width = width
        self._dark_inks = dark_inks
        self._levels: NDArray[Any] = tile.thresholds if cuts is None else cuts[tile.thresholds]

    @cached_property
    def _rows(self) -> NDArray[Any]:
        """Some courses above one another as they lie on the sheet, continued to the right.

        Rows of the sheet from a course's first on are then one slice of these, so that many are
        compared at once; a row at a time would take longer to ask for than to compare.
        """
        brick, levels = self._brick, self._levels
        columns = brick.length + self._width
        courses = _LARGEST_BLOCK // (brick.height * columns * levels.itemsize)
        courses = max(1, min(courses, -(-_MOST_ROWS // brick.height)))
        rows = np.empty((courses, brick.height, columns), levels.dtype)
        along = np.arange(columns)
        for course in range(courses):
            rows[course] = levels[:, (along - course * brick.shift) % brick.length]
        return rows.reshape(courses * brick.height, columns)

    @cached_property
    def _beside(self) -> Float32Array:
        """The levels of one period, continued to the right as far as the loop in C goes at once."""
        along = np.arange(self._brick.length + COLUMNS_BESIDE) % self._brick.length
        return np.ascontiguousarray(self._levels[:, along], np.float32)

    def repeated_levels(self, row: int, count: int) -> RepeatedLevels:
        """The cuts that ``count`` rows of the sheet are compared with, from ``row`` on."""
        brick = self._brick
        course, inside = np.divmod(np.arange(row, row + count), brick.height)
        start = (self._column - course * brick.shift) % brick.length
        stride = brick.length + COLUMNS_BESIDE
        return RepeatedLevels(
            self._beside, inside * stride + start, brick.length, stride, self._dark_inks
        )

    def cut(
        self, strip: UInt16Array | Float32Array, *, row: int, out: BoolArray | None = None
    ) -> BoolArray:
        """Ink where the strip reaches the thresholds.

        Parameters
        ----------
        strip : (n, width) uint16 tone, 0 = bare film, 65535 = solid; or float32 light, for cuts
        row : sheet row of the strip's first line
        out : (n, width) bool, written in place of a new array

        Returns
        -------
        (n, width) bool, True = ink
        """
        if out is None:
            out = np.empty(strip.shape, np.bool_)
        reaches = np.less_equal if self._dark_inks else np.greater_equal
        brick, line = self._brick, 0
        while line < strip.shape[0]:
            course, inside = divmod(row + line, brick.height)
            start = (self._column - course * brick.shift) % brick.length
            some = self._rows[inside : inside + strip.shape[0] - line, start : start + self._width]
            stop = line + len(some)
            reaches(strip[line:stop], some, out=out[line:stop])
            line = stop
        return out

"""Strips of tone, or of light, to bits, against a tile that is anchored to the sheet."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.screen.tile import Tile

Bits = NDArray[np.bool_]


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
        tile: Tile,
        *,
        column: int,
        width: int,
        cuts: NDArray[np.float32] | None = None,
        dark_inks: bool = False,
    ) -> None:
        self._brick = tile.brick
        self._column = column
        self._width = width
        self._reaches = np.less_equal if dark_inks else np.greater_equal
        repeats = 1 + -(-width // tile.brick.length)
        # Each course continued to the right, so that every sheet row is one slice of it.
        courses = np.tile(tile.thresholds, (1, repeats))[:, : tile.brick.length + width]
        self._courses: NDArray[Any] = courses if cuts is None else cuts[courses]

    def cut(
        self, strip: NDArray[np.uint16] | NDArray[np.float32], *, row: int, out: Bits | None = None
    ) -> Bits:
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
        brick = self._brick
        for line in range(strip.shape[0]):
            course, inside = divmod(row + line, brick.height)
            start = (self._column - course * brick.shift) % brick.length
            threshold = self._courses[inside, start : start + self._width]
            self._reaches(strip[line], threshold, out=out[line])
        return out

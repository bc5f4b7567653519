"""Tone strips to bits, against a tile that is anchored to the sheet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmhand.screen.tile import Tile


class Screener:
    """Cuts strips of tone into ink and bare film.

    The phase of the screen is fixed to the sheet's top left corner, so the same place of the
    sheet gets the same dots whatever strip it is part of, and strips may be cut in any order and
    in several threads.

    Parameters
    ----------
    tile : the threshold tile
    column, width : the columns of the sheet that tone will be given for
    """

    def __init__(self, tile: Tile, *, column: int, width: int) -> None:
        self._brick = tile.brick
        self._column = column
        self._width = width
        repeats = 1 + -(-width // tile.brick.length)
        # Each course continued to the right, so that every sheet row is one slice of it.
        self._courses = np.tile(tile.thresholds, (1, repeats))[:, : tile.brick.length + width]

    def cut(
        self, tone: NDArray[np.uint16], *, row: int, out: NDArray[np.bool_] | None = None
    ) -> NDArray[np.bool_]:
        """Ink where the tone reaches the threshold.

        Parameters
        ----------
        tone : (n, width) uint16, 0 = bare film, 65535 = solid
        row : sheet row of the strip's first line
        out : (n, width) bool, written in place of a new array

        Returns
        -------
        (n, width) bool, True = ink
        """
        if out is None:
            out = np.empty(tone.shape, np.bool_)
        brick = self._brick
        for line in range(tone.shape[0]):
            course, inside = divmod(row + line, brick.height)
            start = (self._column - course * brick.shift) % brick.length
            threshold = self._courses[inside, start : start + self._width]
            np.greater_equal(tone[line], threshold, out=out[line])
        return out

"""Pictures in pieces, so that wide flats need no look at each pixel.

A strip of rows falls into runs of columns: those of one color, with nothing else within reach, and
the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray
from filmhand.values import dataclass

SrgbCodes = NDArray[np.uint8] | NDArray[np.uint16]
STRIP_PIXELS = 2**18
"""About so many are in a strip; shares of some inks take tens of bytes a pixel meanwhile."""
_NARROW = 48  # columns of one color between others that are not worth a piece of their own


@dataclass(frozen=True, slots=True)
class ArtPiece:
    """Some rows and columns of a picture.

    Attributes
    ----------
    rows, columns : the piece itself
    around : rows and columns of it and of what lies within reach
    plain : whether all of ``around`` has one color
    """

    rows: slice
    columns: slice
    around: tuple[slice, slice]
    plain: bool

    @property
    def own(self) -> tuple[slice, slice]:
        """The piece within what lies around it."""
        rows, columns = (
            slice(own.start - wide.start, own.stop - wide.start)
            for own, wide in zip((self.rows, self.columns), self.around, strict=True)
        )
        return rows, columns

    @property
    def pixels(self) -> int:
        """How many it has."""
        height: int = self.rows.stop - self.rows.start
        width: int = self.columns.stop - self.columns.start
        return height * width


def art_pieces(
    codes: SrgbCodes, reach: int, *, strip_pixels: int = STRIP_PIXELS
) -> Iterator[ArtPiece]:
    """The pieces of a picture, each pixel in one of them, strip by strip.

    Parameters
    ----------
    codes : (H, W, 3)
    reach : how many rows and columns beside it a pixel depends on
    strip_pixels : about so many are in a strip
    """
    height, width = codes.shape[:2]
    step = max(1, strip_pixels // max(1, width))
    for top in range(0, height, step):
        rows = slice(top, min(height, top + step))
        wide = slice(max(0, rows.start - reach), min(height, rows.stop + reach))
        for columns, plain in _runs(codes[wide], reach):
            beside = slice(max(0, columns.start - reach), min(width, columns.stop + reach))
            yield ArtPiece(rows, columns, (wide, beside), plain)


def _runs(strip: SrgbCodes, reach: int) -> list[tuple[slice, bool]]:
    """Columns in turn, and whether these have one color with nothing else within reach."""
    height, width = strip.shape[:2]
    if min(height, width) < 2 * reach + 2:
        return [(slice(0, width), False)]
    mixed = np.zeros(width, np.bool_)
    mixed |= _differ(strip[1:], strip[:-1])
    beside = _differ(strip[:, 1:], strip[:, :-1])
    mixed[1:] |= beside
    mixed[:-1] |= beside
    near = np.convolve(mixed, np.ones(2 * reach + 1, np.int64))[reach : reach + width] > 0
    edges = [0, *(np.flatnonzero(near[1:] != near[:-1]) + 1).tolist(), width]
    runs: list[tuple[slice, bool]] = []
    for first, stop in pairwise(edges):
        plain = not near[first] and stop - first >= _NARROW
        joined = bool(runs) and not plain and not runs[-1][1]
        since = runs.pop()[0].start if joined else first
        runs.append((slice(since, stop), plain))
    return runs


def _differ(one: SrgbCodes, other: SrgbCodes) -> BoolArray:
    """(columns,) whether two pictures differ anywhere in a column."""
    different: BoolArray = (one != other).any(axis=0).any(axis=-1)
    return different

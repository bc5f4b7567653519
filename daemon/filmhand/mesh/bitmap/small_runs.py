"""The pixels of small components, as runs."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Int32Array, Int64Array

# Films were first made from components counted in strips of so many rows.
_ROWS = 128


class SmallRuns(NamedTuple):
    """The pixels of the small components, as runs.

    Attributes
    ----------
    component : (k,) int64, number of the component, 0 .. n-1
    row, start, stop : (k,) int64, pixels start .. stop-1 of the row
    """

    component: Int64Array
    row: Int64Array
    start: Int64Array
    stop: Int64Array

    @classmethod
    def joined(cls, parts: list[SmallRuns]) -> SmallRuns:
        """Several lists as one, which is empty without any."""
        if not parts:
            return cls(*(np.empty(0, np.int64) for _ in cls._fields))
        return cls(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))

    def picked(self, which: NDArray[Any] | slice) -> SmallRuns:
        """Some of the runs, by mask, index or slice."""
        return SmallRuns(*(column[which] for column in self))

    def chosen(self, which: BoolArray, component: Int64Array) -> SmallRuns:
        """Some of the runs, under new component numbers given for all of them."""
        return self._replace(component=component).picked(which)

    def numbered(self, which: BoolArray, number: Int32Array | None = None) -> SmallRuns:
        """The runs of some components, renumbered from 0 or as ``number`` says."""
        if not self.row.size:
            return self
        if number is None:
            number = np.cumsum(which, dtype=np.int32) - 1
        return self.chosen(which[self.component], number[self.component].astype(np.int64))

    def in_order(self) -> SmallRuns:
        """The same with the components numbered in an order that depends on their pixels alone.

        Of equal components the first are mended where not all can be, so the order is part of what
        makes a film. It is that in which components close as the bitmap is looked through in bands
        of rows: by the band; those that lie inside of it first; then by their first pixels.
        """
        if not self.row.size:
            return self
        count = int(self.component.max()) + 1
        width = int(self.stop.max())
        pixel = np.full(count, np.iinfo(np.int64).max)
        np.minimum.at(pixel, self.component, self.row * width + self.start)
        bottom = np.zeros(count, np.int64)
        np.maximum.at(bottom, self.component, self.row)
        # What reaches a band's last row may go on, so it is closed with the next band.
        band = (bottom + 1) // _ROWS
        across = pixel // width % _ROWS == 0
        across |= pixel // width // _ROWS != band
        rank = np.empty(count, np.int64)
        rank[np.lexsort((pixel, across, band))] = np.arange(count)
        return self._replace(component=rank[self.component])

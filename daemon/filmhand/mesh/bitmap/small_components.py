"""The components that a mesh cannot hold, gathered from their runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import field

import numpy as np

from filmhand.arrays import BoolArray, Int64Array
from filmhand.mesh.bitmap.small_runs import SmallRuns
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class SmallComponents:
    """The small components of one color, one entry of each array a component.

    Attributes
    ----------
    area : pixels
    top, bottom : the rows it lies in are top .. bottom-1
    row, column : the pixel at its middle
    runs : its pixels, sorted by component
    first_run : index of the first run of each component; one more entry than components
    """

    area: Int64Array
    top: Int64Array
    bottom: Int64Array
    row: Int64Array
    column: Int64Array
    runs: SmallRuns
    first_run: Int64Array

    @classmethod
    def of(cls, runs: SmallRuns) -> SmallComponents:
        """Gather the runs of small components into small components."""
        order = np.argsort(runs.component, kind="stable")
        gathered = runs.picked(order)
        component, row, start, stop = gathered
        begins = np.ones(order.size, np.bool_)
        begins[1:] = component[1:] != component[:-1]
        first = np.flatnonzero(begins)
        bounds = np.append(first, order.size)
        length = stop - start
        area = np.add.reduceat(length, first)
        middle_row = np.add.reduceat(length * row, first) / area
        middle_column = np.add.reduceat(length * (start + stop - 1), first) / (2 * area)
        return cls(
            area,
            np.minimum.reduceat(row, first),
            np.maximum.reduceat(row, first) + 1,
            np.rint(middle_row).astype(np.int64),
            np.rint(middle_column).astype(np.int64),
            gathered,
            bounds,
        )

    def pixels_of(self, which: Int64Array) -> tuple[Int64Array, Int64Array, Int64Array]:
        """All pixels of some components: whose (0 .. len(which)-1, ascending), row and column."""
        runs_of_each = np.diff(self.first_run)[which]
        run = _ranges(self.first_run[which], runs_of_each)
        length = self.runs.stop[run] - self.runs.start[run]
        whose = np.repeat(np.repeat(np.arange(which.size), runs_of_each), length)
        return whose, np.repeat(self.runs.row[run], length), _ranges(self.runs.start[run], length)


@dataclass(frozen=True, slots=True)
class HeldComponents:
    """What the mesh holds: pixels of a component, and a bridge's width and height in pixels.

    Nothing is joined where the bridge is None.
    """

    pixels: int
    bridge: tuple[int, int] | None = None


@dataclass(slots=True)
class PixelMarks:
    """Room for a mark on each pixel of a band, used again: new room costs more than cleaning."""

    room: BoolArray = field(default_factory=lambda: np.zeros(0, np.bool_))

    @contextmanager
    def on(self, shape: tuple[int, ...], pixels: Int64Array) -> Iterator[BoolArray]:
        """A mask of this shape, True at some places of its flat view, until the ``with`` ends."""
        size = shape[0] * shape[1]
        if self.room.size < size:
            self.room = np.zeros(size, np.bool_)
        self.room[pixels] = True
        try:
            yield self.room[:size].reshape(shape)
        finally:
            self.room[pixels] = False


def _ranges(first: Int64Array, length: Int64Array) -> Int64Array:
    """first[0], first[0] + 1, … for length[0] numbers, then the same for the next."""
    before = np.cumsum(length) - length
    return np.repeat(first - before, length) + np.arange(int(length.sum()))

"""How many components there are of every size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import Int64Array
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class AreaCounts:
    """The sizes of components and how many have each, in memory that does not grow with them.

    Attributes
    ----------
    area : (k,) int64, pixels, ascending, each once
    count : (k,) int64, how many components have so many pixels, at least 1
    """

    area: Int64Array
    count: Int64Array

    @classmethod
    def of(cls, areas: NDArray[Any]) -> AreaCounts:
        """Count the areas of single components, (n,) whole numbers in any order."""
        area, count = np.unique(areas, return_counts=True)
        return cls(area.astype(np.int64), count.astype(np.int64))

    @classmethod
    def joined(cls, parts: Sequence[AreaCounts]) -> AreaCounts:
        """Several counts as one, which is empty without any."""
        if not parts:
            return cls(np.empty(0, np.int64), np.empty(0, np.int64))
        area = np.concatenate([part.area for part in parts])
        count = np.concatenate([part.count for part in parts])
        order = np.argsort(area, kind="stable")
        area, count = area[order], count[order]
        first = np.flatnonzero(np.diff(area, prepend=-1))
        return cls(area[first], np.add.reduceat(count, first) if first.size else count)

    @property
    def total(self) -> int:
        """Number of components."""
        return int(self.count.sum())

    @property
    def smallest(self) -> int:
        """The least area; there must be a component."""
        return int(self.area[0])

    def below(self, limit: int) -> int:
        """Number of components with fewer pixels than ``limit``."""
        return int(self.count[: np.searchsorted(self.area, limit)].sum())

    def at(self, place: int) -> int:
        """The area at a place, 0 .. total-1, of the list of all areas from the smallest up."""
        return int(self.area[np.searchsorted(np.cumsum(self.count), place, side="right")])

    @property
    def median(self) -> float:
        """The area in the middle, or the mean of the two there; there must be a component."""
        total = self.total
        return (self.at((total - 1) // 2) + self.at(total // 2)) / 2

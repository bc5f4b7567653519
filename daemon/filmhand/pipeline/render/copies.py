"""Rows of one art made into rows of all its copies on the sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.sheet.layout import Box, CopyGrid
from filmhand.values import dataclass

RowReader = Callable[[int, int], NDArray[Any]]


@dataclass(frozen=True, slots=True)
class ArtCopies:
    """Where copies lie in the rectangle around them: one size, one pitch, from the top left.

    Attributes
    ----------
    columns, rows : how many
    copy : the one at the top left of the film
    pitch : pixels from one to the next, across and down
    area : the rectangle around all of them
    """

    columns: int
    rows: int
    copy: Box
    pitch: tuple[int, int]
    area: Box

    @classmethod
    def of(cls, grid: CopyGrid | None, area: Box) -> ArtCopies:
        """The copies of a grid in ``area`` of a film, mirrored or not; or the art alone."""
        if grid is None:
            return cls(1, 1, area, (area.width, area.height), area)
        one = grid.cells[0]
        copy = Box(area.left, area.top, one.width, one.height)
        pitch = (one.width + grid.gap[0], one.height + grid.gap[1])
        return cls(grid.columns, grid.rows, copy, pitch, area)

    @property
    def pixels(self) -> int:
        """Pixels of all copies."""
        return self.columns * self.rows * self.copy.width * self.copy.height

    @property
    def shifts(self) -> list[tuple[int, int]]:
        """How far each copy lies from the first, across and down."""
        across, down = self.pitch
        return [(x * across, y * down) for y in range(self.rows) for x in range(self.columns)]

    def spread(self, rows: RowReader, *, beyond: Any) -> RowReader:
        """Rows of one copy as rows of the area; between the copies there is ``beyond``."""
        if self.columns == self.rows == 1:
            return rows
        copy, (across, down) = self.copy, self.pitch

        def all_copies(first: int, count: int) -> NDArray[Any]:
            whole: NDArray[Any] | None = None
            for number in range(first // down, (first + count - 1) // down + 1):
                top = number * down
                a, b = max(first, top), min(first + count, top + copy.height)
                if a >= b:
                    continue
                part = rows(a - top, b - a)
                if whole is None:
                    whole = np.full((count, self.area.width), beyond, part.dtype)
                for left in range(0, self.columns * across, across):
                    whole[a - first : b - first, left : left + copy.width] = part
            if whole is None:
                return np.full((count, self.area.width), beyond)
            return whole

        return all_copies

    def gaps(self) -> RowReader | None:
        """Rows of bool, True between the copies; None where there is nothing between them."""
        if self.copy.width * self.columns == self.area.width and (
            self.copy.height * self.rows == self.area.height
        ):
            return None
        width = self.copy.width
        return self.spread(lambda _, count: np.zeros((count, width), np.bool_), beyond=True)

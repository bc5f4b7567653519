"""Dot shapes: the order in which the places of a cell turn black.

A spot function takes cell coordinates x and y, each -1 .. +1 with the dot's centre at the origin,
and gives a value that is highest where black starts. Only the order of the values counts. The
formulas are those of ISO 32000-1:2008, 10.5.3, table 128 (the same as ISO 32000-2:2020, 10.6.3,
table 126).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def _round(x: Array, y: Array) -> Array:
    ax, ay = np.abs(x), np.abs(y)
    return np.where(ax + ay <= 1, 1 - (x * x + y * y), (ax - 1) ** 2 + (ay - 1) ** 2 - 1)


def _ellipse(x: Array, y: Array) -> Array:
    ax, ay = np.abs(x), np.abs(y)
    w = 3 * ax + 4 * ay - 3
    dot = 1 - (ax**2 + (ay / 0.75) ** 2) / 4
    hole = ((1 - ax) ** 2 + ((1 - ay) / 0.75) ** 2) / 4 - 1
    return np.where(w < 0, dot, np.where(w > 1, hole, 0.5 - w))


def _diamond(x: Array, y: Array) -> Array:
    ax, ay = np.abs(x), np.abs(y)
    s = ax + ay
    dot = 1 - (ax**2 + ay**2)
    side = 1 - (0.85 * ax + ay)
    hole = (ax - 1) ** 2 + (ay - 1) ** 2 - 1
    return np.where(s <= 0.75, dot, np.where(s <= 1.23, side, hole))


def _square(x: Array, y: Array) -> Array:
    return -np.maximum(np.abs(x), np.abs(y))


def _line(x: Array, y: Array) -> Array:
    # Along a line every place is equal; the faint pull toward the middle keeps the pieces of a
    # dropped line whole instead of growing from one end.
    return -np.abs(y) - 1e-6 * np.abs(x)


@dataclass(frozen=True, slots=True)
class Spot:
    """A dot shape and where its holes are centred.

    Attributes
    ----------
    value : the spot function
    hole_centre : (x, y) in cell widths from the dot's centre, the last place to turn black
    joins : tones (0..1) at which neighbouring dots meet along the first and the second axis
    hole_value : the order in which holes grow, with the hole's centre at the origin; None where it
        is that of the dots, backwards
    """

    value: Callable[[Array, Array], Array]
    hole_centre: tuple[float, float]
    joins: tuple[float, float]
    hole_value: Callable[[Array, Array], Array] | None = None


SPOTS: dict[str, Spot] = {
    "round": Spot(_round, (0.5, 0.5), (0.5, 0.5)),
    "ellipse": Spot(_ellipse, (0.5, 0.5), (0.375, 0.625)),
    "diamond": Spot(_diamond, (0.5, 0.5), (0.425, 0.575)),
    # Backwards, the square's shadows would be a net of hairlines that no stencil holds.
    "square": Spot(_square, (0.5, 0.5), (0.5, 0.5), hole_value=_square),
    "line": Spot(_line, (0.0, 0.5), (0.0, 1.0)),
}

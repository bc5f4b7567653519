"""Dot shapes: the order in which the places of a cell turn black.

A spot function takes cell coordinates x and y, each -1 .. +1 with the dot's center at the origin,
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
_TRIED = 64  # steps from the middle of a cell to its side


def _round(x: Array, y: Array) -> Array:
    # The standard's CosineDot. Its Round joins at the same tone, but goes over from dots to holes
    # with a kink, which costs a few tenths of a decibel of evenness.
    value: Array = (np.cos(np.pi * x) + np.cos(np.pi * y)) / 2
    return value


def _ellipse(ratio: float) -> Callable[[Array, Array], Array]:
    """The standard's ellipse, whose ratio of height by width is 3 to 4, at any ratio below 1."""

    def value(x: Array, y: Array) -> Array:
        ax, ay = np.abs(x), np.abs(y)
        w = (ax + ay / ratio - 1) * ratio / (1 - ratio)
        dot = 1 - (ax**2 + (ay / ratio) ** 2) / 4
        hole = ((1 - ax) ** 2 + ((1 - ay) / ratio) ** 2) / 4 - 1
        return np.where(w < 0, dot, np.where(w > 1, hole, 0.5 - w))

    return value


def _diamond(x: Array, y: Array) -> Array:
    ax, ay = np.abs(x), np.abs(y)
    s = ax + ay
    dot = 1 - (ax**2 + ay**2)
    side = 1 - (0.85 * ax + ay)
    hole = (ax - 1) ** 2 + (ay - 1) ** 2 - 1
    return np.where(s <= 0.75, dot, np.where(s <= 1.23, side, hole))


def _square(x: Array, y: Array) -> Array:
    return -np.maximum(np.abs(x), np.abs(y))


def _on_its_tip(x: Array, y: Array) -> Array:
    return -(np.abs(x) + np.abs(y))


def _line(x: Array, y: Array) -> Array:
    # Along a line every place is equal; the faint pull toward the middle keeps the pieces of a
    # dropped line whole instead of growing from one end.
    return -np.abs(y) - 1e-6 * np.abs(x)


@dataclass(frozen=True, slots=True)
class DotFunction:
    """A dot shape and where its holes are centerd.

    Attributes
    ----------
    value : the spot function
    dot_center : (x, y) in cell widths, where the dot starts; the origin for all standard shapes
    hole_center : (x, y) in cell widths from the dot's center, the last place to turn black
    joins : tones (0..1) at which neighboring dots meet along the first and the second axis; None
        where nobody has worked them out
    hole_value : the order in which holes grow, with the hole's center at the origin; None where it
        is that of the dots, backwards
    """

    value: Callable[[Array, Array], Array]
    hole_center: tuple[float, float]
    joins: tuple[float, float] | None = None
    hole_value: Callable[[Array, Array], Array] | None = None
    dot_center: tuple[float, float] = (0.0, 0.0)


def ellipse(ratio: float) -> DotFunction:
    """Ellipses of a ratio of height by width below 1; they join in two steps."""
    return DotFunction(_ellipse(ratio), (0.5, 0.5), (ratio / 2, 1 - ratio / 2))


def dot_function_of(value: Callable[[Array, Array], Array]) -> DotFunction:
    """The spot of any function that is highest in one place of the cell."""
    steps = np.arange(-_TRIED, _TRIED) / _TRIED
    x, y = np.meshgrid(steps, steps)
    with np.errstate(all="ignore"):
        tried = np.asarray(value(x, y), np.float64)
    tried = tried[np.isfinite(tried)]
    lowest_value, highest_value = tried.min(), tried.max()

    def even(x: Array, y: Array) -> Array:
        """The function on the scale of the standard ones, -1 .. 1; the undefined turns last."""
        with np.errstate(all="ignore"):
            share = (value(x, y) - lowest_value) / (highest_value - lowest_value)
        share = np.nan_to_num(np.broadcast_to(share, x.shape), nan=-0.2, posinf=1.2, neginf=-0.2)
        scaled: Array = np.clip(2 * share - 1, -1.5, 1.5)
        return scaled

    level = np.round(even(x, y), 9)
    highest, lowest = (
        np.stack([x[level == end], y[level == end]], 1) / 2 for end in (level.max(), level.min())
    )
    dot = highest[np.hypot(*highest.T).argmin()]
    # Of equally low places the one farthest from the dot and its repetitions.
    away = np.abs(lowest - dot)
    hole = lowest[np.hypot(*np.minimum(away, 1 - away).T).argmax()]
    return DotFunction(
        even, (float(hole[0]), float(hole[1])), dot_center=(float(dot[0]), float(dot[1]))
    )


# For the functions that a spot of one's own may use, see :mod:`filmhand.expression`. A place that
# is undefined turns last.
SPOT_FUNCTIONS: dict[str, Callable[..., Array]] = {
    "abs": np.abs,
    "sqrt": np.sqrt,
    "exp": np.exp,
    "sin": lambda a: np.sin(np.radians(a)),
    "cos": lambda a: np.cos(np.radians(a)),
    "atan": lambda a, b: np.degrees(np.arctan2(a, b)),
    "min": np.minimum,
    "max": np.maximum,
}

DOT_FUNCTIONS: dict[str, DotFunction] = {
    "round": DotFunction(_round, (0.5, 0.5), (0.5, 0.5)),
    "ellipse": ellipse(0.75),
    "diamond": DotFunction(_diamond, (0.5, 0.5), (0.425, 0.575)),
    # Backwards, the square's shadows would be a net of hairlines that no stencil holds. Holes stand
    # on their tips, as that is how they fit best between squares that have grown already.
    "square": DotFunction(_square, (0.5, 0.5), (0.5, 0.5), hole_value=_on_its_tip),
    "line": DotFunction(_line, (0.0, 0.5), (0.0, 1.0)),
}

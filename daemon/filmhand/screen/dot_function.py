"""Dots that grow by a function of one's own, in place of that of a row."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.screen.dot_shapes import DotFunction

_TRIED = 64  # steps from the middle of a cell to its side

# For the functions that a spot of one's own may use, see :mod:`filmhand.expression`. A place that
# is undefined turns last.
SPOT_FUNCTIONS: dict[str, Callable[..., Float64Array]] = {
    "abs": np.abs,
    "sqrt": np.sqrt,
    "exp": np.exp,
    "sin": lambda a: np.sin(np.radians(a)),
    "cos": lambda a: np.cos(np.radians(a)),
    "atan": lambda a, b: np.degrees(np.arctan2(a, b)),
    "min": np.minimum,
    "max": np.maximum,
}


def dot_function_of(value: Callable[[Float64Array, Float64Array], Float64Array]) -> DotFunction:
    """How dots grow by any function that is highest in one place of the cell."""
    steps = np.arange(-_TRIED, _TRIED) / _TRIED
    x, y = np.meshgrid(steps, steps)
    with np.errstate(all="ignore"):
        tried = np.asarray(value(x, y), np.float64)
    tried = tried[np.isfinite(tried)]
    lowest_value, highest_value = tried.min(), tried.max()

    def even(_: ModuleType, x: Any, y: Any) -> Float64Array:
        """The function on the scale of the standard ones, -1 .. 1; the undefined turns last."""
        with np.errstate(all="ignore"):
            share = (value(x, y) - lowest_value) / (highest_value - lowest_value)
        share = np.nan_to_num(np.broadcast_to(share, x.shape), nan=-0.2, posinf=1.2, neginf=-0.2)
        scaled: Float64Array = np.clip(2 * share - 1, -1.5, 1.5)
        return scaled

    level = np.round(even(np, x, y), 9)
    highest, lowest = (
        np.stack([x[level == end], y[level == end]], 1) / 2 for end in (level.max(), level.min())
    )
    dot = highest[np.hypot(*highest.T).argmin()]
    # Of equally low places the one farthest from the dot and its repetitions.
    away = np.abs(lowest - dot)
    shadow_dot = lowest[np.hypot(*np.minimum(away, 1 - away).T).argmax()]
    return DotFunction(
        even,
        shadow_dot_center=(float(shadow_dot[0]), float(shadow_dot[1])),
        dot_center=(float(dot[0]), float(dot[1])),
    )

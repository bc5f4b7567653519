"""What the pixels of a strip are compared with, where that repeats along its rows."""

from __future__ import annotations

from typing import NamedTuple

from filmhand.arrays import Float32Array, Int64Array

COLUMNS_BESIDE = 512
"""How many columns the loop in C compares at once."""


class RepeatedLevels(NamedTuple):
    """Levels of the rows of a strip, as the loop in C takes them.

    Attributes
    ----------
    levels : (h, length + COLUMNS_BESIDE) float32, rows of one period, continued to the right
    starts : (n,) int64, by row of the strip: where its first column lies in the flattened levels
    length : the period along a row
    stride : columns of ``levels``
    dark_inks : ink is where the strip is at or below its level, not at or above
    """

    levels: Float32Array
    starts: Int64Array
    length: int
    stride: int
    dark_inks: bool

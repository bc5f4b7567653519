"""Which places of a picture are wide or even, and no lines, specks or edges."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray

_Bits = TypeVar("_Bits", np.uint16, np.uint32)

EVEN = 8 / 255
"""Of codes 0..1 among two by two pixels, what a flat has after JPEG."""


def places_of(mask: BoolArray, side: int) -> BoolArray:
    """(H, W) whether a pixel lies in a square of so many pixels a side that all lie in the mask.

    >>> places_of(np.array([[1, 1, 0], [1, 1, 1]], bool), 2).astype(int).tolist()
    [[1, 1, 0], [1, 1, 0]]
    """
    if min(mask.shape) < side:
        return np.zeros_like(mask)
    first = ~_any_of(_any_of(~mask, side, 0), side, 1)  # where such a square begins
    return _any_of(_any_of(np.pad(first, side - 1), side, 0), side, 1)


def _any_of(mask: BoolArray, length: int, axis: int) -> BoolArray:
    """Whether any of so many pixels from each on is set; shorter by ``length - 1``."""
    found, covered = np.moveaxis(mask, axis, 0), 1
    while covered < length:
        step = min(covered, length - covered)
        found, covered = found[:-step] | found[step:], covered + step
    return np.moveaxis(found, 0, axis)


def even_places(codes: NDArray[Any], most: float) -> BoolArray:
    """(H, W) whether a pixel is one of two by two pixels that differ by so much at most.

    Parameters
    ----------
    codes : (H, W, c) of any type
    most : by which any of the channels may differ

    >>> even_places(np.array([[1, 1, 9], [1, 2, 9], [5, 5, 5]])[..., None], 1).astype(int).tolist()
    [[1, 1, 0], [1, 1, 0], [0, 0, 0]]
    """
    high = np.maximum(codes[1:], codes[:-1])
    low = np.minimum(codes[1:], codes[:-1])
    # What is larger comes first, so codes without a sign do not run over.
    spread = np.maximum(high[:, 1:], high[:, :-1]) - np.minimum(low[:, 1:], low[:, :-1])
    block = (spread <= most).all(axis=-1)
    even = np.zeros(codes.shape[:2], np.bool_)
    for rows in (slice(None, -1), slice(1, None)):
        for columns in (slice(None, -1), slice(1, None)):
            even[rows, columns] |= block
    return even


def bits_around(bits: NDArray[_Bits], reach: int) -> NDArray[_Bits]:
    """(H, W) all bits that are set within so many pixels across and down."""
    for axis in (0, 1):
        lines = np.moveaxis(bits, axis, 0)
        found = lines.copy()
        for step in range(1, reach + 1):
            found[step:] |= lines[:-step]
            found[:-step] |= lines[step:]
        bits = np.moveaxis(found, 0, axis)
    return bits

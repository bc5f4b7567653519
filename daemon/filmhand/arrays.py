"""Names for arrays by what they hold, and numbers once each."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

BoolArray = NDArray[np.bool_]
UInt8Array = NDArray[np.uint8]
UInt16Array = NDArray[np.uint16]
UInt32Array = NDArray[np.uint32]
UInt64Array = NDArray[np.uint64]
Int32Array = NDArray[np.int32]
Int64Array = NDArray[np.int64]
Float32Array = NDArray[np.float32]
Float64Array = NDArray[np.float64]

_Number = TypeVar("_Number", bound=np.generic)


def distinct(numbers: Int64Array) -> Int64Array:
    """(m,) int64: ``np.unique(numbers)``, by sorting: a table of hashes takes longer here.

    Nor is NumPy's module for masked arrays loaded, which takes longer still.

    >>> distinct(np.array([3, 1, 3])).tolist()
    [1, 3]
    """
    ordered = np.sort(numbers, axis=None)
    once: Int64Array = ordered[np.diff(ordered, prepend=ordered[:1] - 1) != 0]
    return once


def distinct_rows(rows: NDArray[_Number]) -> NDArray[_Number]:
    """(m, k) int64: ``np.unique(rows, axis=0)`` of (n, k), without that module.

    >>> distinct_rows(np.array([[2, 1], [0, 9], [2, 1]])).tolist()
    [[0, 9], [2, 1]]
    """
    ordered = rows[np.lexsort(rows.T[::-1])]
    first = np.ones(len(ordered), np.bool_)
    first[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    return ordered[first]

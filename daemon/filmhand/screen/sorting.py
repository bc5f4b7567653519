"""Orders of many whole numbers."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Int64Array


def stable_order(keys: Int64Array) -> Int64Array:
    """(n,) int64: ``np.argsort(keys, kind="stable")``, in a fraction of its time.

    Each key and its place are sorted as one number, which NumPy does in the processor's wide
    registers; where the two do not fit into 63 bits, the places are sorted by the keys after all.

    >>> stable_order(np.array([7, -2, 7, 0])).tolist()
    [1, 3, 0, 2]
    """
    bits = keys.size.bit_length()
    lowest = int(keys.min(initial=0))
    if (int(keys.max(initial=0)) - lowest).bit_length() + bits > 63:
        return np.argsort(keys, kind="stable")
    packed: Int64Array = ((keys - lowest) << bits) | np.arange(keys.size)
    packed.sort()
    packed &= (1 << bits) - 1
    return packed

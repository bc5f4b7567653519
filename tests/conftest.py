from __future__ import annotations

import pytest

from filmhand.mesh.components import count_components
from filmhand.mesh.mend import Crumbs, mend


def _mended(bits, *, dot=9, hole=9, allowance=10**9, barred=None):
    """(bits after one round of mending what is too small, what was done)."""
    size = (bits.shape[1], bits.shape[0])
    after = bits.copy()

    def write(first, rows):
        after[first : first + len(rows)] = rows

    def barred_rows(a, b):
        return barred[a:b]

    outside = None if barred is None else barred_rows
    dots, holes = count_components(
        lambda a, b: bits[a:b], size, small_dot=dot, small_hole=hole, outside=outside
    )
    done = mend(
        lambda a, b: after[a:b].copy(),
        write,
        size,
        dots=Crumbs.of(dots.small),
        holes=Crumbs.of(holes.small),
        smallest_dot=dot,
        smallest_hole=hole,
        allowance=allowance,
        barred=outside,
    )
    return after, done


@pytest.fixture(scope="session")
def mended():
    """mended(bits, dot=, hole=, allowance=, barred=): a picture after one round of mending."""
    return _mended

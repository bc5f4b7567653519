from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

from filmhand.mesh.bitmap.components import Census
from filmhand.mesh.bitmap.small_components import HeldComponents, SmallComponents
from filmhand.mesh.bitmap.spotting_out import spot_out

# The sentences that tests compare are English, whatever whoever runs them speaks.
os.environ.pop("FILMHAND_LANG", None)

# Hypothesis keeps what failed in the checkout, and warns where that cannot be written.
if not os.access(Path(__file__).parents[1], os.W_OK):
    settings.register_profile("read-only", database=None)
    settings.load_profile("read-only")


def _mended(bits, *, dot=9, shadow_dot=9, allowance=10**9, barred=None, bridge=None, **wishes):
    """(bits after one round of mending what is too small, what was done)."""
    size = (bits.shape[1], bits.shape[0])
    after = bits.copy()

    def write(first, rows):
        after[first : first + len(rows)] = rows

    def barred_rows(a, b):
        return barred[a:b]

    outside = None if barred is None else barred_rows
    census = Census(size, small_dot=dot, small_shadow_dot=shadow_dot, outside=outside)
    census.take(lambda a, b: np.packbits(bits[a:b], axis=1), census.strips)
    dots, shadow_dots = census.result()
    done = spot_out(
        lambda a, b: after[a:b].copy(),
        write,
        size,
        dots=SmallComponents.of(dots.small),
        shadow_dots=SmallComponents.of(shadow_dots.small),
        dot=HeldComponents(dot, bridge),
        shadow_dot=HeldComponents(shadow_dot, bridge),
        allowance=allowance,
        barred=outside,
        **wishes,
    )
    return after, done


@pytest.fixture(scope="session")
def mended():
    """mended(bits, dot=, shadow_dot=, allowance=, barred=, …): a picture after one round."""
    return _mended

from __future__ import annotations

import numpy as np

from filmhand.art.files.gray import WHITE, codes_of_srgb_steps
from filmhand.tone import linear_to_srgb, srgb_to_linear


def test_every_step_of_light_has_the_code_of_the_curve() -> None:
    table = codes_of_srgb_steps()
    steps = len(table) - 1
    wanted = np.round(linear_to_srgb(np.arange(steps + 1) / steps) * WHITE)
    # Only the light of whole 8-bit codes is put on them.
    own = np.round(srgb_to_linear(np.arange(256) / 255) * steps).astype(int)
    wanted[own] = np.arange(256) * 257
    assert table.dtype == np.uint16
    assert np.array_equal(table, wanted)

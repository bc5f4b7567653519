from __future__ import annotations

import numpy as np
import pytest

from filmhand.ink.cielab import lab_to_srgb
from filmhand.page.swatch import swatch_color


def test_a_swatch_has_the_color_that_the_arrays_give() -> None:
    labs = [
        (lightness, a, b)
        for lightness in (0.0, 5.0, 7.9, 8.1, 50.0, 100.0)
        for a in (-90.0, 0.0, 12.5, 90.0)
        for b in (-100.0, 0.0, 30.0, 100.0)
    ]
    wanted = np.rint(255 * lab_to_srgb(np.array(labs))).astype(int)
    assert [swatch_color(lab) for lab in labs] == [tuple(one) for one in wanted.tolist()]


# CIELAB under D50 of sRGB's primaries, as B. Lindbloom's calculator gives them (from memory).
@pytest.mark.parametrize(
    ("lab", "color"), [((54.29, 80.81, 69.89), (255, 0, 0)), ((29.57, 68.30, -112.03), (0, 0, 255))]
)
def test_known_colors_are_met(lab, color) -> None:
    assert np.abs(np.subtract(swatch_color(lab), color)).max() <= 1

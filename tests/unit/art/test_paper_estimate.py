from __future__ import annotations

import numpy as np

from filmhand.art.analysis.paper_estimate import estimate_paper


def test_a_strip_of_paper_too_narrow_for_a_surface_of_light_is_paper_all_the_same() -> None:
    found = estimate_paper(np.full((4, 1000), 0.8, np.float32), factor=1)
    assert found is not None
    assert abs(float(found.light.mean()) - 0.8) < 0.01

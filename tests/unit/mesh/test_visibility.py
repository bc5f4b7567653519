"""How well bands are seen: the published function, and what follows for periods and distances."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.moire.visibility import Sight, contrast_sensitivity


def test_shares_go_by_angle_and_fall_with_shorter_periods():
    near, far = Sight(300.0, 500.0), Sight(300.0, 1000.0)
    periods = np.array([0.5, 1.0, 2.0, 10.0, 300.0])
    assert near.visible_share(periods / 2) == pytest.approx(far.visible_share(periods))
    shares = far.visible_share(periods)
    assert (np.diff(shares) > 0).all() and 0.95 < shares[-1] < 1
    assert far.visible_share(np.array([0.0])) == pytest.approx([0])


def test_a_share_is_the_sensitivity_against_its_largest():
    for period in (1.0, 3.0, 20.0):
        cycles = 1 / np.degrees(period / 1000)
        expected = contrast_sensitivity(cycles) / contrast_sensitivity(0)
        assert Sight(300.0).visible_share(np.array([period])) == pytest.approx([expected])

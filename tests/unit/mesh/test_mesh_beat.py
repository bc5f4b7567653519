"""Beat between dots and threads."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.beat import LONGEST_MM, beat_with_mesh, better_angles, screen_vectors


@pytest.mark.parametrize(
    ("ratio", "angle"),
    [(4, 0), (18**0.5, 45), (20**0.5, 26.565051), (5, 36.869898), (29**0.5, 21.801409)],
)
def test_lock_points_never_end(ratio: float, angle: float) -> None:
    # theta = atan(j / i), R = hypot(i, j): a dot order falls on a mesh order.
    beat = beat_with_mesh(screen_vectors(50, angle), 50 * ratio)
    assert beat.period_mm > 500


def test_the_worst_beat_is_no_better_than_the_slack_one() -> None:
    rng = np.random.default_rng(2)
    for _ in range(200):
        lpi, angle, mesh = rng.uniform(20, 70), rng.uniform(0, 90), rng.uniform(60, 400)
        beat = beat_with_mesh(screen_vectors(lpi, angle), mesh)
        assert beat.worst_period_mm >= beat.period_mm * (1 - 1e-9)
        tried = [
            beat_with_mesh(screen_vectors(lpi, angle), mesh * (1 - s)).period_mm
            for s in np.linspace(0, 0.05, 26)
        ]
        assert beat.worst_period_mm >= max(tried) * (1 - 1e-9)


def test_a_stretched_mesh_locks() -> None:
    # 100 threads a cm with 24 lines a cm: 4.167 slack, exactly 4 after 4 % stretch.
    beat = beat_with_mesh(screen_vectors(24 * 2.54, 0), 254)
    assert beat.period_mm == pytest.approx(2.5)
    assert beat.worst_period_mm == LONGEST_MM


@pytest.mark.parametrize(("lpi", "mesh"), [(25, 109.2), (45, 228.6), (55, 228.6), (35, 157.5)])
def test_better_angles_beat_less(lpi: float, mesh: float) -> None:
    now = beat_with_mesh(screen_vectors(lpi, 45), mesh).worst_period_mm
    found = better_angles(lpi, 45, mesh)
    assert len(found) <= 3
    for angle in found:
        assert beat_with_mesh(screen_vectors(lpi, angle), mesh).worst_period_mm <= 0.8 * now
    assert found == sorted(found, key=lambda angle: abs((angle - 45 + 45) % 90 - 45))


def test_lines_have_one_frequency_across_them() -> None:
    (vector,) = screen_vectors(40, 30, lines=True)
    assert np.hypot(*vector) == pytest.approx(40)
    assert np.degrees(np.arctan2(vector[1], vector[0])) == pytest.approx(120)

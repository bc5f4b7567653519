"""Angles, rulings and turns of the mesh whose bands are seen less: the least seen first."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.mesh.moire.alternatives import (
    WantedScreen,
    _valleys,
    angle_choices,
    mesh_angle_choices,
    ruling_choices,
)
from filmhand.mesh.moire.bands import MeshThreads
from filmhand.mesh.moire.visibility import Sight
from filmhand.screen.dot_shapes import Dot
from filmhand.screen.order_strength import strength_of_shape

SCREENS = [(25, 45, 109.22), (35, 0, 109.22), (55, 45, 228.6), (45, 0, 228.6), (65, 22.5, 304.8)]


def wanted_of(lpi, angle, tpi, *, lines=False):
    shape = Dot.LINE if lines else Dot.ROUND
    return WantedScreen(
        lpi=lpi,
        angle=angle,
        lines=lines,
        weave=MeshThreads(tpi),
        strength=strength_of_shape(shape.row.function),
        sight=Sight(300.0),
    )


def seen(*screen, lines=False):
    return wanted_of(*screen, lines=lines).moire().visibility


@pytest.mark.parametrize("lines", [False, True])
@pytest.mark.parametrize(("lpi", "angle", "tpi"), SCREENS)
def test_choices_are_seen_clearly_less_and_the_least_seen_first(lpi, angle, tpi, lines):
    wanted = wanted_of(lpi, angle, tpi, lines=lines)
    now = wanted.moire().visibility
    for choices, screen in (
        (angle_choices(wanted), lambda value: (lpi, value, tpi)),
        (ruling_choices(wanted, finest=150), lambda value: (value, angle, tpi)),
        (mesh_angle_choices(wanted), lambda value: (lpi, angle - value, tpi)),
    ):
        shown = [choice.moire.visibility for choice in choices]
        assert shown == pytest.approx(sorted(shown), abs=1e-5)
        assert all(one <= 0.8 * now + 1e-5 for one in shown)
        for choice in choices:
            told = seen(*screen(choice.value), lines=lines)
            assert choice.moire.visibility == pytest.approx(told, rel=1e-6)
            assert 2 * choice.value == int(2 * choice.value)


def test_of_mirror_images_the_nearest_is_taken():
    values = [choice.value for choice in angle_choices(wanted_of(25, 22.5, 109.22))]
    assert values
    assert not [value for value in values if 90 - value in values and value != 45]
    assert all(value <= 45 for value in values)


def test_the_best_angle_has_no_better():
    best = min((a / 2 for a in range(180)), key=lambda a: seen(55, a, 228.6))
    assert angle_choices(wanted_of(55, best, 228.6)) == []


def test_rulings_stay_near_and_no_finer_than_allowed():
    wanted = wanted_of(55, 45, 228.6)
    values = [choice.value for choice in ruling_choices(wanted, finest=56)]
    assert values
    assert all(55 * 0.75 <= lpi <= 56 and 2 * lpi == int(2 * lpi) for lpi in values)
    assert ruling_choices(wanted, finest=20) == []
    some = ruling_choices(wanted, finest=56, may=lambda lpi: lpi < 50)
    assert all(choice.value < 50 for choice in some)


def test_valleys_have_no_lower_neighbor_and_may_go_around():
    steps = np.array([1.0, 2.0, 2.0, 3.0, 1.5, 4.0, 0.5])
    assert np.flatnonzero(_valleys(steps, around=False)).tolist() == [0, 2, 4, 6]
    assert np.flatnonzero(_valleys(steps, around=True)).tolist() == [2, 4, 6]

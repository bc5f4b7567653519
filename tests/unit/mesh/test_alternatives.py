"""Angles, rulings and turns of the mesh that beat less: better, near, and honest about passing."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from filmhand.mesh.moire.alternatives import (
    ScreenChoice,
    WantedScreen,
    _angles,
    _nearest_first,
    _valleys,
    angle_choices,
    better_angles,
    mesh_angle_choices,
    ruling_choices,
)
from filmhand.mesh.moire.bands import MeshThreads, moire_with_mesh, screen_vectors

SCREENS = [(25, 45, 109.22), (35, 0, 109.22), (55, 45, 228.6), (45, 0, 228.6), (65, 22.5, 304.8)]


def wanted_of(lpi, angle, tpi, *, lines=False, allowed=lambda lpi: max(1.5, 3 * 25.4 / lpi)):
    return WantedScreen(
        lpi=lpi, angle=angle, lines=lines, weave=MeshThreads(tpi), allowed_mm=allowed
    )


def worst(lpi, angle, tpi, *, lines=False):
    vectors = screen_vectors(lpi, angle, lines=lines)
    return moire_with_mesh(vectors, MeshThreads(tpi)).worst_period_mm


def away(angle, wanted, turn):
    return abs((angle - wanted + turn / 2) % turn - turn / 2)


@pytest.mark.parametrize("lines", [False, True])
@pytest.mark.parametrize(("lpi", "angle", "tpi"), SCREENS)
def test_better_angles_are_better_in_order_of_nearness_and_never_more_than_asked(
    lpi, angle, tpi, lines
):
    turn = 180 if lines else 90
    wanted = wanted_of(lpi, angle, tpi, lines=lines)
    named = better_angles(wanted)
    assert len(named) <= 3
    now = worst(lpi, angle, tpi, lines=lines)
    best = min(worst(lpi, a / 2, tpi, lines=lines) for a in range(2 * turn))
    for a in named:
        assert 0 <= a < turn
        assert 2 * a == int(2 * a)
        there = worst(lpi, a, tpi, lines=lines)
        assert there <= 0.8 * now
        assert there <= 1.6 * best * (1 + 1e-9)
    apart = [away(a, angle, turn) for a in named]
    assert apart == sorted(apart)
    assert named or now <= 2 * best
    assert len(better_angles(wanted, count=1)) <= 1


def test_an_angle_that_is_the_best_already_has_no_better():
    lpi, tpi = 55, 228.6
    best = min((a / 2 for a in range(180)), key=lambda a: worst(lpi, a, tpi))
    assert better_angles(wanted_of(lpi, best, tpi)) == []
    assert angle_choices(wanted_of(lpi, best, tpi)) == []


@pytest.mark.parametrize("lines", [False, True])
@pytest.mark.parametrize(("lpi", "angle", "tpi"), SCREENS)
def test_choices_are_better_say_rightly_what_passes_and_name_that_first(lpi, angle, tpi, lines):
    wanted = wanted_of(lpi, angle, tpi, lines=lines)
    now = worst(lpi, angle, tpi, lines=lines)
    for choices, screen in (
        (angle_choices(wanted), lambda value: (lpi, value, tpi)),
        (ruling_choices(wanted, finest=150), lambda value: (value, angle, tpi)),
        (mesh_angle_choices(wanted), lambda value: (lpi, angle - value, tpi)),
    ):
        assert len(choices) <= 5
        for choice in choices:
            ruling, turned, threads = screen(choice.value)
            vectors = screen_vectors(ruling, turned, lines=lines)
            moire = moire_with_mesh(vectors, MeshThreads(threads))
            assert choice.moire.worst_period_mm == pytest.approx(moire.worst_period_mm, rel=1e-6)
            allowed = max(1.5, 3 * 25.4 / ruling)
            passes_now = now <= max(1.5, 3 * 25.4 / lpi)
            least = 0.8 * now if passes_now else max(0.8 * now, allowed)
            assert choice.moire.worst_period_mm <= least
            slowest = max(b.worst_period_mm for b in (moire.worst, moire.higher) if b)
            assert choice.passes == (slowest <= allowed)
        passing = [choice.passes for choice in choices]
        assert passing == sorted(passing, reverse=True)


def test_rulings_stay_near_and_no_finer_than_allowed():
    wanted = wanted_of(55, 45, 228.6)
    values = [choice.value for choice in ruling_choices(wanted, finest=56)]
    assert values
    assert all(55 * 0.75 <= lpi <= 56 and 2 * lpi == int(2 * lpi) for lpi in values)
    assert ruling_choices(wanted, finest=20) == []


def test_a_beat_of_higher_orders_alone_does_not_pass():
    # 2.5 threads a line: (2,0) of the mesh is (5,0) of the dots.
    wanted = replace(wanted_of(40, 0, 100), weave=MeshThreads(100, 0.7, 0.0, (0.0, 0.0)))
    moire = wanted.moire()
    assert moire.worst_period_mm <= wanted.allowed_mm(40)
    assert not wanted.passes(moire)


def test_a_choice_is_told_to_a_hundredth():
    moire = SimpleNamespace(worst_period_mm=1.23456, worst=SimpleNamespace(modulation=0.0123456))
    assert ScreenChoice(22.5, moire, passes=True).record("angle") == {
        "angle": 22.5,
        "worst_period_mm": 1.23,
        "modulation_pct": 1.23,
        "passes": True,
    }


def test_valleys_are_no_higher_than_either_neighbor():
    values = np.array([2, 3, 1, 1, 4, 3.0])
    assert _valleys(values, around=False).tolist() == [1, 0, 1, 1, 0, 1]
    assert _valleys(values, around=True).tolist() == [1, 0, 1, 1, 0, 0]
    assert _valleys(np.array([3, 2, 1.0]), around=True).tolist() == [0, 0, 1]


def test_the_nearest_come_first_around_a_turn_too():
    values = np.array([0, 10, 45, 80, 89.5])
    assert _nearest_first(values, 2, 90) == [0, 89.5, 10, 80, 45]
    assert _nearest_first(values, 2, None) == [0, 10, 45, 80, 89.5]
    assert _nearest_first(np.array([40, 50.0]), 45, 90) == [40, 50]


def test_rulings_go_from_three_quarters_to_five_quarters_in_halves(monkeypatch):
    asked = []
    monkeypatch.setattr(
        "filmhand.mesh.moire.alternatives._choices",
        lambda _, screens, **rest: asked.append((list(screens), rest)) or [],
    )
    ruling_choices(wanted_of(40, 45, 100), finest=200)
    ruling_choices(wanted_of(41, 45, 100), finest=43.4, count=2)
    whole, cut = asked
    assert whole == ([n / 2 for n in range(60, 101)], {"at": 40, "turn": None, "count": 5})
    # 30.75 is no half, and 43.4 lies between two.
    assert cut == ([n / 2 for n in range(62, 87)], {"at": 41, "turn": None, "count": 2})


def test_angles_are_tried_in_half_degrees_from_nothing_on():
    assert _angles(90.0) == [n / 2 for n in range(180)]

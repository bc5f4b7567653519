"""Angles, rulings and turns of the mesh whose beat is shorter, near those that are wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.mesh.moire.bands import (
    MeshThreads,
    Moire,
    moire_with_mesh,
    screen_vectors,
    slowest_of_low_orders,
)

ANGLE_STEP = 0.5
RULING_STEP = 0.5
# How far from the wanted ruling another is still the same picture.
_COARSER, _FINER = 0.75, 1.25
# How much longer than the very best a beat may be for its angle to be worth naming.
_NEAR_BEST = 1.6
# A beat is clearly shorter than another from here on.
_CLEARLY = 0.8


@dataclass(frozen=True, slots=True)
class WantedScreen:
    """A screen on a mesh, and the longest beat in mm that passes at a ruling."""

    lpi: float
    angle: float
    lines: bool
    weave: MeshThreads
    allowed_mm: Callable[[float], float]

    def moire(self) -> Moire:
        """Its beat, with all orders."""
        return moire_with_mesh(self._vectors(), self.weave)

    def worst_mm(self) -> float:
        """The worst period of the low orders alone."""
        return slowest_of_low_orders(self._vectors(), self.weave).worst_period_mm

    def passes(self, moire: Moire) -> bool:
        """Whether no beat is longer than allowed."""
        slowest = max(bands.worst_period_mm for bands in (moire.worst, moire.higher) if bands)
        return slowest <= self.allowed_mm(self.lpi)

    def _vectors(self) -> Float64Array:
        return screen_vectors(self.lpi, self.angle, lines=self.lines)

    @property
    def turn(self) -> float:
        """Degrees after which the screen looks the same."""
        return 180.0 if self.lines else 90.0


@dataclass(frozen=True, slots=True)
class ScreenChoice:
    """Another angle or ruling, its beat, and whether that passes."""

    value: float
    moire: Moire
    passes: bool

    def record(self, name: str) -> dict[str, Any]:
        """The choice as reports show it, its value under ``name``."""
        return {
            name: self.value,
            "worst_period_mm": round(self.moire.worst_period_mm, 2),
            "modulation_pct": round(self.moire.worst.modulation * 100, 2),
            "passes": self.passes,
        }


def better_angles(wanted: WantedScreen, *, count: int = 3) -> list[float]:
    """Angles, in steps of half a degree, with about the shortest worst beat, nearest first.

    Only angles whose worst beat is clearly shorter than at the wanted one are named; there may be
    none.
    """
    tried = np.array(_angles(wanted.turn))
    worst = np.array([replace(wanted, angle=angle).worst_mm() for angle in tried.tolist()])
    near_best = _valleys(worst, around=True)
    near_best &= worst <= min(_NEAR_BEST * worst.min(), _CLEARLY * wanted.worst_mm())
    return _nearest_first(tried[near_best], wanted.angle, wanted.turn)[:count]


def angle_choices(wanted: WantedScreen, *, count: int = 5) -> list[ScreenChoice]:
    """Angles with a shorter beat, in steps of half a degree.

    Those that pass come first, and of these the nearest first. The beat of each is clearly shorter
    than the wanted one's, or passes where that does not.
    """
    turned = {angle: replace(wanted, angle=angle) for angle in _angles(wanted.turn)}
    return _choices(wanted, turned, at=wanted.angle, turn=wanted.turn, count=count)


def ruling_choices(wanted: WantedScreen, *, finest: float, count: int = 5) -> list[ScreenChoice]:
    """Rulings up to ``finest`` with a shorter beat, as :func:`angle_choices` chooses.

    In steps of half a line, from three quarters of the wanted ruling to five quarters.
    """
    first, last = wanted.lpi * _COARSER, min(wanted.lpi * _FINER, finest)
    tried = np.arange(np.ceil(first / RULING_STEP), np.floor(last / RULING_STEP) + 1) * RULING_STEP
    if not tried.size:
        return []
    rulings = {lpi: replace(wanted, lpi=lpi) for lpi in tried.tolist()}
    return _choices(wanted, rulings, at=wanted.lpi, turn=None, count=count)


def mesh_angle_choices(wanted: WantedScreen, *, count: int = 3) -> list[ScreenChoice]:
    """Turns of the mesh with a shorter beat, as :func:`angle_choices` chooses."""
    turned = {a: replace(wanted, weave=replace(wanted.weave, angle=a)) for a in _angles(90.0)}
    return _choices(wanted, turned, at=wanted.weave.angle, turn=90.0, count=count)


def _angles(turn: float) -> list[float]:
    return np.arange(0, turn, ANGLE_STEP).tolist()


def _choices(
    wanted: WantedScreen,
    screens: dict[float, WantedScreen],
    *,
    at: float,
    turn: float | None,
    count: int,
) -> list[ScreenChoice]:
    """The first so many of the screens with a shorter beat, those that pass first.

    ``screens`` go by the value that differs, which is ``at`` as wanted and the same again after a
    ``turn``.
    """
    worst = np.array([screen.worst_mm() for screen in screens.values()])
    now = wanted.worst_mm()
    shorter = np.full(len(screens), _CLEARLY * now)
    if now > wanted.allowed_mm(wanted.lpi):
        # Where this does not pass, what does is worth naming too.
        shorter = np.maximum(shorter, [wanted.allowed_mm(one.lpi) for one in screens.values()])
    good = _valleys(worst, around=turn is not None) & (worst <= shorter)
    choices = []
    for value in _nearest_first(np.array(list(screens))[good], at, turn):
        moire = screens[value].moire()
        choices.append(ScreenChoice(value, moire, screens[value].passes(moire)))
    return sorted(choices, key=lambda choice: not choice.passes)[:count]


def _valleys(worst: Float64Array, *, around: bool) -> BoolArray:
    """Where neither neighbor is lower; the two ends are neighbors where it goes ``around``."""
    before, after = np.roll(worst, 1), np.roll(worst, -1)
    if not around:
        before[0] = after[-1] = np.inf
    return (worst <= before) & (worst <= after)


def _nearest_first(values: Float64Array, wanted: float, turn: float | None) -> list[float]:
    apart = np.abs(values - wanted)
    if turn is not None:
        apart = np.abs((values - wanted + turn / 2) % turn - turn / 2)
    ordered: list[float] = values[np.argsort(apart, kind="stable")].tolist()
    return ordered

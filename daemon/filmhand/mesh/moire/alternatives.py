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
    tried, worst = _all_angles(wanted)
    near_best = _valleys(worst, around=True)
    near_best &= worst <= min(_NEAR_BEST * worst.min(), _CLEARLY * wanted.worst_mm())
    return [float(a) for a in _nearest_first(tried[near_best], wanted.angle, wanted.turn)[:count]]


def angle_choices(wanted: WantedScreen, *, count: int = 5) -> list[ScreenChoice]:
    """Angles with a shorter beat, in steps of half a degree.

    Those that pass come first, and of these the nearest first. The beat of each is clearly shorter
    than the wanted one's, or passes where that does not.
    """
    tried, worst = _all_angles(wanted)
    good = _valleys(worst, around=True) & (worst <= _shorter(wanted, wanted.lpi))
    angles = _nearest_first(tried[good], wanted.angle, wanted.turn)
    return _chosen([(float(a), replace(wanted, angle=float(a))) for a in angles], count)


def ruling_choices(wanted: WantedScreen, *, finest: float, count: int = 5) -> list[ScreenChoice]:
    """Rulings up to ``finest`` with a shorter beat, as :func:`angle_choices` chooses.

    In steps of half a line, from three quarters of the wanted ruling to five quarters.
    """
    first, last = wanted.lpi * _COARSER, min(wanted.lpi * _FINER, finest)
    tried = np.arange(np.ceil(first / RULING_STEP), np.floor(last / RULING_STEP) + 1) * RULING_STEP
    if not tried.size:
        return []
    worst = np.array([replace(wanted, lpi=float(lpi)).worst_mm() for lpi in tried])
    shorter = np.array([_shorter(wanted, float(lpi)) for lpi in tried])
    good = _valleys(worst, around=False) & (worst <= shorter)
    rulings = _nearest_first(tried[good], wanted.lpi, np.inf)
    return _chosen([(float(lpi), replace(wanted, lpi=float(lpi))) for lpi in rulings], count)


def mesh_angle_choices(wanted: WantedScreen, *, count: int = 3) -> list[ScreenChoice]:
    """Turns of the mesh with a shorter beat, as :func:`angle_choices` chooses."""
    tried = np.arange(0, 90, ANGLE_STEP)
    turned = [replace(wanted, weave=replace(wanted.weave, angle=float(a))) for a in tried]
    worst = np.array([one.worst_mm() for one in turned])
    good = _valleys(worst, around=True) & (worst <= _shorter(wanted, wanted.lpi))
    by_angle = {one.weave.angle: one for one in turned}
    angles = _nearest_first(tried[good], wanted.weave.angle, 90.0)
    return _chosen([(float(a), by_angle[float(a)]) for a in angles], count)


def _shorter(wanted: WantedScreen, lpi: float) -> float:
    """The longest beat that is worth naming: clearly shorter, or passing where this does not."""
    now = wanted.worst_mm()
    if now <= wanted.allowed_mm(wanted.lpi):
        return _CLEARLY * now
    return max(_CLEARLY * now, wanted.allowed_mm(lpi))


def _all_angles(wanted: WantedScreen) -> tuple[Float64Array, Float64Array]:
    tried = np.arange(0, wanted.turn, ANGLE_STEP)
    return tried, np.array([replace(wanted, angle=float(a)).worst_mm() for a in tried])


def _valleys(worst: Float64Array, *, around: bool) -> BoolArray:
    """Where neither neighbor is lower; the two ends are neighbors where it goes ``around``."""
    before, after = np.roll(worst, 1), np.roll(worst, -1)
    if not around:
        before[0] = after[-1] = np.inf
    valleys: BoolArray = (worst <= before) & (worst <= after)
    return valleys


def _nearest_first(values: Float64Array, wanted: float, turn: float) -> Float64Array:
    apart = np.abs(values - wanted)
    if np.isfinite(turn):
        apart = np.abs((values - wanted + turn / 2) % turn - turn / 2)
    ordered: Float64Array = values[np.argsort(apart, kind="stable")]
    return ordered


def _chosen(screens: list[tuple[float, WantedScreen]], count: int) -> list[ScreenChoice]:
    """The first so many choices, those that pass before those that do not."""
    choices = []
    for value, screen in screens:
        moire = screen.moire()
        choices.append(ScreenChoice(value, moire, screen.passes(moire)))
    return sorted(choices, key=lambda choice: not choice.passes)[:count]

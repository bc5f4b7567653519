"""Angles, rulings and turns of the mesh whose bands are seen less, near those that are wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.mesh.moire.bands import (
    FilmStrength,
    MeshThreads,
    Moire,
    moire_with_mesh,
    screen_vectors,
)
from filmhand.mesh.moire.visibility import Sight
from filmhand.values import dataclass

ANGLE_STEP = 0.5
RULING_STEP = 0.5
# How far from the wanted ruling another is still the same picture.
_COARSER, _FINER = 0.75, 1.25
# From here on bands are clearly less visible than others.
_CLEARLY = 0.8
# Decimals of a visibility to which bands are seen alike.
_ALIKE = 5


@dataclass(frozen=True, slots=True)
class WantedScreen:
    """A screen on a mesh, as it is asked for, and how its bands are looked at."""

    lpi: float
    angle: float
    lines: bool
    weave: MeshThreads
    strength: FilmStrength
    sight: Sight

    def moire(self) -> Moire:
        """Its bands."""
        vectors = screen_vectors(self.lpi, self.angle, lines=self.lines)
        return moire_with_mesh(vectors, self.weave, self.strength, self.sight)

    @property
    def turn(self) -> float:
        """Degrees after which the screen looks the same."""
        return 180.0 if self.lines else 90.0


@dataclass(frozen=True, slots=True)
class ScreenChoice:
    """Another angle, ruling or turn of the mesh, the screen with it, and its bands."""

    value: float
    screen: WantedScreen
    moire: Moire


def angle_choices(wanted: WantedScreen) -> list[ScreenChoice]:
    """Angles in steps of half a degree whose bands are clearly seen less, the least seen first."""
    turned = {angle: replace(wanted, angle=angle) for angle in _angles(wanted.turn)}
    return _choices(wanted, turned, at=wanted.angle, turn=wanted.turn)


def ruling_choices(
    wanted: WantedScreen, *, finest: float, may: Callable[[float], bool] = lambda lpi: True
) -> list[ScreenChoice]:
    """Rulings that ``may`` be, up to ``finest``, as :func:`angle_choices` chooses.

    In steps of half a line, from three quarters of the wanted ruling to five quarters.
    """
    first, last = wanted.lpi * _COARSER, min(wanted.lpi * _FINER, finest)
    tried = np.arange(np.ceil(first / RULING_STEP), np.floor(last / RULING_STEP) + 1) * RULING_STEP
    rulings = {lpi: replace(wanted, lpi=lpi) for lpi in tried.tolist() if may(lpi)}
    return _choices(wanted, rulings, at=wanted.lpi, turn=None)


def mesh_angle_choices(wanted: WantedScreen) -> list[ScreenChoice]:
    """Turns of the mesh, as :func:`angle_choices` chooses."""
    turned = {a: replace(wanted, weave=replace(wanted.weave, angle=a)) for a in _angles(90.0)}
    return _choices(wanted, turned, at=wanted.weave.angle, turn=90.0)


def _angles(turn: float) -> list[float]:
    return np.arange(0, turn, ANGLE_STEP).tolist()


def _choices(
    wanted: WantedScreen, screens: dict[float, WantedScreen], *, at: float, turn: float | None
) -> list[ScreenChoice]:
    """The screens that no neighbor betters and that are clearly better than the wanted one.

    ``screens`` go by the value that differs, which is ``at`` as wanted and the same again after a
    ``turn``. Of several that are seen alike, as mirror images are, the nearest is taken.
    """
    if not screens:
        return []
    values, moires = list(screens), [screen.moire() for screen in screens.values()]
    seen = np.round([moire.visibility for moire in moires], _ALIKE)
    good = _valleys(seen, around=turn is not None)
    good &= seen <= _CLEARLY * wanted.moire().visibility
    apart = np.abs(np.array(values) - at)
    if turn is not None:
        apart = np.minimum(apart % turn, -apart % turn)
    found: dict[float, ScreenChoice] = {}
    for place in np.lexsort((apart, seen)).tolist():
        if good[place]:
            choice = ScreenChoice(values[place], screens[values[place]], moires[place])
            found.setdefault(float(seen[place]), choice)
    return list(found.values())


def _valleys(seen: Float64Array, *, around: bool) -> BoolArray:
    """Where neither neighbor is lower; the two ends are neighbors where it goes ``around``."""
    before, after = np.roll(seen, 1), np.roll(seen, -1)
    if not around:
        before[0] = after[-1] = np.inf
    return (seen <= before) & (seen <= after)

"""What a set of films is: its order, angles, traps, names, and the one name of all.

Inks are printed in the order in which they are listed. All that decides what the films are is in
the set's identity, so films of two sets can never be taken for one set.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from enum import StrEnum
from math import inf
from typing import Any

import numpy as np

from filmhand.ink.color_difference import color_difference
from filmhand.ink.flat_colors import FLAT_TOLERANCE
from filmhand.ink.recombination import Recombination
from filmhand.pipeline.separation.geometry.ink_shapes import Trap
from filmhand.profile.inks import ink_file_name, ink_key
from filmhand.values import dataclass

_FROM_THREADS = 7.5
# Cyan, magenta, yellow and black lie at 15, 75, 0 and 45 degrees, the whole set turned away from
# the threads. Dots that show most keep 30 degrees apart; the weakest lies between two of them. Two
# more directions 15 degrees apart are left, and no seventh (the last two: common practice, no
# source).
_STRONGEST, _WEAKEST = 45.0, 0.0
_BETWEEN, _FURTHER = (15.0, 75.0), (30.0, 60.0)
_APART = 7.5  # degrees within which two directions are one
_COVERS = 0.5  # opacity from which on an ink hides what is below more than it shows
_DIGITS = 16


class SeparationMode(StrEnum):
    """How colors become inks."""

    SPOT = "spot"
    PROCESS = "process"
    SIMULATED = "simulated"


@dataclass(frozen=True, slots=True)
class ListedInk:
    """An ink as it is asked for.

    Attributes
    ----------
    name : as people call it
    color : L*, a*, b* of a solid layer on white, under D50
    opacity : 0 for a transparent ink, 1 for one that hides what is below
    mesh : what its mesh is called, empty where none is told
    lpi : lines per inch of its screen, None where it has none
    angle : of its screen, degrees; None for one by the trade's offsets
    overprint : whether what lies beneath it is not knocked out
    """

    name: str
    color: tuple[float, float, float]
    opacity: float = 1.0
    mesh: str = ""
    lpi: float | None = None
    angle: float | None = None
    overprint: bool = False


@dataclass(frozen=True, slots=True)
class WantedSet:
    """All that decides what the films of a set are.

    Attributes
    ----------
    art : hash of the art's file, and which page of it
    version : of filmhand
    mode : how colors become inks
    inks : in print order
    cloth : L*, a*, b* under D50
    angle : of screens that all lie alike, degrees
    mesh_angle : of the threads against the sheet, degrees
    trap_mm : how far inks go under others, 0 for not at all
    choke_mm : how far the underbase is drawn back; None without an underbase
    total_ink : the most that the coverages of a place add up to, 3 for 300 %; None for no limit
    black_generation : 0 for as little black as the color allows, 1 for as much
    settings : all that profile and ticket say else, or a hash of it
    """

    art: tuple[str, int]
    version: str
    mode: SeparationMode
    inks: tuple[ListedInk, ...]
    cloth: tuple[float, float, float] = (100.0, 0.0, 0.0)
    angle: float = 22.5
    mesh_angle: float = 0.0
    trap_mm: float = 0.0
    choke_mm: float | None = None
    total_ink: float | None = None
    black_generation: float = 0.5
    settings: str = ""

    @property
    def overprinting(self) -> tuple[int, ...]:
        """The inks that do not knock out what lies beneath them, by place in print order.

        None where colors are mixed of dots, which lie over each other as it is; and beneath an ink
        before which no other is printed but the underbase, there is nothing to be knocked out.
        """
        if self.mode is not SeparationMode.SPOT:
            return ()
        first = 1 if self.choke_mm is None else 2
        return tuple(k for k, ink in enumerate(self.inks) if ink.overprint and k >= first)


@dataclass(frozen=True, slots=True)
class FilmOfSet:
    """One film.

    Attributes
    ----------
    place : its number in print order, from 1
    of : how many films there are
    ink : with the angle that it has
    """

    place: int
    of: int
    ink: ListedInk

    @property
    def name_end(self) -> str:
        """What its files' names have after the stem of the art.

        >>> FilmOfSet(2, 4, ListedInk("dark red", (30.0, 50.0, 35.0))).name_end
        '-2-dark-red'
        """
        return f"-{self.place}-{ink_file_name(self.ink.name)}"

    def record(self, set_id: str) -> dict[str, Any]:
        """The film's place in its set, as its record has it."""
        color = [round(value, 2) for value in self.ink.color]
        return {"id": set_id, "k": self.place, "of": self.of, "ink": self.ink.name, "color": color}


@dataclass(frozen=True, slots=True)
class SetPlan:
    """What is to be made.

    Attributes
    ----------
    id : hexadecimal, the same for the same set wherever and whenever it is made
    films : in print order
    traps : which inks go under which, none where they only meet
    """

    id: str
    films: tuple[FilmOfSet, ...]
    traps: tuple[Trap, ...]


def plan_set(wanted: WantedSet) -> SetPlan:
    """The plan of a set.

    Raises
    ------
    ValueError
        Where there is no ink, a name cannot be part of a file's, or two would be the same there.
    """
    if not wanted.inks:
        raise ValueError("a set has at least one ink")
    names = [ink_key(ink.name) for ink in wanted.inks]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"two inks are called {name!r}")
    angles = set_angles(wanted)
    films = tuple(
        FilmOfSet(place, len(angles), replace(ink, angle=angle))
        for place, (ink, angle) in enumerate(zip(wanted.inks, angles, strict=True), 1)
    )
    trapped = wanted.trap_mm > 0 and wanted.mode is SeparationMode.SPOT
    traps = traps_of(wanted.inks, wanted.overprinting) if trapped else ()
    return SetPlan(_identity(wanted, angles), films, traps)


def separation_record(mode: SeparationMode, difference: Recombination) -> dict[str, Any]:
    """How far the films of a set are from their art, the same on the record of each."""
    return {
        "mode": str(mode),
        "mean_de00": round(difference.mean, 2),
        "p95_de00": round(difference.p95, 2),
    }


def set_angles(wanted: WantedSet) -> list[float]:
    """The angle of each ink's screen, degrees, 0 <= angle < 90 where it is not given.

    Spot colors lie beside each other, so all have one angle. Screens that lie over each other are
    turned apart by the trade's offsets; what differs most from the cloth in lightness shows most.
    On an underbase it is what differs most from that, after the underbase itself. A later ink of
    its color has its angle: it prints where that is solid, and their screens make no bands.
    """
    if wanted.mode is SeparationMode.SPOT:
        return [wanted.angle if ink.angle is None else ink.angle for ink in wanted.inks]
    based = wanted.choke_mm is not None
    ground = wanted.inks[0].color if based else wanted.cloth
    shown = {
        place: inf if based and place == 0 else abs(ink.color[0] - ground[0])
        for place, ink in enumerate(wanted.inks)
        if ink.angle is None
    }
    again = [place for place in shown if based and place > 0 and _alike(wanted, place)]
    for place in again:
        del shown[place]
    angles = [0.0 if ink.angle is None else ink.angle for ink in wanted.inks]
    given = [ink.angle for ink in wanted.inks if ink.angle is not None]
    turn = _FROM_THREADS + wanted.mesh_angle
    all_directions = [
        (offset + turn) % 90 for offset in (_STRONGEST, *_BETWEEN, _WEAKEST, *_FURTHER)
    ]
    free = [
        direction
        for direction in all_directions
        if all(_turned_apart(direction, one) >= _APART for one in given)
    ]
    directions = free or all_directions
    # The strongest first, the weakest of the first four fourth, and between them as listed.
    strength = sorted(shown, key=lambda place: (-shown[place], place))
    first, rest = strength[:4], strength[4:]
    between = sorted(first[1:3])
    for number, place in enumerate([*first[:1], *between, *first[3:], *rest]):
        angles[place] = directions[number % len(directions)]
    for place in again:
        angles[place] = angles[0]
    return angles


def _alike(wanted: WantedSet, place: int) -> bool:
    """Whether an ink has the color of the first."""
    pair = [np.array(wanted.inks[which].color, float) for which in (0, place)]
    return bool(color_difference(*pair) <= FLAT_TOLERANCE)


def _turned_apart(one: float, other: float) -> float:
    """Degrees between two screens of dots, which look the same after 90."""
    return abs((one - other + 45) % 90 - 45)


def traps_of(inks: Sequence[ListedInk], over: Sequence[int] = ()) -> tuple[Trap, ...]:
    """Which of each two inks goes under the other: the lighter, as the darker hides it.

    A lighter ink that is printed later and covers would lie on the darker instead, and be seen; so
    the one that is printed first goes under it. What lies beneath an ink that overprints (``over``)
    goes on under it anyway.
    """
    traps = []
    for later in range(len(inks)):
        if later in over:
            continue
        for earlier in range(later):
            lighter_later = inks[later].color[0] > inks[earlier].color[0]
            if lighter_later and inks[later].opacity < _COVERS:
                traps.append(Trap(spread=later, under=earlier))
            else:
                traps.append(Trap(spread=earlier, under=later))
    return tuple(traps)


def _identity(wanted: WantedSet, angles: Sequence[float]) -> str:
    told = asdict(wanted)
    for ink in told["inks"]:
        if not ink["overprint"]:
            del ink["overprint"]  # sets without it keep their identities
    content = json.dumps(_all_floats([told, list(angles)]), sort_keys=True)
    return hashlib.sha256(content.encode()).hexdigest()[:_DIGITS]


def _all_floats(value: Any) -> Any:
    """The same with whole numbers as floats, as 45 and 45.0 are one ruling."""
    if isinstance(value, dict):
        return {key: _all_floats(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_all_floats(part) for part in value]
    return float(value) if isinstance(value, int) else value

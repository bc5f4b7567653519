"""Which angle of one ink would make no bands with the screens of the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.ink.mixing import PrintModel
from filmhand.mesh.moire.bands import FilmStrength
from filmhand.mesh.moire.visibility import Sight
from filmhand.pipeline.separation.moire_of_films import (
    ROSETTE_CELLS,
    FilmBands,
    FilmScreen,
    moire_of_films,
)
from filmhand.values import dataclass

_STEP = 7.5  # degrees, of which the trade's angles are multiples (common practice, no source)


@dataclass(frozen=True, slots=True)
class TurnedScreen:
    """A screen that would be seen less.

    Attributes
    ----------
    film : its place in print order, from 0
    turn : how far it would be turned, degrees counter-clockwise
    """

    film: int
    turn: float


def turn_that_passes(
    screens: Sequence[FilmScreen | None],
    model: PrintModel,
    sight: Sight,
    bands: FilmBands,
    limit: float,
) -> TurnedScreen | None:
    """The turn of one of the films of some bands by which all are seen least, where that passes.

    Parameters
    ----------
    limit : the visibility that passes
    """
    tried = [one and replace(one, strength=_measured_once(one.strength)) for one in screens]
    found: list[tuple[float, int, float]] = []
    for film in bands.films:
        own = tried[film]
        assert own is not None
        around = 180 if len(own.vectors) == 1 else 90
        for turn in np.arange(_STEP, around, _STEP).tolist():
            others = list(tried)
            others[film] = replace(own, vectors=_turned(own.vectors, turn))
            if not _lies_apart(others, film):
                continue
            left = moire_of_films(others, model, sight, most=1, shortest=ROSETTE_CELLS)
            found.append((round(left[0].visibility if left else 0.0, 9), -film, turn))
    if not found:
        return None
    least, film, turn = min(found)
    return TurnedScreen(-film, turn) if least <= limit else None


def _lies_apart(screens: Sequence[FilmScreen | None], film: int) -> bool:
    """Whether a screen is like no other: dots on dots are no color that a press repeats."""
    angles = [
        None if one is None else np.degrees(np.arctan2(one.vectors[-1, 1], one.vectors[-1, 0]))
        for one in screens
    ]
    own = angles[film]
    return all(
        other is None or place == film or abs((other - own + 45) % 90 - 45) > _STEP / 2
        for place, other in enumerate(angles)
    )


def _turned(vectors: Float64Array, degrees: float) -> Float64Array:
    turn = np.radians(degrees)
    across, up = np.cos(turn), np.sin(turn)
    turned: Float64Array = vectors @ np.array([[across, up], [-up, across]])
    return turned


def _measured_once(strength: FilmStrength) -> FilmStrength:
    """The same, looked up where the orders were asked for before: turned dots are as strong."""
    known: dict[bytes, Float64Array] = {}

    def of(orders: Int64Array) -> Float64Array:
        key = orders.tobytes()
        if key not in known:
            known[key] = strength(orders)
        return known[key]

    return of

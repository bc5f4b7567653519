"""The bands that the screens of a set make with each other.

Every sum of whole orders of two or three screens is a wave of the print (I. Amidror, The Theory of
the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009, ch. 2). How much it changes the light goes by
what the inks do over each other: the light of a print is a sum of products of the inks' areas, and
the wave has the part in which all its inks are (:func:`_together`). Yellow on white so counts for
little, and an ink that covers for much. What is left is how well an eye sees the period.

Three screens that are 30 degrees apart repeat each other: the sum of one order of each is no wave
at all as long as they are exact, and a slow one when they are a little off.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.ink.cielab import lab_to_xyz
from filmhand.ink.mixing import PrintModel, bands_to_lab, demichel_weights
from filmhand.mesh.moire.bands import FilmStrength
from filmhand.mesh.moire.visibility import Sight
from filmhand.units import MM_PER_INCH
from filmhand.values import dataclass

# Orders up to which screens are summed, by how many they are: the more, the weaker the high ones.
_LARGEST_ORDERS = {2: 3, 3: 1}
# The tone that strengths, which are relative to the mean ink, are taken to be of.
_TONE = 0.3
_TOLD = 4
ROSETTE_CELLS = 2.0
"""Bands that are no longer are the rosette that all screens make which are turned apart.

Two screens 30 degrees apart, as far as the trade has them (ISO 12647-2, from memory), beat at
1 / (2 sin 15 deg) = 1.93 cells.
"""


@dataclass(frozen=True, slots=True, eq=False)
class FilmScreen:
    """The screen of one film.

    Attributes
    ----------
    vectors : (2, 2) float64, its frequency vectors as it is made, per inch, y up; (1, 2) of lines
    strength : of its orders: of ideal dots, its tile, or the finished film
    """

    vectors: Float64Array
    strength: FilmStrength


@dataclass(frozen=True, slots=True)
class FilmBands:
    """Bands of two or three films.

    Attributes
    ----------
    films : places in print order, from 0
    orders : of each film; a line screen has (0, j)
    period_mm : from band to band
    direction : of the bands, degrees counter-clockwise as seen, 0 <= direction < 180
    strength : change of the light of the print, up and down, as a share of its mean
    share : how well the eye sees the period, 0..1
    """

    films: tuple[int, ...]
    orders: tuple[tuple[int, int], ...]
    period_mm: float
    direction: float
    strength: float
    share: float

    @property
    def visibility(self) -> float:
        """The strength times how well the eye sees it; comparable to that of mesh and film."""
        return self.strength * self.share


def moire_of_films(
    screens: Sequence[FilmScreen | None],
    model: PrintModel,
    sight: Sight,
    *,
    most: int = _TOLD,
    shortest: float = 0.0,
) -> list[FilmBands]:
    """The bands that are seen most, the first of all first.

    Parameters
    ----------
    screens : in print order; None for a film that has none
    model : the same inks on their cloth
    sight : from where bands are looked at; what is longer than there is room for is no band
    most : so many are told
    shortest : of the bands that are told, in cells of the coarsest of their screens

    Raises
    ------
    ValueError
        Where inks and screens are not as many.
    """
    if len(screens) != model.ink_count:
        raise ValueError(f"{len(screens)} screens are not those of {model.ink_count} inks")
    screened = {place: screen for place, screen in enumerate(screens) if screen is not None}
    found = [
        bands
        for count in _LARGEST_ORDERS
        for films in combinations(screened, count)
        for bands in _bands_of(
            films,
            [screened[film] for film in films],
            _together(model, films),
            sight,
            most,
            shortest,
        )
    ]
    return sorted(found, key=lambda one: -round(one.visibility, 9))[:most]


def _bands_of(
    films: tuple[int, ...],
    screens: Sequence[FilmScreen],
    together: float,
    sight: Sight,
    most: int,
    shortest: float,
) -> list[FilmBands]:
    """The most visible bands of just these films, whose screens are given."""
    largest = _LARGEST_ORDERS[len(films)]
    waves, strengths, orders = [], [], []
    for screen in screens:
        own = _orders(largest, lines=len(screen.vectors) == 1)
        orders.append(own)
        waves.append(own[:, -len(screen.vectors) :] @ screen.vectors)
        strengths.append(screen.strength(np.pad(own, ((0, 0), (0, 2)))))
    picks = np.array(list(product(*(range(len(own)) for own in orders))))
    # A wave and its reverse are one.
    picks = picks[picks[:, 0] >= len(orders[0]) // 2]
    total = np.sum([wave[picks[:, k]] for k, wave in enumerate(waves)], axis=0)
    frequency = np.hypot(*total.T)
    strength = (
        2
        * together
        * np.prod([_TONE * one[picks[:, k]] for k, one in enumerate(strengths)], axis=0)
    )
    # What is a lock but for rounding has a period far beyond every film.
    fits = frequency >= MM_PER_INCH / sight.longest_mm
    if shortest:
        coarsest = min(float(np.hypot(*screen.vectors[-1])) for screen in screens)
        fits &= frequency * shortest < coarsest
    periods = MM_PER_INCH / np.where(fits, frequency, np.inf)
    share = sight.visible_share(periods)
    rank = np.where(fits, strength * share, -1)
    directions = (np.degrees(np.arctan2(total[:, 1], total[:, 0])) + 90) % 180
    return [
        FilmBands(
            films,
            tuple(
                (int(own[at, 0]), int(own[at, 1])) for own, at in zip(orders, picks[k], strict=True)
            ),
            float(periods[k]),
            float(directions[k]),
            float(strength[k]),
            float(share[k]),
        )
        for k in np.argsort(-rank, kind="stable")[:most].tolist()
        if fits[k]
    ]


def _orders(largest: int, *, lines: bool) -> Int64Array:
    """(k, 2) all whole orders but none at all, the reverse of each as far from the other end."""
    reach = range(-largest, largest + 1)
    every = [(i, j) for i in ([0] if lines else reach) for j in reach if (i, j) != (0, 0)]
    return np.array(every, np.int64)


def _together(model: PrintModel, films: tuple[int, ...]) -> float:
    """What one unit of the inks' areas multiplied changes of the light, relative to its mean.

    The light of inks of areas a, b on a cloth is Y0 + (Y1 - Y0) a + (Y2 - Y0) b
    + (Y0 - Y1 - Y2 + Y12) a b, and so on for more, as follows from Demichel's products.
    """
    subsets = np.arange(2 ** len(films))
    places = sum((subsets >> bit & 1) << film for bit, film in enumerate(films))
    light = lab_to_xyz(bands_to_lab(model.primaries[places]))[:, 1]
    signs = (-1.0) ** (len(films) - np.bitwise_count(subsets).astype(np.int64))
    mean = demichel_weights(np.full(len(films), _TONE)) @ light
    return abs(float(signs @ light)) / float(mean)

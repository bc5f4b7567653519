"""The inks that art asks for, found in its colors.

Many colors may be inks: some are taken from the art one after another, each far from those before
it, from the cloth, and common, so the same art always has the same inks; k-means in CIELAB, by
SciPy, moves them to the middle of what is nearest to each. Where one code in the art stands for all
that is like such a color, it takes its place. :mod:`~filmhand.ink.ink_choice` chooses of all of
them. In art of which three quarters are even the rest counts less, as most of it is soft edges, and
what is known to be of one does not count.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array, Int64Array
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference, nearest_color
from filmhand.ink.ink_choice import SAME_INK, AskedColors, choose_inks
from filmhand.ink.ink_words import InkRefusal
from filmhand.ink.wide_places import EVEN, even_places
from filmhand.values import dataclass

INKS_EXTRA = "pip install 'filmhand[inks]'"
_FLAT_ART = 0.75  # of the art is even, at least, where it is of flats
_NEAR = 10.0  # of L*, a*, b*, within which colors add to one another's weight
_LEAST_AREA = 0.001  # of all that is not cloth; what is rarer asks for no ink
_ONE_COLOR = 0.25  # of a group, from which on one code in it is its color
_SAMPLES = 2**15
_SOFT = 0.25  # what a pixel that is not even counts in art of flats
_GROUPS = 12  # of colors, among which inks are looked for
_MOST_COLORS = 600  # of the art, that inks are chosen for
# The part of all colors like one that is next to it, from which on it is a flat and no gradient.
_VERY_NEAR, _FLAT = 3.0, 0.7
_WORTH = (1.0, 6.0)  # the least that an ink betters other art, and art of flats


@dataclass(frozen=True, slots=True, eq=False)
class FoundInks:
    """Inks that art asks for, the lightest first.

    Attributes
    ----------
    colors : (n, 3) float64, L*, a*, b*
    areas : (n,) float64, the part of what is not cloth that is nearest to each, 0..1
    """

    colors: Float64Array
    areas: Float64Array


@dataclass(frozen=True, slots=True, eq=False)
class _Colors:
    """The colors of art that are not the cloth's.

    lab : (m, 3) L*, a*, b*
    weight : (m,) how much of the art has each
    even : (m,) the same of what is even
    of_flats : whether most of the art is even
    """

    lab: Float64Array
    weight: Float64Array
    even: Float64Array
    of_flats: bool


def find_inks(
    codes: NDArray[np.uint8] | NDArray[np.uint16],
    cloth: Float64Array,
    *,
    count: int,
    edges: Callable[[], BoolArray] | None = None,
) -> FoundInks:
    """At most so many inks that come near to the colors of art; fewer where it has no more colors.

    Parameters
    ----------
    codes : (H, W, 3), sRGB codes of the art, which may be made smaller before
    cloth : (3,) float64, L*, a*, b*
    count : how many inks, at least 1
    edges : gives (H, W) bool, which pixels are of soft edges; asked for in art of flats alone

    Raises
    ------
    Refused
        Where SciPy is not installed.
    """
    vq = _clustering()
    colors = _colors_of(codes / np.iinfo(codes.dtype).max, cloth, edges)
    candidates = _candidates(vq, colors, cloth, count)
    if not len(candidates):
        return FoundInks(np.zeros((0, 3)), np.zeros(0))
    chosen = choose_inks(_asked(colors), candidates, cloth, count, worth=_WORTH[colors.of_flats])
    inks = candidates[chosen]
    group, _ = nearest_color(colors.lab, inks)
    areas = np.bincount(group, colors.weight, minlength=len(inks)) / colors.weight.sum()
    order = np.argsort(-inks[:, 0], kind="stable")
    return FoundInks(inks[order], areas[order])


def _asked(colors: _Colors) -> AskedColors:
    """The most common colors, with what inks are chosen by."""
    some = np.sort(np.argsort(-colors.weight, kind="stable")[:_MOST_COLORS])
    total = colors.weight.sum()
    near, next_to = (_weight_around(colors, some, reach) / total for reach in (_NEAR, _VERY_NEAR))
    weight = colors.weight[some] / total / np.sqrt(near)
    return AskedColors(colors.lab[some], weight, next_to >= _FLAT * near)


def _weight_around(colors: _Colors, some: Int64Array, reach: float) -> Float64Array:
    """(k,) how much of the art has colors within so much L*, a*, b* of some of them."""
    apart = (((colors.lab - lab) ** 2).sum(axis=1) for lab in colors.lab[some])
    return np.array([colors.weight @ (square <= reach**2) for square in apart])


def _candidates(vq: Any, colors: _Colors, cloth: Float64Array, count: int) -> Float64Array:
    """(k, 3) colors that inks may have: far and common ones, and the middles of groups."""
    seeds = _seeds(colors, cloth, max(count, _GROUPS))
    found: list[Float64Array] = [*seeds]
    if len(seeds):
        often = np.rint(colors.weight / colors.weight.sum() * _SAMPLES).astype(int)
        samples = np.repeat(colors.lab, np.maximum(often, 1), axis=0)
        for groups in {min(count, len(seeds)), min(_GROUPS, len(seeds))}:
            found += [*vq.kmeans(samples, seeds[:groups])[0]]
    main = [_main_color(colors, lab) for lab in found]
    return np.unique(np.array(main).reshape(-1, 3), axis=0)


def _clustering() -> Any:
    try:
        return importlib.import_module("scipy.cluster.vq")
    # A library of C code that does not fit the system fails with OSError.
    except (ImportError, OSError) as fault:
        raise InkRefusal.LACKS_ADDITION.refused(command=INKS_EXTRA) from fault


def _colors_of(
    codes: Float64Array, cloth: Float64Array, edges: Callable[[], BoolArray] | None
) -> _Colors:
    """The colors of (H, W, 3) codes 0..1: the most frequent code of each of 4096 cells of them."""
    even = even_places(codes, EVEN)
    of_flats = bool(even.mean() >= _FLAT_ART)
    soft = np.full(even.shape, _SOFT if of_flats else 1.0)
    if of_flats and edges is not None:
        soft[edges()] = 0
    weight = np.where(even, 1, soft).ravel()
    packed = np.rint(codes.reshape(-1, 3) * 65535).astype(np.int64)
    distinct, place = np.unique(
        packed[:, 0] << 32 | packed[:, 1] << 16 | packed[:, 2], return_inverse=True
    )
    weights = np.bincount(place.ravel(), weight)
    evens = np.bincount(place.ravel(), even.ravel() | (not of_flats))
    channels = np.stack([distinct >> 32, distinct >> 16 & 0xFFFF, distinct & 0xFFFF], axis=1)
    cell = (channels >> 12) @ np.array([256, 16, 1])
    heaviest = np.lexsort((-weights, -evens, cell))
    first = np.unique(cell[heaviest], return_index=True)[1]
    lab = srgb_to_lab(channels[heaviest[first]] / 65535)
    total = np.bincount(cell, weights)[cell[heaviest[first]]]
    even_total = np.bincount(cell, evens)[cell[heaviest[first]]]
    printed = (color_difference(lab, cloth) > SAME_INK) & (total > 0)
    return _Colors(lab[printed], total[printed], even_total[printed], of_flats)


def _seeds(colors: _Colors, cloth: Float64Array, count: int) -> Float64Array:
    """(n, 3) the colors to begin with, each the farthest and most common beside those before it."""
    common = _weight_around(colors, np.arange(len(colors.lab)), _NEAR)
    rare = common < _LEAST_AREA * colors.weight.sum()
    apart = color_difference(colors.lab, cloth)
    chosen: list[Float64Array] = []
    while len(chosen) < count:
        score = np.where(rare | (apart <= SAME_INK), 0, np.sqrt(common) * apart)
        if not score.any():
            break
        chosen.append(colors.lab[score.argmax()])
        apart = np.minimum(apart, color_difference(colors.lab, chosen[-1]))
    return np.array(chosen).reshape(-1, 3)


def _main_color(colors: _Colors, lab: Float64Array) -> Float64Array:
    """(3,) the very color that much of the art around one has, or else that one."""
    around = ((colors.lab - lab) ** 2).sum(axis=1) <= _NEAR**2
    even = colors.even[around]
    if even.any() and even.max() >= _ONE_COLOR * even.sum():
        main: Float64Array = colors.lab[around][even.argmax()]
        return main
    return lab

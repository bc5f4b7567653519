"""The inks that art asks for, found in its colors.

Where three quarters of the art are even, only those count, as the rest is its soft edges. The first
colors to group by are chosen one after another from the art itself, each far from those before it,
from the cloth, and common, so the same art always has the same inks. Then k-means in CIELAB, by
SciPy, moves them to the middle of what is nearest to each.
"""

from __future__ import annotations

import importlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array
from filmhand.ink.cielab import srgb_to_lab
from filmhand.ink.color_difference import color_difference
from filmhand.ink.ink_words import InkRefusal
from filmhand.ink.wide_places import EVEN, even_places
from filmhand.values import dataclass

INKS_EXTRA = "pip install 'filmhand[inks]'"
_SAME_INK = 5.0  # CIEDE2000 to the cloth or another ink from which on a color asks for its own
_FLAT_ART = 0.75  # of the art is even, at least, where it is of flats
_NEAR = 10.0  # of L*, a*, b*, within which colors add to one another's weight
_LEAST_AREA = 0.001  # of all that is not cloth; what is rarer asks for no ink
_ONE_COLOR = 0.25  # of a group, from which on one code in it is its color
_SAMPLES = 2**15


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
    """The colors of art that are not the cloth's: (m, 3) L*, a*, b*, and (m,) how much of each."""

    lab: Float64Array
    weight: Float64Array


def find_inks(
    codes: NDArray[np.uint8] | NDArray[np.uint16], cloth: Float64Array, *, count: int
) -> FoundInks:
    """At most so many inks that come near to the colors of art; fewer where it has no more colors.

    Parameters
    ----------
    codes : (H, W, 3), sRGB codes of the art, which may be made smaller before
    cloth : (3,) float64, L*, a*, b*
    count : how many inks, at least 1

    Raises
    ------
    Refused
        Where SciPy is not installed.
    """
    vq = _clustering()
    colors = _colors_of(codes / np.iinfo(codes.dtype).max, cloth)
    seeds = _seeds(colors, cloth, count)
    if not len(seeds):
        return FoundInks(np.zeros((0, 3)), np.zeros(0))
    often = np.maximum(np.rint(colors.weight / colors.weight.sum() * _SAMPLES), 1).astype(int)
    centers, _ = vq.kmeans(np.repeat(colors.lab, often, axis=0), seeds)
    group, _ = vq.vq(colors.lab, centers)
    inks = np.stack([_color_of_group(colors, group == k) for k in range(len(centers))])
    areas = np.bincount(group, colors.weight, minlength=len(inks)) / colors.weight.sum()
    order = np.argsort(-inks[:, 0], kind="stable")
    return FoundInks(inks[order], areas[order])


def _clustering() -> Any:
    try:
        return importlib.import_module("scipy.cluster.vq")
    # A library of C code that does not fit the system fails with OSError.
    except (ImportError, OSError) as fault:
        raise InkRefusal.LACKS_ADDITION.refused(command=INKS_EXTRA) from fault


def _colors_of(codes: Float64Array, cloth: Float64Array) -> _Colors:
    """The colors of (H, W, 3) codes 0..1: the most frequent code of each of 4096 cells of them."""
    even = even_places(codes, EVEN)
    weight = (even | (even.mean() < _FLAT_ART)).ravel()
    packed = np.rint(codes.reshape(-1, 3) * 65535).astype(np.int64)
    distinct, place = np.unique(
        packed[:, 0] << 32 | packed[:, 1] << 16 | packed[:, 2], return_inverse=True
    )
    weights = np.bincount(place.ravel(), weight)
    channels = np.stack([distinct >> 32, distinct >> 16 & 0xFFFF, distinct & 0xFFFF], axis=1)
    cell = (channels >> 12) @ np.array([256, 16, 1])
    heaviest = np.lexsort((-weights, cell))
    first = np.unique(cell[heaviest], return_index=True)[1]
    lab = srgb_to_lab(channels[heaviest[first]] / 65535)
    total = np.bincount(cell, weights)[cell[heaviest[first]]]
    printed = (color_difference(lab, cloth) > _SAME_INK) & (total > 0)
    return _Colors(lab[printed], total[printed])


def _seeds(colors: _Colors, cloth: Float64Array, count: int) -> Float64Array:
    """(n, 3) the colors to begin with, each the farthest and most common beside those before it."""
    common = np.array(
        [colors.weight @ (((colors.lab - lab) ** 2).sum(axis=1) <= _NEAR**2) for lab in colors.lab]
    )
    rare = common < _LEAST_AREA * colors.weight.sum()
    apart = color_difference(colors.lab, cloth)
    chosen: list[Float64Array] = []
    while len(chosen) < count:
        score = np.where(rare | (apart <= _SAME_INK), 0, np.sqrt(common) * apart)
        if not score.any():
            break
        chosen.append(colors.lab[score.argmax()])
        apart = np.minimum(apart, color_difference(colors.lab, chosen[-1]))
    return np.array(chosen).reshape(-1, 3)


def _color_of_group(colors: _Colors, of_group: BoolArray) -> Float64Array:
    """(3,) the color of a group: the very one that much of it has, else the mean."""
    lab, weight = colors.lab[of_group], colors.weight[of_group]
    if weight.max() >= _ONE_COLOR * weight.sum():
        main: Float64Array = lab[weight.argmax()]
        return main
    mean: Float64Array = weight @ lab / weight.sum()
    return mean

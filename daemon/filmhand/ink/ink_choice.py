"""Which few of many colors are to be inks, so that these print the colors of the art.

An ink prints its own color and, in dots, the tints of it on the cloth; two inks print what their
dots mix to, by the model of the print. So a color that is a tint of another needs no ink of its
own, and one that nothing else comes near needs one, small as its part of the art may be. A flat
color is better served by a solid than by dots, which is why dots cost something.

Inks are taken one after another, each the one that helps most, and then exchanged while that helps.
Colors count by the square root of the area of all that are like them, so that accents are not lost
beside grounds.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.ink.color_difference import color_difference
from filmhand.ink.mixing import YULE_NIELSEN, PrintingInk, print_model
from filmhand.ink.solving import color_metric
from filmhand.values import dataclass

SAME_INK = 5.0
"""CIEDE2000 to the cloth or another ink, up to which a color asks for no ink of its own."""
_OPACITY = 0.5  # between the inks of the trade, which hide or let through
_TINTS = np.linspace(0, 1, 17)[:, None]
_MIXTURES = np.array(list(product(np.linspace(0, 1, 7), repeat=2)))
# In weighted L*, a*, b*: from where on colors are no more like each other, and what dots cost.
_WHOLLY_OTHER = 40.0
_TINT_OF_FLAT, _MIXTURE_OF_FLAT, _MIXTURE = 4.0, 8.0, 2.0


@dataclass(frozen=True, slots=True, eq=False)
class AskedColors:
    """The colors of art that inks are chosen for.

    Attributes
    ----------
    lab : (m, 3) float64, L*, a*, b*
    weight : (m,) float64, how much each counts
    flat : (m,) bool, whether it is of flats
    """

    lab: Float64Array
    weight: Float64Array
    flat: BoolArray


def choose_inks(
    asked: AskedColors, candidates: Float64Array, cloth: Float64Array, count: int, *, worth: float
) -> list[int]:
    """The places of at most so many candidates; fewer where one more would better too little.

    Parameters
    ----------
    asked : the colors of the art
    candidates : (k, 3) float64, L*, a*, b*
    cloth : (3,) float64, L*, a*, b*
    count : at least 1
    worth : what an ink is to better, in squares of weighted L*, a*, b*, times weights
    """
    alone, paired = _costs(asked, candidates, cloth)
    like = color_difference(candidates[:, None], candidates[None]) <= SAME_INK

    def cost(chosen: list[int]) -> float:
        """What the colors cost together with these inks, of which the last is new."""
        if like[chosen[-1], chosen[:-1]].any():
            return np.inf
        least = alone[chosen].min(axis=0)
        for place, one in enumerate(chosen[1:], 1):
            np.minimum(least, paired[one, chosen[:place]].min(axis=0), out=least)
        return float(np.minimum(least, _WHOLLY_OTHER) ** 2 @ asked.weight)

    chosen: list[int] = []
    before = np.inf
    while len(chosen) < min(count, len(candidates)):
        costs = [cost([*chosen, k]) for k in range(len(candidates))]
        if before - min(costs) < worth:
            break
        chosen.append(int(np.argmin(costs)))
        before = min(costs)
        for place in range(len(chosen) - 1):
            others = [*chosen[:place], *chosen[place + 1 :]]
            costs = [cost([*others, k]) for k in range(len(candidates))]
            if min(costs) < before:
                chosen[place], before = int(np.argmin(costs)), min(costs)
    return chosen


def _costs(
    asked: AskedColors, candidates: Float64Array, cloth: Float64Array
) -> tuple[Float64Array, Float64Array]:
    """(k, m) what each color costs with one ink, and (k, k, m) with the dots of two."""
    colors, metric = asked.lab, color_metric(asked.lab, hue=1.0)

    def distance(printed: Float64Array) -> Float64Array:
        """(m,) from each color to the nearest of (p, 3) printed ones."""
        least = np.full(len(colors), np.inf)
        for lab in printed:
            seen = np.einsum("mij,mj->mi", metric, lab - colors)
            np.minimum(least, (seen**2).sum(axis=1), out=least)
        distances: Float64Array = np.sqrt(least)
        return distances

    def printed(inks: list[Float64Array], coverages: Float64Array) -> Float64Array:
        layers = [PrintingInk(ink, _OPACITY) for ink in inks]
        return print_model(layers, cloth, yule_nielsen=YULE_NIELSEN).screened(coverages)

    of_tint = np.where(asked.flat, _TINT_OF_FLAT, 0)
    of_mixture = np.where(asked.flat, _MIXTURE_OF_FLAT, _MIXTURE)
    k = len(candidates)
    alone = np.empty((k, len(colors)))
    paired = np.full((k, k, len(colors)), np.inf)
    for one in range(k):
        tints = distance(printed([candidates[one]], _TINTS)) + of_tint
        alone[one] = np.minimum(distance(candidates[one][None]), tints)
        for other in range(one):
            mixed = distance(printed([candidates[one], candidates[other]], _MIXTURES)) + of_mixture
            paired[one, other] = paired[other, one] = mixed
    return alone, paired

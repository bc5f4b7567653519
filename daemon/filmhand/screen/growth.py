"""How the pixels of a tile turn: dots grow from their centres, holes close towards theirs.

Every pixel belongs to one centre. Order inside a dot comes first and order of the dots second, as
in multi-centre and hybrid screens (H. R. Kang, Digital Color Halftoning, 1999; C. Lee and
J. P. Allebach, The hybrid screen, IEEE Trans. Image Processing 19(2), 2010), so that all dots have
the same area to within one pixel at every tone. Ranking all pixels by a spot value alone would
leave dots that differ by chance in how many pixel centres they hold (D. G. Kendall, On the number
of lattice points inside a random oval, Quart. J. Math. 19, 1948).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.screen.lattice import Brick

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
# Values are rounded to this, and lie within -2 .. 2: what cannot be reached comes last.
_SMALLEST_STEP, _OUT_OF_REACH = 1e-9, 8.0


@dataclass(frozen=True, slots=True)
class Growing:
    """The dots of a tile, or its holes.

    Attributes
    ----------
    members : (m,) int64, the pixels that belong to them, by number in the brick
    centre : (m,) int64, the number of the centre that each belongs to
    value : (m,) float64, higher turns earlier within one centre
    firing : (centres,) float64 in 0..1, the order of the centres
    smallest : pixels that a centre turns at once when it turns at all
    """

    members: Ints
    centre: Ints
    value: Floats
    firing: Floats
    smallest: int


def ranked(brick: Brick, dots: Growing, holes: Growing) -> Ints:
    """(pixels,) int64 in brick order: 0 .. pixels-1, low ranks turn black first.

    With ``smallest`` of 1 the ranks are a permutation. Otherwise the pixels of a dot that appears
    whole share the middle one of their ranks, so that no flat tone can leave part of a dot; the
    mean tone is then exact to half a smallest dot a tile.
    """
    pixels = brick.length * brick.height
    ranks = np.empty(pixels, np.int64)
    order, together = _growth_order(brick, dots)
    ranks[order] = together
    order, together = _growth_order(brick, holes)
    ranks[order] = pixels - 1 - together
    return ranks


def _growth_order(brick: Brick, growing: Growing) -> tuple[Ints, Ints]:
    """The members in the order in which they turn, growing all centres together, and their ranks.

    A member's key is the number of pixels that its centre already has, plus the centre's firing
    place; below ``smallest`` pixels the whole dot shares one key, so that it appears at once.
    """
    members, centre, smallest = growing.members, growing.centre, growing.smallest
    # Rounded so that the last bit of a float does not decide an order on one processor and not on
    # another.
    value = _in_one_piece(brick, members, centre, np.round(growing.value, 9))
    within = np.lexsort((-value, centre))
    counts = np.bincount(centre, minlength=growing.firing.size)
    starts = np.cumsum(counts) - counts
    place = np.empty(members.size, np.int64)
    place[within] = np.arange(members.size) - np.repeat(starts, counts)
    fire = growing.firing[centre]
    key = np.where(place < smallest, smallest * fire, place + fire)
    order = np.lexsort((place, key))
    rank = np.arange(members.size)
    if smallest > 1:
        _, group = np.unique(key[order], return_inverse=True)
        rank = np.rint(np.bincount(group, rank) / np.bincount(group)).astype(np.int64)[group]
    return members[order], rank


def _in_one_piece(brick: Brick, members: Ints, centre: Ints, value: Floats) -> Floats:
    """The values, lowered where needed so that every centre grows edge to edge.

    By its value alone a slanting tip or a thin line turns pixels that touch the rest at a corner
    only, and those would be crumbs of their own on the stencil. A pixel's value becomes the lowest
    on the best way to it from its centre's first pixel, and stays below the pixel before.
    """
    count = brick.length * brick.height
    owner, height = np.full(count, -1, np.int64), np.empty(count)
    owner[members], height[members] = centre, value
    reached = np.full(count, -np.inf)
    best = np.lexsort((-value, centre))
    frontier = members[best[np.flatnonzero(np.diff(centre[best], prepend=-1))]]
    reached[frontier] = height[frontier]
    while frontier.size:
        row, column = np.divmod(frontier, brick.length)
        fresh = []
        for right, down in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            beside = brick.index(column + right, row + down)
            found = np.minimum(height[beside], reached[frontier] - _SMALLEST_STEP)
            better = (owner[beside] == owner[frontier]) & (found > reached[beside])
            np.maximum.at(reached, beside[better], found[better])
            fresh.append(beside[better])
        frontier = np.unique(np.concatenate(fresh))
    lowered = reached[members]
    return np.where(np.isinf(lowered), value - _OUT_OF_REACH, lowered)

"""How the pixels of a tile turn: dots grow from their centers, shadow dots close towards theirs.

Every pixel belongs to one center. Order inside a dot comes first and order of the dots second, as
in multi-center and hybrid screens (H. R. Kang, Frequency analysis of microcluster halftoning, its
abstract; C. Lee and J. P. Allebach, The hybrid screen, IEEE Trans. Image Processing 19(2), 2010,
from memory), so that all dots have the same area to within one pixel at every tone. Ranking all
pixels by a spot value alone would leave dots that differ by chance in how many pixel centers they
hold (D. G. Kendall, On the number of lattice points inside a random oval, Quart. J. Math. 19,
1948).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array, Int32Array, Int64Array, distinct
from filmhand.kernels.loops import compiled
from filmhand.screen.lattice import Lattice, TileBrick
from filmhand.screen.sorting import stable_order
from filmhand.values import dataclass

_Value = TypeVar("_Value", bound=np.generic)

# Values are rounded to this, and lie within -2 .. 2: what cannot be reached comes last.
_SMALLEST_STEP, _OUT_OF_REACH = 1e-9, 8.0
# Columns to the right and rows down: right, left, below and above.
_WAYS = ((1, 0), (-1, 0), (0, 1), (0, -1))
_DEEPEST = -(2**40)  # steps to a way out, counted downward, of what has not been reached yet


@dataclass(frozen=True, slots=True)
class Growing:
    """The dots of a tile, or its shadow dots.

    Attributes
    ----------
    members : (m,) int64, the pixels that belong to them, by number in the brick
    center : (m,) int32, the number of the center that each belongs to
    value : (m,) float64, higher turns earlier within one center
    turn_order : (centers,) float64 in 0..1, the order of the centers
    smallest : pixels that a center turns at once when it turns at all
    """

    members: Int64Array
    center: Int32Array
    value: Float64Array
    turn_order: Float64Array
    smallest: int


def ranked(brick: TileBrick, dots: Growing, shadow_dots: Growing) -> Int64Array:
    """(pixels,) int64 in brick order: 0 .. pixels-1, low ranks turn black first.

    With ``smallest`` of 1 the ranks are a permutation. Otherwise the pixels of a dot that appears
    whole share the middle one of their ranks, so that no flat tone can leave part of a dot; the
    mean tone is then exact to half a smallest dot a tile.
    """
    pixels = brick.length * brick.height
    first, dot_group = _growth_order(brick, dots)
    last, shadow_dot_group = _growth_order(brick, shadow_dots)
    ranks, group = np.empty(pixels, np.int64), np.empty(pixels, np.int32)
    ranks[first], ranks[last] = np.arange(first.size), pixels - 1 - np.arange(last.size)
    group[first], group[last] = dot_group, np.int32(first.size) + shadow_dot_group
    del first, last, dot_group, shadow_dot_group
    ranks = _without_islands(brick, ranks, dots.members, shadow_dots.members)
    ranks = (
        pixels - 1 - _without_islands(brick, pixels - 1 - ranks, shadow_dots.members, dots.members)
    )
    if dots.smallest > 1 or shadow_dots.smallest > 1:
        shared = np.bincount(group)
        middle = np.rint(np.bincount(group, ranks) / np.maximum(shared, 1))
        several = (shared > 1)[group]
        ranks[several] = middle[group[several]]
    return ranks


def _growth_order(brick: TileBrick, growing: Growing) -> tuple[Int32Array, Int32Array]:
    """The members in the order in which they turn, growing all centers together.

    A member's key is the number of pixels that its center already has, and then the center's
    turn; below ``smallest`` pixels the whole dot shares one key, so that it appears at once.
    The second array numbers, in the same order, the members that turn together. (A tile has far
    fewer than 2**31 pixels, and memory counts here.)
    """
    members, center, smallest = growing.members, growing.center, growing.smallest
    # Rounded so that the last bit of a float does not decide an order on one processor and not on
    # another.
    value = _in_one_piece(brick, members, center, np.round(growing.value, 9))
    by_value = np.argsort(-value, kind="stable")  # fast: members mostly come in this order
    within = by_value[stable_order(center[by_value].astype(np.int64))]
    counts = np.bincount(center, minlength=growing.turn_order.size)
    starts = np.cumsum(counts) - counts
    place = np.empty(members.size, np.int64)
    place[within] = np.arange(members.size) - np.repeat(starts, counts)
    _, turn = np.unique(growing.turn_order, return_inverse=True)
    # Whole numbers in the order of the keys: what appears at once by turn, then place by place.
    turn, turns = turn[center], int(turn.max()) + 1
    at_once = place < smallest
    key = np.where(at_once, turn * smallest, place * turns + turn)
    order = stable_order(np.where(at_once, key + place, key))
    together = np.cumsum(np.diff(key[order], prepend=-1) != 0, dtype=np.int32) - np.int32(1)
    return members[order].astype(np.int32), together


def _without_islands(
    brick: TileBrick, ranks: Int64Array, mine: Int64Array, others: Int64Array
) -> Int64Array:
    """The ranks with what would be cut off from the other half turned before it is cut off.

    Where dots have met, a few of the pixels between them may be left bare that touch no shadow dot:
    specks that no stencil holds. A pixel that will be an island turns just before the last way out
    does, and what lies deepest behind it turns first.

    mine, others : (m,) int64, the pixels of the half that is looked at, and of the other one
    """
    # From nearly every pixel there is a way out over pixels that turn later and later.
    stays = np.zeros(ranks.size, np.bool_)
    stays[others] = True
    stuck = ~stays
    for way in _WAYS:
        stuck &= _seen(brick, ranks, way) < ranks
    stuck = _stuck(brick, stays, stuck, lambda here, beside: ranks[beside] > ranks[here])
    if not stuck.any():
        return ranks
    turn = np.where(stuck, -1, ranks)
    _flood(
        brick,
        _around(brick, stuck),
        turn,
        lambda here, beside: np.minimum(ranks[beside], turn[here]),
    )
    island = turn < ranks
    if not island.any():
        return ranks
    depth = np.where(island, _DEEPEST, 0)

    def nearer(here: Int64Array, beside: Int64Array) -> Int64Array:
        open_way = island[beside] & (turn[here] >= turn[beside])
        return np.where(open_way, depth[here] - 1, 2 * _DEEPEST)

    _flood(brick, _around(brick, island), depth, nearer)
    return _turned_before(ranks, np.flatnonzero(island), turn, depth)


def _turned_before(
    ranks: Int64Array, islands: Int64Array, turn: Int64Array, depth: Int64Array
) -> Int64Array:
    """The ranks with the islands moved to just before the pixels whose ranks are their turns."""
    islands = islands[np.lexsort((ranks[islands], depth[islands], turn[islands]))]
    stays = np.ones(ranks.size, np.bool_)
    stays[ranks[islands]] = False
    moved_here = np.bincount(turn[islands], minlength=ranks.size)
    place = np.cumsum(stays + moved_here) - 1  # of what stays, by its rank
    freed: Int64Array = place[ranks]
    starts: Int64Array = np.cumsum(stays) - stays
    freed[islands] = starts[turn[islands]] + np.arange(islands.size)
    return freed


def _in_one_piece(
    brick: TileBrick, members: Int64Array, center: Int32Array, value: Float64Array
) -> Float64Array:
    """The values, lowered where needed so that every center grows edge to edge.

    By its value alone a slanting tip or a thin line turns pixels that touch the rest at a corner
    only, and those would be specks of their own on the stencil. A pixel's value becomes the lowest
    on the best way to it from its center's first pixel, and stays below the pixel before.
    """
    count = brick.length * brick.height
    owner, height = np.full(count, -1, np.int32), np.zeros(count)
    owner[members], height[members] = center, value
    firsts = _first_pixels(members, center, value)
    stays = owner < 0
    stays[firsts] = True
    # Nearly every pixel is reached over pixels that are each higher than the one behind it.
    below, stuck = height - _SMALLEST_STEP, ~stays
    for way in _WAYS:
        stuck &= (_seen(brick, below, way) < height) | (_seen(brick, owner, way) != owner)
    if not stuck.any():
        return value
    reached = np.full(count, -np.inf)
    loops = compiled()
    if loops is None:
        stuck = _stuck(
            brick,
            stays,
            stuck,
            lambda here, beside: (owner[beside] == owner[here]) & (below[beside] >= height[here]),
        )
        np.copyto(reached, height, where=~stuck & (owner >= 0))
        start = _around(brick, stuck)
        _reach(brick, owner, height, reached, start[owner[start] >= 0])
    else:
        reached[firsts] = height[firsts]
        waits = np.zeros(count, np.bool_)
        waits[firsts] = True
        wall = brick.length, brick.height, brick.shift
        loops.reach_pixels(*wall, owner, height, _SMALLEST_STEP, reached, waits)
    lowered = reached[members]
    return np.where(np.isinf(lowered), value - _OUT_OF_REACH, lowered)


def _first_pixels(members: Int64Array, center: Int32Array, value: Float64Array) -> Int64Array:
    """The pixel with the highest value of each center; of several the one that is named first."""
    best = np.full(int(center.max()) + 1, -np.inf)
    np.maximum.at(best, center, value)
    highest = np.flatnonzero(value == best[center])[::-1]
    first = np.full(best.size, -1)
    first[center[highest]] = members[highest]
    return first[first >= 0]


def _reach(
    brick: TileBrick,
    owner: Int32Array,
    height: Float64Array,
    reached: Float64Array,
    start: Int64Array,
) -> None:
    """Raise ``reached`` in place as the compiled loop does; see growth.c."""

    def offer(here: Int64Array, beside: Int64Array) -> Float64Array:
        found = np.minimum(height[beside], reached[here] - _SMALLEST_STEP)
        return np.where(owner[beside] == owner[here], found, -np.inf)

    _flood(brick, start, reached, offer)


def _stuck(
    brick: TileBrick,
    stays: BoolArray,
    stuck: BoolArray,
    goes_on: Callable[[Int64Array, Int64Array], BoolArray],
) -> BoolArray:
    """(pixels,) bool: from where every way ends in a pixel that has nowhere to go.

    stays : pixels where ways may end
    stuck : pixels that have nowhere to go
    goes_on(here, beside) -> whether ways lead from each pixel ``here`` to its neighbor
    """
    stuck = stuck.copy()
    fresh = np.flatnonzero(stuck)
    while fresh.size:
        near = distinct(np.concatenate(_beside(brick, fresh)))
        near = near[~(stuck[near] | stays[near])]
        free = np.zeros(near.size, np.bool_)
        for beside in _beside(brick, near):
            free |= goes_on(near, beside) & ~stuck[beside]
        fresh = near[~free]
        stuck[fresh] = True
    return stuck


def _around(brick: TileBrick, inside: BoolArray) -> Int64Array:
    """The pixels beside those inside that are none of them."""
    near = distinct(np.concatenate(_beside(brick, np.flatnonzero(inside))))
    return near[~inside[near]]


def _flood(
    brick: TileBrick,
    start: Int64Array,
    level: NDArray[Any],
    offer: Callable[[Int64Array, Int64Array], NDArray[Any]],
) -> None:
    """Raise ``level`` in place, from ``start`` outward, wherever a pixel is offered more.

    offer(here, beside) -> the level that each pixel ``here`` offers its neighbor ``beside``
    """
    frontier = start
    while frontier.size:
        fresh = []
        for beside in _beside(brick, frontier):
            found = offer(frontier, beside)
            better = found > level[beside]
            np.maximum.at(level, beside[better], found[better])
            fresh.append(beside[better])
        frontier = distinct(np.concatenate(fresh))


def _beside(brick: TileBrick, pixels: Int64Array) -> list[Int64Array]:
    """The neighbors of pixels, one way after another, by number."""
    row, column = np.divmod(pixels, brick.length)
    return [brick.index(column + right, row + down) for right, down in _WAYS]


def _seen(brick: TileBrick, values: NDArray[_Value], way: tuple[int, int]) -> NDArray[_Value]:
    """What all pixels see beside them one way, as :func:`_beside` has it."""
    grid = values.reshape(brick.height, brick.length)
    match way:
        case right, 0:
            return np.roll(grid, -right, axis=1).ravel()
        case 0, 1:  # the course below begins so much to the right; see TileBrick
            return np.concatenate([grid[1:].ravel(), np.roll(grid[0], brick.shift)])
        case _:
            return np.concatenate([np.roll(grid[-1], -brick.shift), grid[:-1].ravel()])


def dot_positions(lattice: Lattice) -> Float64Array:
    """(n, 2) float64 in 0..1: where each numbered dot lies, as shares of the two period vectors."""
    brick = lattice.dot_brick
    number = np.arange(lattice.dots)
    dot = np.stack([number % brick.length, number // brick.length], 1).astype(np.float64)
    order = np.array(lattice.order, np.float64)
    return (np.linalg.solve(order.T, dot.T).T % 1.0).astype(np.float64)


def dot_order(positions: Float64Array, *, seed: int) -> Float64Array:
    """A place 0 < f < 1 for every dot of a tile, such that any first part is spread evenly.

    Each next dot is the one in the largest void, on the torus of the tile: the void-filling half
    of R. Ulichney, The void-and-cluster method for dither array generation, Proc. SPIE 1913, 1993.
    The pull of a dot falls with the cube of the distance rather than as a Gaussian, so that the
    first few dots repel one another across the tile as well as the last few across one cell.

    Parameters
    ----------
    positions : (n, 2) float64 in 0..1, where each dot lies on the torus
    seed : picks among equal voids; the same seed gives the same order

    Returns
    -------
    (n,) float64: (rank + 1/2) / n, by dot number
    """
    count = len(positions)
    jitter = np.random.default_rng(seed).random(count) * 1e-6
    energy = jitter.copy()
    place = np.empty(count)
    for rank in range(count):
        chosen = int(energy.argmin())
        place[chosen] = (rank + 0.5) / count
        away = np.abs(positions - positions[chosen])
        np.minimum(away, 1 - away, out=away)
        energy += (np.einsum("ij,ij->i", away, away) * count + 0.5) ** -1.5
        energy[chosen] = np.inf
    return place

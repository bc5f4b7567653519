"""The threshold tile: which tone turns each pixel of one period black.

The construction gives every dot of the tile the same area to within one pixel, at every tone,
and the tile as a whole exactly the area asked for. Order inside a dot comes first and order of
the dots second, as in multi-centre and hybrid screens (H. R. Kang, Digital Color Halftoning, 1999;
C. Lee and J. P. Allebach, The hybrid screen, IEEE Trans. Image Processing 19(2), 2010): ranking
all pixels of a tile by their spot value alone would leave dots that differ by chance in how many
pixel centres they hold (D. G. Kendall, On the number of lattice points inside a random oval,
Quart. J. Math. 19, 1948).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.screen.firing import firing_order
from filmhand.screen.lattice import Brick, Lattice
from filmhand.screen.spot import SPOTS, Spot

FULL = 65535
# Where the dot grid lies against the pixel grid. An off-symmetry place avoids the four- and
# eight-fold ties that would make every dot lopsided in the same way.
_PHASE = (0.137, 0.291)
# Spot values are rounded to this, and lie within -2 .. 2: what cannot be reached comes last.
_SMALLEST_STEP, _OUT_OF_REACH = 1e-9, 8.0


@dataclass(frozen=True, slots=True)
class Tile:
    """Thresholds of one period, laid out as a brick.

    Attributes
    ----------
    thresholds : (height, length) uint16, 1..65535; a pixel is ink where its tone, 0..65535, is at
        or above its threshold. So tone 0 is bare, 65535 is solid, and a flat tone t inks exactly
        round(t / 65535 x pixels) pixels of each period.
    brick : how the courses of the tile repeat over the sheet
    """

    thresholds: NDArray[np.uint16]
    brick: Brick


def build_tile(
    lattice: Lattice,
    dot: str,
    *,
    smallest_dot: int = 1,
    smallest_hole: int = 1,
    seed: int = 1,
) -> Tile:
    """The threshold tile of a screen.

    Parameters
    ----------
    lattice : the dot grid
    dot : a key of :data:`filmhand.screen.spot.SPOTS`
    smallest_dot, smallest_hole : pixels; a dot or hole appears whole at this size, and tones that
        would need smaller ones get fewer of them instead, evenly spread
    seed : picks among equal orders

    Returns
    -------
    Tile
        coverage is exact at every tone where whole pixels may come and go, and exact to half a
        smallest dot a tile where dots come and go whole
    """
    ranks = rank_pixels(
        lattice, SPOTS[dot], smallest_dot=smallest_dot, smallest_hole=smallest_hole, seed=seed
    )
    pixels = ranks.size
    # Smallest tone v with floor(v / 65535 x pixels + 1/2) > rank, in whole numbers.
    thresholds = -((-(2 * ranks + 1) * FULL) // (2 * pixels))
    brick = lattice.pixel_brick
    return Tile(thresholds.astype(np.uint16).reshape(brick.height, brick.length), brick)


def rank_pixels(
    lattice: Lattice, spot: Spot, *, smallest_dot: int, smallest_hole: int, seed: int
) -> NDArray[np.int64]:
    """(pixels,) int64 in brick order: 0 .. pixels-1, low ranks turn black first.

    With ``smallest_dot`` and ``smallest_hole`` of 1 the ranks are a permutation. Otherwise the
    pixels of a dot that appears whole share the middle one of their ranks, so that no flat tone
    can leave part of a dot; the mean tone is then exact to half a smallest dot a tile.
    """
    u, v = _cell_coordinates(lattice)
    value = spot.value(2 * (u - np.rint(u)), 2 * (v - np.rint(v)))
    # Rounded so that the last bit of a float does not decide an order on one processor and not on
    # another.
    first = np.argsort(-np.round(value, 9), kind="stable")
    pixels = value.size
    ranks = np.empty(pixels, np.int64)
    half = pixels // 2
    dots, together = _growth_order(
        lattice, first[:half], u, v, value, smallest=smallest_dot, firing_seed=seed
    )
    ranks[dots] = together
    x, y = spot.hole_centre
    holes, together = _growth_order(
        lattice,
        first[half:],
        u - x,
        v - y,
        _hole_value(spot, u - x, v - y, value),
        smallest=smallest_hole,
        firing_seed=seed + 1,
    )
    ranks[holes] = pixels - 1 - together
    return ranks


def _hole_value(
    spot: Spot, u: NDArray[np.float64], v: NDArray[np.float64], value: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The order in which holes open up, seen from the middle of the hole."""
    if spot.hole_value is None:
        return -value
    return spot.hole_value(2 * (u - np.rint(u)), 2 * (v - np.rint(v)))


def _cell_coordinates(lattice: Lattice) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Coordinates of each pixel centre of the brick, in dots along the two dot vectors."""
    brick = lattice.pixel_brick
    row, column = np.divmod(np.arange(lattice.pixels), brick.length)
    x = column + 0.5 + _PHASE[0]
    y = -(row + 0.5) + _PHASE[1]
    u, v = np.linalg.solve(lattice.dot_vectors.T, np.stack([x, y]))
    return u, v


def _growth_order(
    lattice: Lattice,
    members: NDArray[np.int64],
    u: NDArray[np.float64],
    v: NDArray[np.float64],
    value: NDArray[np.float64],
    *,
    smallest: int,
    firing_seed: int,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The members in the order in which they turn, growing all centres together, and their ranks.

    Each member belongs to the centre nearest to it in (u, v). Its key is the number of pixels that
    its centre already has, plus the centre's firing place; below ``smallest`` pixels the whole dot
    shares one key, so that it appears at once.
    """
    u, v, value = u[members], v[members], np.round(value[members], 9)
    i, j = np.rint(u).astype(np.int64), np.rint(v).astype(np.int64)
    centre = lattice.dot_brick.index(i, j)
    value = _in_one_piece(lattice, members, centre, value)
    within = np.lexsort((-value, centre))
    counts = np.bincount(centre, minlength=lattice.dots)
    starts = np.cumsum(counts) - counts
    place = np.empty(members.size, np.int64)
    place[within] = np.arange(members.size) - np.repeat(starts, counts)
    fire = firing_order(lattice, seed=firing_seed)[centre]
    key = np.where(place < smallest, smallest * fire, place + fire)
    order = np.lexsort((place, key))
    rank = np.arange(members.size)
    if smallest > 1:
        _, group = np.unique(key[order], return_inverse=True)
        rank = np.rint(np.bincount(group, rank) / np.bincount(group)).astype(np.int64)[group]
    return members[order], rank


def _in_one_piece(
    lattice: Lattice,
    members: NDArray[np.int64],
    centre: NDArray[np.int64],
    value: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The values, lowered where needed so that every centre grows edge to edge.

    By its spot value alone a slanting tip or a thin line turns pixels that touch the rest at a
    corner only, and those would be crumbs of their own on the stencil. A pixel's value becomes the
    lowest on the best way to it from its centre's first pixel, and stays below the pixel before.
    """
    brick, count = lattice.pixel_brick, lattice.pixels
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

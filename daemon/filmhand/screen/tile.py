"""The threshold tile: which tone turns each pixel of one period black.

The construction gives every dot of the tile the same area to within one pixel, at every tone,
and the tile as a whole exactly the area asked for; see :mod:`filmhand.screen.growth`.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, Int32Array, Int64Array, UInt16Array
from filmhand.screen.dot_shapes import Dot, DotFunction
from filmhand.screen.growth import Growing, dot_order, dot_positions, ranked
from filmhand.screen.lattice import Lattice, TileBrick
from filmhand.screen.sorting import stable_order
from filmhand.values import dataclass

FULL_TONE = 65535
# Where the dot grid lies against the pixel grid. An off-symmetry place avoids the four- and
# eight-fold ties that would make every dot lopsided in the same way.
_PHASE = (0.137, 0.291)


@dataclass(frozen=True, slots=True)
class ThresholdTile:
    """Thresholds of one period, laid out as a brick.

    Attributes
    ----------
    thresholds : (height, length) uint16, 1..65535; a pixel is ink where its tone, 0..65535, is at
        or above its threshold. So tone 0 is bare, 65535 is solid, and a flat tone t inks exactly
        round(t / 65535 x pixels) pixels of each period.
    brick : how the courses of the tile repeat over the sheet
    """

    thresholds: UInt16Array
    brick: TileBrick

    @classmethod
    def of(cls, ranks: Int64Array, brick: TileBrick) -> ThresholdTile:
        """The tile of ranks 0 .. pixels-1 in brick order, low ranks black first."""
        pixels = ranks.size
        # Smallest tone v with floor(v / 65535 x pixels + 1/2) > rank, in whole numbers.
        thresholds = -((-(2 * ranks + 1) * FULL_TONE) // (2 * pixels))
        return cls(thresholds.astype(np.uint16).reshape(brick.height, brick.length), brick)


def build_tile(
    lattice: Lattice,
    dot: str | DotFunction,
    *,
    smallest_dot: int = 1,
    smallest_shadow_dot: int = 1,
    seed: int = 1,
) -> ThresholdTile:
    """The threshold tile of a screen.

    Parameters
    ----------
    lattice : the dot grid
    dot : the word of a row with a function, or a function of one's own
    smallest_dot, smallest_shadow_dot : pixels; a dot or shadow dot appears whole at this size, and
        tones that would need smaller ones get fewer of them instead, evenly spread
    seed : picks among equal orders

    Returns
    -------
    Tile
        coverage is exact at every tone where whole pixels may come and go, and exact to half a
        smallest dot a tile where dots come and go whole
    """
    spot = Dot.words()[dot].row.function if isinstance(dot, str) else dot
    if spot is None:
        raise ValueError(f"{dot} dots lie on no lattice")
    ranks = rank_pixels(
        lattice, spot, smallest_dot=smallest_dot, smallest_shadow_dot=smallest_shadow_dot, seed=seed
    )
    return ThresholdTile.of(ranks, lattice.pixel_brick)


def rank_pixels(
    lattice: Lattice, spot: DotFunction, *, smallest_dot: int, smallest_shadow_dot: int, seed: int
) -> Int64Array:
    """(pixels,) int64 in brick order: 0 .. pixels-1; see :func:`filmhand.screen.growth.ranked`."""
    return ranked(
        lattice.pixel_brick,
        *_halves(
            lattice,
            spot,
            smallest_dot=smallest_dot,
            smallest_shadow_dot=smallest_shadow_dot,
            seed=seed,
        ),
    )


def _halves(
    lattice: Lattice, spot: DotFunction, *, smallest_dot: int, smallest_shadow_dot: int, seed: int
) -> tuple[Growing, Growing]:
    """The dots and the shadow dots, each of half of the pixels.

    Apart from their ranking, so that of all that is worked out here only they stay in memory.
    """
    u, v = cell_coordinates(lattice)
    value = spot.value(np, 2 * (u - np.rint(u)), 2 * (v - np.rint(v)))
    # Rounded so that the last bit of a float does not decide an order on one processor and not on
    # another.
    first = stable_order(-np.rint(value * 1e9).astype(np.int64))
    half = value.size // 2
    black, bare = first[:half], first[half:]
    positions = dot_positions(lattice)

    def centers(members: Int64Array, middle: tuple[float, float]) -> Int32Array:
        i, j = (
            np.rint(axis[members] - shift).astype(np.int64)
            for axis, shift in ((u, middle[0]), (v, middle[1]))
        )
        return lattice.dot_brick.index(i, j).astype(np.int32)

    dots = Growing(
        black,
        centers(black, spot.dot_center),
        value[black],
        dot_order(positions, seed=seed),
        smallest_dot,
    )
    x, y = spot.shadow_dot_center
    if spot.shadow_dot_value is None:
        value = -value
    else:
        value = spot.shadow_dot_value(
            np, 2 * (u - x - np.rint(u - x)), 2 * (v - y - np.rint(v - y))
        )
    shadow_dots = Growing(
        bare,
        centers(bare, spot.shadow_dot_center),
        value[bare],
        dot_order(positions, seed=seed + 1),
        smallest_shadow_dot,
    )
    return dots, shadow_dots


def cell_coordinates(lattice: Lattice) -> tuple[Float64Array, Float64Array]:
    """Coordinates of each pixel center of the brick, in dots along the two dot vectors."""
    brick = lattice.pixel_brick
    row, column = np.divmod(np.arange(lattice.pixels), brick.length)
    x = column + 0.5 + _PHASE[0]
    y = -(row + 0.5) + _PHASE[1]
    # Solved by elimination in this order of operations, so that all processors get the same bits.
    (a, b), (c, d) = lattice.dot_vectors.T.tolist()
    if abs(c) > abs(a):
        (a, b), (c, d), x, y = (c, d), (a, b), y, x
    factor = c * (1 / a)
    v = (y - factor * x) * (1 / (d - factor * b))
    return (x - b * v) * (1 / a), v

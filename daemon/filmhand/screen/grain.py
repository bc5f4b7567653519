"""The stochastic screen: dots and shadow dots of one size on scattered centers, without an angle.

Centers lie in blue noise, placed by void and cluster (R. Ulichney, The void-and-cluster method for
dither array generation, Proc. SPIE 1913, 1993); as many centers of shadow dots lie in the largest
voids between them. Without centers for the shadow dots the shadows would close from all sides at
once and break into single pixels. Growing from centers instead of pixel by pixel is what makes the
grain coarse enough for a stencil (green noise: D. L. Lau, G. R. Arce, N. C. Gallagher, Proc. IEEE
86(12), 1998).
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.screen.growth import Growing, dot_order, ranked
from filmhand.screen.lattice import SHORTEST_REPEAT_IN, TileBrick
from filmhand.screen.tile import ThresholdTile
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# A tile is at least this many mean spacings wide, or its repetition would show.
_FEWEST_ACROSS = 12
# Sides up to this much longer are tried for a number of dots that gives the lpi best.
_LONGER = 0.1
# Samples per mean spacing of the array on which centers are placed, and the width of the Gaussian
# by which they repel one another, in mean spacings. Ulichney's 1.5 samples with one dot in ten
# (from memory) would be 0.47; this keeps the closest pair farther apart (0.72 of a spacing instead
# of 0.53).
_SAMPLES, _REPULSION = 5, 0.32


@dataclass(frozen=True, slots=True)
class Grain:
    """A torus of whole pixels for scattered dots.

    Attributes
    ----------
    width, height : pixels of its sides
    dots : centers on it, of dots; and as many of shadow dots
    resolution : device pixels per inch
    """

    width: int
    height: int
    dots: int
    resolution: PixelsPerInch

    @property
    def lpi(self) -> float:
        """Mean spacing, as lines per inch: that of a square lattice with as many dots."""
        square_inches = self.width * self.height / (self.resolution.x * self.resolution.y)
        return float((self.dots / square_inches) ** 0.5)

    @property
    def brick(self) -> TileBrick:
        """The torus as a single course of pixels: its sides lean by one pixel to allow that."""
        return TileBrick.of((self.width, 1), (-1, self.height))


def find_grain(lpi: float, resolution: PixelsPerInch) -> Grain:
    """A torus at least half an inch and twelve spacings wide, whose lpi is nearest to the asked.

    Parameters
    ----------
    lpi : mean spacing of the dots as lines per inch, at most a quarter of the resolution
    """
    side = max(SHORTEST_REPEAT_IN, _FEWEST_ACROSS / lpi)
    best: Grain | None = None
    shortest = int(np.ceil(side * resolution.x))
    for width in range(shortest, int(shortest * (1 + _LONGER)) + 1):
        height = round(width * resolution.y / resolution.x)
        dots = round(lpi**2 * width * height / (resolution.x * resolution.y))
        grain = Grain(width, height, dots, resolution)
        if best is None or abs(grain.lpi - lpi) < 0.9 * abs(best.lpi - lpi):
            best = grain
    assert best is not None
    return best


def build_grain(
    grain: Grain, *, smallest_dot: int = 1, smallest_shadow_dot: int = 1, seed: int = 1
) -> ThresholdTile:
    """The threshold tile of a stochastic screen; see :func:`filmhand.screen.tile.build_tile`."""
    dots, shadow_dots = scatter(grain, seed=seed)
    brick = grain.brick
    number = np.arange(brick.length * brick.height)
    sides = np.array([[grain.width, 1], [-1, grain.height]], np.float64)
    row, column = np.divmod(number, brick.length)
    at = np.stack([column + 0.5, row + 0.5])
    places: Float64Array = np.linalg.solve(sides.T, at).T.astype(np.float64) % 1.0
    near_dot, to_dot = _nearest(grain, places, dots)
    near_shadow_dot, to_shadow_dot = _nearest(grain, places, shadow_dots)
    first = np.argsort(np.round(to_dot - to_shadow_dot, 9), kind="stable")
    half = first.size // 2
    black, bare = first[:half], first[half:]
    turns, shadow_turns = dot_order(dots, seed=seed), dot_order(shadow_dots, seed=seed + 1)
    ranks = ranked(
        brick,
        Growing(black, near_dot[black].astype(np.int32), -to_dot[black], turns, smallest_dot),
        Growing(
            bare,
            near_shadow_dot[bare].astype(np.int32),
            -to_shadow_dot[bare],
            shadow_turns,
            smallest_shadow_dot,
        ),
    )
    return ThresholdTile.of(ranks, brick)


def scatter(grain: Grain, *, seed: int) -> tuple[Float64Array, Float64Array]:
    """Centers of dots and shadow dots, each (dots, 2) float64 in 0..1, as shares of the sides."""
    across = grain.lpi * grain.width / grain.resolution.x
    down = grain.lpi * grain.height / grain.resolution.y
    shape = (round(_SAMPLES * down), round(_SAMPLES * across))
    generator = np.random.default_rng(seed)
    field = _Crowding(shape, _REPULSION * _SAMPLES)
    for place in generator.permutation(shape[0] * shape[1])[: grain.dots].tolist():
        field.put(place)
    field.spread(10 * grain.dots)
    dots = field.centers()
    # Twice as many centers lie closer, so they repel one another less far.
    both = _Crowding(shape, _REPULSION * _SAMPLES / 2**0.5)
    for place in np.flatnonzero(field.taken).tolist():
        both.put(place)
    both.fixed = both.taken.copy()
    for _ in range(grain.dots):
        both.put(both.largest_void())
    both.spread(10 * grain.dots)
    both.taken &= ~both.fixed
    return dots, both.centers()


class _Crowding:
    """Centers on a toroidal array, and how crowded each sample is by a Gaussian of each."""

    def __init__(self, shape: tuple[int, int], sigma: float) -> None:
        self._shape = shape
        away = [np.minimum(np.arange(n), n - np.arange(n)) for n in shape]
        square = away[0][:, None] ** 2 + away[1][None, :] ** 2
        kernel = np.exp(-square / (2 * sigma**2))
        # Repeated, so that the kernel around any sample is one window of it.
        self._kernel = np.tile(kernel, (2, 2))
        self._crowd = np.zeros(shape)
        self.taken = np.zeros(shape[0] * shape[1], np.bool_)
        self.fixed = np.zeros_like(self.taken)  # centers that stay where they are

    def put(self, place: int) -> None:
        self.taken[place] = True
        self._crowd += self._around(place)

    def take(self, place: int) -> None:
        self.taken[place] = False
        self._crowd -= self._around(place)

    def largest_void(self) -> int:
        return int(np.where(self.taken, np.inf, self._crowd.ravel()).argmin())

    def tightest_cluster(self) -> int:
        movable = self.taken & ~self.fixed
        return int(np.where(movable, self._crowd.ravel(), -np.inf).argmax())

    def spread(self, most: int) -> None:
        """Move centers from clusters to voids until one would go back where it came from."""
        for _ in range(most):
            place = self.tightest_cluster()
            self.take(place)
            void = self.largest_void()
            self.put(void)
            if void == place:
                return

    def centers(self) -> Float64Array:
        row, column = np.divmod(np.flatnonzero(self.taken), self._shape[1])
        return np.stack([(column + 0.5) / self._shape[1], (row + 0.5) / self._shape[0]], 1)

    def _around(self, place: int) -> Float64Array:
        (height, width), (row, column) = self._shape, divmod(place, self._shape[1])
        return self._kernel[height - row : 2 * height - row, width - column : 2 * width - column]


def _nearest(
    grain: Grain, places: Float64Array, centers: Float64Array
) -> tuple[Int64Array, Float64Array]:
    """The number of the nearest center of each place, and its distance in inches."""
    inches = np.array([grain.width / grain.resolution.x, grain.height / grain.resolution.y])
    cells = int((grain.dots / 2) ** 0.5)  # of two centers each, on average
    home = (centers * cells).astype(np.int64)
    row, column = (places[:, axis] * cells for axis in (1, 0))
    where = row.astype(np.int64) * cells + column.astype(np.int64)
    order = np.argsort(where, kind="stable")
    bounds = np.searchsorted(where[order], np.arange(cells**2 + 1))
    nearest, distance = np.empty(len(places), np.int64), np.empty(len(places))
    for cell in range(cells**2):
        mine = order[bounds[cell] : bounds[cell + 1]]
        at = np.array(divmod(cell, cells))[::-1]
        # No void is as wide as a cell, so the nearest center lies in this one or beside it.
        apart = np.abs(home - at)
        close = np.flatnonzero((np.minimum(apart, cells - apart) <= 1).all(axis=1))
        middle = (at + 0.5) / cells
        here = (places[mine] - middle) * inches
        there = ((centers[close] - middle + 0.5) % 1.0 - 0.5) * inches
        # Of (p - c)^2 = p^2 - 2 p c + c^2 only what depends on c decides.
        best = ((there**2).sum(axis=1) - 2 * (here @ there.T)).argmin(axis=1)
        nearest[mine] = close[best]
        distance[mine] = np.hypot(*(here - there[best]).T)
    return nearest, distance

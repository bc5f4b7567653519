"""The order in which the dots of a tile take their next pixel, or appear at all."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.screen.lattice import Lattice


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

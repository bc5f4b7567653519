"""What a screen covers once every edge of its dots has moved outward by one width, as one curve.

Ink that runs beyond the stencil runs about as far from every edge (M. Coudray, Managing Textile Dot
Gain, Screen Printing: growth of constant width round the dot), so how many points a tone gains
follows from how much edge its dots have: little for few small dots, most in the middle, little
where shadow dots close. For a 50 % checkerboard a width d adds 2 sqrt(2) d lpi of the area.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from filmhand.arrays import Float64Array, Int32Array
from filmhand.screen.dot_shapes import DotFunction
from filmhand.screen.grain import build_grain, find_grain
from filmhand.screen.lattice import Lattice
from filmhand.screen.tile import rank_pixels
from filmhand.units import Resolution
from filmhand.values import dataclass

# A cell is drawn so many samples wide: a step of the width, mixed in between, is then far below
# what a press repeats. Scattered dots need a tile of many cells, each of fewer samples.
_SAMPLES, _SAMPLES_OF_GRAIN = 192, 20
# From the middle of the nearest black sample to the edge of the black: a half for an edge along
# the samples, 0.35 for a slanting one, on the mean.
_INSIDE = 0.4
_REACH = 1, 2  # of a cell; 40 points need a fourth at the most
_GRAIN_LPI = 40  # any ruling: only the shape of scattered dots counts here


@dataclass(frozen=True, slots=True)
class GrownTones:
    """Tones before and after every edge has grown.

    Attributes
    ----------
    before, after : (n,) float64 in 0..1, ``before`` evenly spaced; bare and solid stay
    width : how far each edge moved, in widths of a cell
    """

    before: Float64Array
    after: Float64Array
    width: float


@lru_cache(maxsize=8)
def grown_tones(spot: DotFunction | None, gain: float) -> GrownTones:
    """The curve of a dot shape whose 50 % tone gains ``gain`` (0..0.45) by a growth of its edges.

    Parameters
    ----------
    spot : how the dots grow; None for scattered dots
    gain : what the tone 0.5 gains, as a share of the whole area
    """
    ranks, samples = _cell(spot)
    count, (height, width) = ranks.size, ranks.shape
    reach = samples * _REACH[0] // _REACH[1]
    around = np.pad(ranks, reach, mode="wrap")
    before = np.arange(count + 1) / count
    # Dots of every tone at once: a place is inked from the rank on that the disc around it reaches.
    reached, last = ranks.copy(), ranks
    last_gain = last_radius = 0.0
    for radius, offsets in _rings(reach):
        for down, across in offsets:
            moved = around[reach + down :, reach + across :][:height, :width]
            np.minimum(reached, moved, out=reached)
        gained = np.count_nonzero(reached < count / 2) / count - 0.5
        if gained >= gain:
            break
        last, last_gain, last_radius = reached.copy(), gained, radius
    part = (gain - last_gain) / (gained - last_gain)
    after = (1 - part) * _covered(last) + part * _covered(reached)
    after[0], after[-1] = 0.0, 1.0
    width = last_radius + part * (radius - last_radius) - _INSIDE
    return GrownTones(before, after, max(0.0, width) / samples)


def _cell(spot: DotFunction | None) -> tuple[Int32Array, int]:
    """Ranks 0 .. n-1 of a torus of samples, low ranks black first, and samples to a cell."""
    if spot is not None:
        side = _SAMPLES
        lattice = Lattice(((side, 0), (0, side)), ((1, 0), (0, 1)), Resolution(side, side))
        ranks = rank_pixels(lattice, spot, smallest_dot=1, smallest_shadow_dot=1, seed=1)
        return ranks.reshape(side, side).astype(np.int32), side
    dpi = _GRAIN_LPI * _SAMPLES_OF_GRAIN
    grain = find_grain(_GRAIN_LPI, Resolution(dpi, dpi))
    row, column = np.mgrid[: grain.height, : grain.width]
    thresholds = build_grain(grain).thresholds.ravel()[grain.brick.index(column, row)]
    ranks = np.empty(thresholds.size, np.int64)
    ranks[np.argsort(thresholds, axis=None, kind="stable")] = np.arange(thresholds.size)
    return ranks.reshape(thresholds.shape).astype(np.int32), _SAMPLES_OF_GRAIN


def _rings(reach: int) -> list[tuple[float, list[tuple[int, int]]]]:
    """Distances in samples, rising, up to ``reach``, each with its offsets."""
    down, across = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    square = (down**2 + across**2).ravel()
    order = np.argsort(square, kind="stable")[1:]
    order = order[square[order] <= reach**2]
    rings: list[tuple[float, list[tuple[int, int]]]] = []
    for place in order.tolist():
        radius = float(np.sqrt(square[place]))
        if not rings or radius > rings[-1][0]:
            rings.append((radius, []))
        rings[-1][1].append((int(down.flat[place]), int(across.flat[place])))
    return rings


def _covered(reached: Int32Array) -> Float64Array:
    """The share that is inked when 0, 1, 2 ... samples were black before."""
    counts = np.bincount(reached.ravel(), minlength=reached.size)
    covered: Float64Array = np.concatenate([[0.0], np.cumsum(counts) / reached.size])
    return covered

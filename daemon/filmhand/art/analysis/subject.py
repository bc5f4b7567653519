"""Where the subject of a picture lies within empty borders of bare background or paper.

Empty is what looks like the picture's own edge: one light tint, which may darken a little and
gently towards some side as scans do, with its grain. The picture is looked at in blocks, so that
grain averages out; a few specks that lie alone are taken for dust. Where the edge is no such
background, as in a photograph or on a dark background, nothing is cut; and a little of the border
stays.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Float64Array
from filmhand.art.files.gray import Codes
from filmhand.art.raster import median_of, quantile_of, sums_around

_BLOCKS = 1000  # along the longer side
_FEWEST_BLOCKS = 8
_KEPT_SHARE = 0.01  # of the longer side of the subject, on each side
# Background, as shares of white in coded gray: how dark, how uneven, how grainy it may be, and how
# much of the edge must be it. Measured on the scans of tests/unit/art/degraded.py.
_DARKEST, _UNEVEN, _GRAINIEST = 0.5, 0.35, 0.06
_OF_THE_EDGE = 0.7
# What differs from the background: a block's mean, or its darkest pixel for lines thinner than a
# block.
_MEAN_STEP, _MEAN_GRAIN = 0.025, 5.0
_DARK_STEP, _DARK_GRAIN = 0.2, 2.0
# Dust: alone within so many blocks, at most so large, and not much of it.
_DUST_BLOCKS, _AIR_BLOCKS, _MOST_DUST = 5, 3, 40


def find_subject(coded: Codes) -> tuple[int, int, int, int] | None:
    """The part of a picture inside its empty borders, with a small edge of these.

    Parameters
    ----------
    coded : (H, W) uint16 sRGB-coded gray, 0 black

    Returns
    -------
    (left, top, right, bottom) in pixels, or None where nothing can be cut off
    """
    height, width = coded.shape
    side = max(1, -(-max(height, width) // _BLOCKS))
    mean, darkest = _blocks(coded, side)
    background = _background(mean, darkest)
    if background is None:
        return None
    level, grain, dips = background
    busy = np.abs(mean - level) > max(_MEAN_STEP, _MEAN_GRAIN * grain)
    if side > 1:
        busy |= level - darkest > max(_DARK_STEP, _DARK_GRAIN * dips)
    busy &= ~_dust(busy)
    rows, columns = np.flatnonzero(busy.any(axis=1)), np.flatnonzero(busy.any(axis=0))
    if not rows.size:
        return None
    left, right = int(columns[0]) * side, min(width, (int(columns[-1]) + 1) * side)
    top, bottom = int(rows[0]) * side, min(height, (int(rows[-1]) + 1) * side)
    edge = max(1, round(_KEPT_SHARE * max(right - left, bottom - top)))
    box = (
        max(0, left - edge),
        max(0, top - edge),
        min(width, right + edge),
        min(height, bottom + edge),
    )
    return None if box == (0, 0, width, height) else box


def _blocks(coded: Codes, side: int) -> tuple[Float32Array, Float32Array]:
    """Mean and darkest pixel of each block, 0..1; blocks at the right and foot may be smaller."""
    if side == 1:
        plain = coded.astype(np.float32) / np.float32(65535)
        return plain, plain
    height, width = coded.shape
    starts = np.arange(0, width, side)
    shape = -(-height // side), starts.size
    mean, darkest = np.empty(shape, np.float32), np.empty(shape, np.float32)
    widths = np.diff(np.append(starts, width))
    for row in range(shape[0]):
        strip = coded[row * side : (row + 1) * side]
        sums = np.add.reduceat(strip.sum(axis=0, dtype=np.uint64), starts)
        mean[row] = sums / (65535.0 * len(strip) * widths)
        darkest[row] = np.minimum.reduceat(strip.min(axis=0), starts) / 65535
    return mean, darkest


def _background(
    mean: Float32Array, darkest: Float32Array
) -> tuple[Float32Array, float, float] | None:
    """The level of the background by block, the grain of its means, and how far its pixels dip.

    None where the edge is no plain light background.
    """
    height, width = mean.shape
    if min(height, width) < _FEWEST_BLOCKS:
        return None
    depth = max(1, round(max(height, width) / 200))
    edge = np.ones(mean.shape, np.bool_)
    edge[depth:-depth, depth:-depth] = False
    y, x = np.nonzero(edge)
    value = mean[y, x].astype(np.float64)
    terms = _terms(x / width - 0.5, y / height - 0.5)
    chosen = np.abs(value - median_of(value)) < _UNEVEN
    if chosen.mean() < _OF_THE_EDGE:
        return None
    spread = 0.0
    # A few rounds of least squares among what lies near the surface so far.
    for _ in range(6):
        surface = np.linalg.lstsq(terms[chosen], value[chosen], rcond=None)[0]
        off = np.abs(value - terms @ surface)
        spread = 1.4826 * median_of(off[chosen])
        chosen = off <= max(_MEAN_STEP, 3 * spread)
        if chosen.mean() < _OF_THE_EDGE:
            return None
    across, down = np.arange(width) / width - 0.5, np.arange(height) / height - 0.5
    level = np.empty(mean.shape, np.float32)
    for row in range(height):
        level[row] = _terms(across, np.full(width, down[row])) @ surface
    if level.min() < _DARKEST or np.ptp(level) > _UNEVEN or spread > _GRAINIEST:
        return None
    dips = level[y, x] - darkest[y, x]
    return level, spread, quantile_of(dips[chosen], 0.99)


def _terms(x: Float64Array, y: Float64Array) -> Float64Array:
    """(n, 6): the terms of a surface of second degree."""
    return np.stack([np.ones(x.size), x, y, x * x, x * y, y * y], axis=1)


def _dust(busy: BoolArray) -> BoolArray:
    """The blocks of specks that lie alone; none where there are too many of them to be dust."""
    inner = sums_around(busy, _DUST_BLOCKS // 2)
    outer = sums_around(busy, _DUST_BLOCKS // 2 + _AIR_BLOCKS)
    # Around such a block all that is busy lies within the size of a speck.
    middle = (inner > 0) & (inner == outer)
    dust = busy & (sums_around(middle, _DUST_BLOCKS // 2) > 0)
    return dust if _groups(dust) <= _MOST_DUST else np.zeros_like(busy)


def _groups(dust: BoolArray) -> int:
    """How many specks there are, counted up to one more than are allowed."""
    y, x = np.nonzero(dust)
    count = 0
    while y.size and count <= _MOST_DUST:
        near = (np.abs(y - y[0]) <= _DUST_BLOCKS) & (np.abs(x - x[0]) <= _DUST_BLOCKS)
        y, x, count = y[~near], x[~near], count + 1
    return count

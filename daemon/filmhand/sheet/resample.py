"""Resampling to device pixels, in strips that join without a seam.

A filter is a matrix with a narrow band of weights, so a strip is resampled by two products of
matrices, one across and one down. In double precision the result does not depend on which
processor multiplies, nor on where strips begin.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image

from filmhand.arrays import Float32Array, Float64Array

FloatRows = Callable[[int, int], Float64Array]
Method = Image.Resampling
# Results a product: more of them lets it run at full speed, fewer waste less of it on zeros.
_ACROSS, _DOWN = 64, 16


def _sinc(x: Float64Array, reach: float) -> Float64Array:
    return np.where(np.abs(x) < reach, np.sinc(x), 0.0)


def _cubic(x: Float64Array) -> Float64Array:
    """Keys 1981 (doi 10.1109/TASSP.1981.1163711), a = -1/2."""
    x = np.abs(x)
    near = (1.5 * x - 2.5) * x * x + 1
    far = ((-0.5 * x + 2.5) * x - 4) * x + 2
    return np.where(x < 1, near, np.where(x < 2, far, 0.0))


# Reach and weight by distance in source pixels, as Pillow defines its filters.
_FILTERS: dict[Method, tuple[int, Callable[[Float64Array], Float64Array]]] = {
    Method.LANCZOS: (3, lambda x: _sinc(x, 3) * np.sinc(x / 3)),
    Method.BICUBIC: (2, _cubic),
    Method.BILINEAR: (1, lambda x: np.maximum(0.0, 1 - np.abs(x))),
    Method.HAMMING: (1, lambda x: _sinc(x, 1) * (0.54 + 0.46 * np.cos(np.pi * x))),
}


@dataclass(frozen=True, slots=True)
class _Block:
    """Results first .. stop-1 of one axis: weights (stop - first, until - since) of the sources."""

    first: int
    stop: int
    since: int
    until: int
    weights: Float64Array


@lru_cache(maxsize=8)
def _blocks(count: int, to: int, method: Method, size: int) -> tuple[_Block, ...]:
    """One axis from ``count`` source pixels to ``to`` results, ``size`` results a block."""
    reach, weight_at = _FILTERS[method]
    scale = count / to
    wider = max(1.0, scale)  # the filter's reach grows with reduction, so nothing aliases
    middle = (np.arange(to) + 0.5) * scale
    since = np.maximum(0, (middle - reach * wider + 0.5).astype(np.int64))
    until = np.minimum(count, (middle + reach * wider + 0.5).astype(np.int64))
    blocks = []
    for first in range(0, to, size):
        stop = min(to, first + size)
        a, b = int(since[first]), int(until[stop - 1])
        source = np.arange(a, b)
        weights = weight_at((source + 0.5 - middle[first:stop, None]) / wider)
        weights[(source < since[first:stop, None]) | (source >= until[first:stop, None])] = 0
        weights /= weights.sum(axis=1, keepdims=True)
        blocks.append(_Block(first, stop, a, b, weights))
    return tuple(blocks)


def resample_rows(
    rows: FloatRows,
    size: tuple[int, int],
    to: tuple[int, int],
    *,
    first: int,
    count: int,
    method: Image.Resampling,
) -> Float32Array:
    """Some rows of a picture resampled as a whole.

    Parameters
    ----------
    rows : gives source rows a .. b as (b - a, width) float64
    size, to : (width, height) of the source and of the whole result
    first, count : which rows of the result
    method : LANCZOS, BICUBIC, BILINEAR or HAMMING

    Returns
    -------
    (count, to width) float32, not clipped: filters with negative lobes overshoot at hard edges
    """
    (width, height), (new_width, new_height) = size, to
    down = _blocks(height, new_height, method, _DOWN)[
        first // _DOWN : (first + count - 1) // _DOWN + 1
    ]
    start = down[0].since
    source = rows(start, down[-1].until)
    wide = np.empty((len(source), new_width))
    for block in _blocks(width, new_width, method, _ACROSS):
        np.matmul(
            source[:, block.since : block.until],
            block.weights.T,
            out=wide[:, block.first : block.stop],
        )
    result = np.empty((count, new_width), np.float32)
    for block in down:
        high = block.weights @ wide[block.since - start : block.until - start]
        a, b = max(first, block.first), min(first + count, block.stop)
        result[a - first : b - first] = high[a - block.first : b - block.first]
    return result

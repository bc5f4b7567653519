"""Resampling to device pixels, in strips that join without a seam.

A filter is a matrix with a narrow band of weights, so a strip is resampled by two products of
matrices, one across and one down. Weights are whole multiples of 2**-26; what the codes of a
picture stand for is such of 2**-25, and so is, rounded, what the first product leaves. So every
sum is exact in double precision, in whatever order it is added up, and the result depends neither
on the processor, nor on where strips begin, nor on whether the loop in C runs. Flat pictures stay
exactly flat, as the weights of each result add up to exactly 1.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from PIL import Image

from filmhand.arrays import (
    Float32Array,
    Float64Array,
    Int32Array,
    Int64Array,
    UInt8Array,
    UInt16Array,
)
from filmhand.kernels.loops import compiled
from filmhand.kernels.repeated_levels import RepeatedLevels
from filmhand.values import dataclass

Method = Image.Resampling
# Results a product: more of them lets it run at full speed, fewer waste less of it on zeros.
_ACROSS, _DOWN = 64, 16
# Together with two bits for what lies beyond 1, as filters overshoot, these fill a double's 53.
_VALUE_STEPS, _WEIGHT_STEPS = 2.0**25, 2.0**26
# Adding and taking away 1.5 times 2**52 steps rounds to whole steps.
_ROUNDING = 1.5 * 2.0**52 / _VALUE_STEPS


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
class _Axis:
    """What each result of one axis is made of.

    since : (results,) int32, rising: the first of its sources
    weights : (results, taps) float64, multiples of 1 / _WEIGHT_STEPS that add up to 1
    """

    since: Int32Array
    weights: Float64Array


@lru_cache(maxsize=8)
def _axis(count: int, to: int, method: Method) -> _Axis:
    """One axis from ``count`` source pixels to ``to`` results."""
    if method is Method.BOX:
        return _covered(count, to)
    reach, weight_at = _FILTERS[method]
    scale = count / to
    wider = max(1.0, scale)  # the filter's reach grows with reduction, so nothing aliases
    middle = (np.arange(to) + 0.5) * scale
    since = np.maximum(0, (middle - reach * wider + 0.5).astype(np.int64))
    until = np.minimum(count, (middle + reach * wider + 0.5).astype(np.int64))
    taps = int((until - since).max())
    first = np.minimum(since, count - taps)
    source = first[:, None] + np.arange(taps)
    weights = weight_at((source + 0.5 - middle[:, None]) / wider)
    weights[(source < since[:, None]) | (source >= until[:, None])] = 0
    return _in_steps(first, weights)


def _covered(count: int, to: int) -> _Axis:
    """The part of each source pixel that each result covers."""
    edges = np.arange(to + 1) * count
    since, until = edges[:-1] // to, -(-edges[1:] // to)
    taps = int((until - since).max())
    first = np.minimum(since, count - taps)
    source = first[:, None] + np.arange(taps)
    beyond = np.minimum((source + 1) * to, edges[1:, None])
    weights = np.maximum(0, beyond - np.maximum(source * to, edges[:-1, None]))
    return _in_steps(first, weights.astype(np.float64))


def _in_steps(first: Int64Array, weights: Float64Array) -> _Axis:
    weights /= weights.sum(axis=1, keepdims=True)
    # The sums up to each weight are rounded, not the weights, so that all add up to exactly 1.
    steps = np.diff(np.rint(np.cumsum(weights, axis=1) * _WEIGHT_STEPS), axis=1, prepend=0.0)
    return _Axis(first.astype(np.int32), np.ascontiguousarray(steps / _WEIGHT_STEPS))


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
    """One axis as matrices of ``size`` results each."""
    axis = _axis(count, to, method)
    taps = np.arange(axis.weights.shape[1])
    blocks = []
    for first in range(0, to, size):
        stop = min(to, first + size)
        at = axis.since[first:stop, None] + taps
        since, until = int(at[0, 0]), int(at[-1, -1]) + 1
        weights = np.zeros((stop - first, until - since))
        np.put_along_axis(weights, at - since, axis.weights[first:stop], axis=1)
        blocks.append(_Block(first, stop, since, until, weights))
    return tuple(blocks)


class Resampled:
    """A picture at another size, given in strips; several threads may ask for them.

    Parameters
    ----------
    codes : (H, W) uint16
    values : (65536,) float64, -1 .. 1: what each code stands for, taken to the nearest 2**-25
    to : (width, height) of the whole result
    method : LANCZOS, BICUBIC, BILINEAR or HAMMING; BOX for the very part of each pixel that a
        result covers
    """

    def __init__(
        self,
        codes: UInt16Array,
        values: Float64Array,
        to: tuple[int, int],
        *,
        method: Image.Resampling,
    ) -> None:
        self._codes = np.ascontiguousarray(codes)
        self._values = np.rint(values * _VALUE_STEPS) / _VALUE_STEPS
        self._to = to
        self._method = method

    def rows(self, first: int, count: int) -> Float32Array:
        """Rows first .. first + count - 1 of the result.

        Returns
        -------
        (count, to width) float32, not clipped: filters with negative lobes overshoot at hard edges
        """
        result = np.empty((count, self._to[0]), np.float32)
        if compiled() is None:
            self._multiply(first, result)
        else:
            self._run(first, count, result)
        return result

    def bits(self, first: int, levels: RepeatedLevels, *, lead: int) -> UInt8Array:
        """As many rows as the levels are for, cut and packed at once; only with the loop in C.

        Parameters
        ----------
        first : row of the result
        levels : what each pixel of these rows is compared with
        lead : 0 .. 7, how many bits of 0 come before the first column

        Returns
        -------
        (rows, ceil((lead + to width) / 8)) uint8, most significant bit first, 1 = ink, pad bits 0
        """
        count = len(levels.starts)
        packed = np.empty((count, (lead + self._to[0] + 7) // 8), np.uint8)
        self._run(first, count, packed, (*levels, lead))
        return packed

    def _run(
        self,
        first: int,
        count: int,
        out: Float32Array | UInt8Array,
        cuts: tuple[object, ...] | None = None,
    ) -> None:
        loops = compiled()
        assert loops is not None
        (height, width), (new_width, new_height) = self._codes.shape, self._to
        across = _axis(width, new_width, self._method)
        down = _axis(height, new_height, self._method)
        since, weights = down.since[first : first + count], down.weights[first : first + count]
        top = int(since[0])
        loops.resample(
            self._codes[top : int(since[-1]) + weights.shape[1]],
            self._values,
            across.since,
            across.weights,
            since - np.int32(top),
            weights,
            out,
            width,
            cuts,
        )

    def _multiply(self, first: int, result: Float32Array) -> None:
        """What the loop in C does, by products of matrices."""
        (height, width), (new_width, new_height) = self._codes.shape, self._to
        count = len(result)
        down = _blocks(height, new_height, self._method, _DOWN)[
            first // _DOWN : (first + count - 1) // _DOWN + 1
        ]
        start = down[0].since
        source = self._values[self._codes[start : down[-1].until]]
        wide = np.empty((len(source), new_width))
        for block in _blocks(width, new_width, self._method, _ACROSS):
            np.matmul(
                source[:, block.since : block.until],
                block.weights.T,
                out=wide[:, block.first : block.stop],
            )
        wide += _ROUNDING
        wide -= _ROUNDING
        for block in down:
            high = block.weights @ wide[block.since - start : block.until - start]
            a, b = max(first, block.first), min(first + count, block.stop)
            result[a - first : b - first] = high[a - block.first : b - block.first]

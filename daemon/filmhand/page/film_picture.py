"""A film made as small as the proof shows it, with the light that the eye sees."""

from __future__ import annotations

from math import ceil

import numpy as np
from PIL import Image

from filmhand.arrays import Float32Array, Float64Array, Int32Array
from filmhand.film.bits import BitSheet, ink_in_boxes
from filmhand.kernels.loops import CompiledLoops, compiled
from filmhand.speaking_pool import SpeakingPool
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

_ROWS_AT_ONCE = 256
_PARTS = 2  # of a film, that are made smaller side by side
_LOBES = 3.0  # of Lanczos's filter
_MOST_ROWS = 255  # of a box, that the compiled loop counts in a byte


def light_seen(bits: BitSheet, resolution: PixelsPerInch, size: tuple[int, int]) -> Float32Array:
    """The light that a film lets through, (height, width) float32, 0..1 and a little beyond.

    size : width and height of the picture
    """
    # Averaged to twice the picture's size and then reduced with a proper filter: averaging all the
    # way would let the dots beat with the picture's own pixels.
    factor = max(1, max(bits.width, bits.height) // (2 * max(size)))
    coarser = max(resolution.x, resolution.y)
    across = max(1, round(factor * resolution.x / coarser))
    down = max(1, round(factor * resolution.y / coarser))
    loops = compiled()
    is_smaller = size[0] < bits.width // across and size[1] < bits.height // down
    if loops is None or not is_smaller or down > _MOST_ROWS:
        return _reduced_by_pillow(bits, size, across, down)
    return _reduced_by_loops(loops, bits, size, across, down)


def _reduced_by_pillow(
    bits: BitSheet, size: tuple[int, int], across: int, down: int
) -> Float32Array:
    width, height = bits.width // across, bits.height // down
    light = np.empty((height, width), np.float32)
    # Many rows at a time: the film is being coded beside this, and each step waits for its turn.
    rows = max(1, _ROWS_AT_ONCE // down)
    for top in range(0, height, rows):
        count = min(rows, height - top)
        rows_here = bits.read(top * down, count * down)
        ink = ink_in_boxes(rows_here, skip=0, columns=width, across=across, down=down)
        light[top : top + count] = 1 - ink / (across * down)
    # Light averages, so the mean of the light is what the eye sees; sRGB codes it.
    return np.asarray(Image.fromarray(light).resize(size, Image.Resampling.LANCZOS))


def _reduced_by_loops(
    loops: CompiledLoops, bits: BitSheet, size: tuple[int, int], across: int, down: int
) -> Float32Array:
    """The same, but for the last bit of a float where Pillow filters down before it does across."""
    width, height = bits.width // across, bits.height // down
    light = (1 - np.arange(across * down + 1) / (across * down)).astype(np.float32)
    across_it, down_it = _filter(width, size[0]), _filter(height, size[1])
    seen = np.empty((size[1], size[0]), np.float32)
    rows = max(1, _ROWS_AT_ONCE // down)
    ends = down_it.first + down_it.count

    def reduce_part(done: int, stop: int) -> None:
        """Make rows ``done`` to ``stop`` - 1 of the picture."""
        begin, end, held = int(down_it.first[done]), int(ends[stop - 1]), 0
        # What is filtered across is let go of as soon as all is made that it is a part of.
        between = np.empty((rows + down_it.weight.shape[1], size[0]), np.float32)
        for top in range(begin, end, rows):
            part = between[held : held + min(rows, end - top)]
            loops.reduce_bits(
                bits.read(top * down, len(part) * down),
                *(bits.row_bytes, across, down, width, light),
                *across_it.told,
                part,
                size[0],
            )
            held += len(part)
            made = min(stop, int(np.searchsorted(ends, begin + held, side="right")))
            if made > done:
                ready, room = down_it.part(done, made, begin), seen[done:made]
                loops.reduce_columns(between[:held], size[0], *ready.told, room, made - done)
                done = made
            gone = held if done == stop else int(down_it.first[done]) - begin
            if gone > 0:
                between[: held - gone] = between[gone:held].copy()
                begin, held = begin + gone, held - gone

    parts = min(_PARTS, size[1])
    edges = [size[1] * k // parts for k in range(parts + 1)]
    with SpeakingPool(parts) as pool:
        list(pool.map(reduce_part, edges[:-1], edges[1:]))
    return seen


@dataclass(frozen=True, slots=True)
class _Filter:
    """For each output its first input, how many it has, (outputs,) int32, and their weights.

    ``weight`` is (outputs, taps) float64.
    """

    first: Int32Array
    count: Int32Array
    weight: Float64Array

    @property
    def told(self) -> tuple[Int32Array, Int32Array, Float64Array, int]:
        """As the compiled loops are told of it."""
        return self.first, self.count, self.weight, self.weight.shape[1]

    def part(self, begin: int, end: int, gone: int) -> _Filter:
        """Some of the outputs, where so many inputs at the beginning are not there any more."""
        return _Filter(
            self.first[begin:end] - np.int32(gone), self.count[begin:end], self.weight[begin:end]
        )


def _filter(inputs: int, outputs: int) -> _Filter:
    """Lanczos's filter with three lobes that makes fewer outputs of so many inputs.

    C. E. Duchon, Lanczos filtering in one and two dimensions, Journal of Applied Meteorology 18
    (1979) 1016-1022.
    """
    scale = inputs / outputs
    support = _LOBES * scale
    middle = (np.arange(outputs) + 0.5) * scale
    first = np.maximum((middle - support + 0.5).astype(np.int32), 0)
    last = np.minimum((middle + support + 0.5).astype(np.int32), inputs)
    taps = np.arange(2 * ceil(support) + 1)
    place = (taps + first[:, None] - middle[:, None] + 0.5) * (1 / scale)
    inside = (taps < (last - first)[:, None]) & (place >= -_LOBES) & (place < _LOBES)
    weight = np.where(inside, _sinc(place) * _sinc(place / _LOBES), 0.0)
    total = np.cumsum(weight, axis=1)[:, -1:]  # added up one after another, as Pillow does
    return _Filter(first, (last - first).astype(np.int32), weight / total)


def _sinc(x: Float64Array) -> Float64Array:
    turned = np.pi * np.where(x == 0, 1.0, x)
    value: Float64Array = np.where(x == 0, 1.0, np.sin(turned) / turned)
    return value

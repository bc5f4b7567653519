"""The narrowest strokes and gaps of line art, by openings with a disc.

Opening a shape with a disc keeps what the disc can sweep and loses what is narrower
(G. Matheron, Random Sets and Integral Geometry, Wiley, 1975). What is lost at corners and at the
tapered ends of strokes is not narrow in the stencil's sense, so everything within one disc of
what survived, reached inside the shape, is forgiven.

All work is on packed rows, eight pixels a byte, in strips with enough rows around them that the
result does not depend on where the strips are cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor, sqrt

import numpy as np
from numpy.typing import NDArray

from filmhand.units import Resolution

Packed = NDArray[np.uint8]
ReadRows = Callable[[int, int], Packed]
_STRIP = 512


@dataclass(frozen=True, slots=True)
class Disc:
    """A digital disc: rows of pixels whose centres lie inside a circle of a given diameter.

    Attributes
    ----------
    spans : (first column, length) of each row, from the top
    """

    spans: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, across: int, down: int) -> Disc:
        """The disc ``across`` pixels wide and ``down`` pixels high."""
        radius = 0.5 - 0.05 / max(across, down)
        spans = []
        for row in range(down):
            y = (row + 0.5) / down - 0.5
            half = sqrt(max(0.0, radius * radius - y * y)) * across
            first = ceil((across - 1) / 2 - half - 1e-9)
            length = across - 2 * first
            if length > 0:
                spans.append((first, length))
        return cls(tuple(spans))


@dataclass(frozen=True, slots=True)
class Narrowness:
    """How narrow the shapes of one colour are.

    Attributes
    ----------
    width_um : the widest disc under whose opening no more than the allowed share vanishes
    at_least : True where even the widest disc tried lost no more than that
    """

    width_um: float
    at_least: bool


def narrowest(
    read: ReadRows,
    size: tuple[int, int],
    *,
    resolution: Resolution,
    ink: bool,
    up_to_um: float,
    near_um: float,
    allowed: float = 0.005,
) -> Narrowness:
    """The narrowest stroke (``ink``) or gap of a bitmap.

    Parameters
    ----------
    read : gives rows a .. b of the area as packed bits, 1 = ink, MSB first
    size : (width, height) of the area in pixels
    ink : measure strokes; otherwise gaps
    up_to_um : the widest disc that is tried
    near_um : gaps count only within this distance of ink
    allowed : share of the ink (of the gap area near ink) that may vanish
    """
    pixel = max(resolution.pixel_um())
    widest = max(1, ceil(up_to_um / pixel))
    low, high = 0, widest + 1  # low loses little, high loses much
    while high - low > 1:
        middle = (low + high) // 2
        lost, total = _vanishing(
            read, size, resolution=resolution, ink=ink, disc_um=middle * pixel, near_um=near_um
        )
        if lost > allowed * total:
            high = middle
        else:
            low = middle
    return Narrowness(low * pixel, low == widest)


def _vanishing(
    read: ReadRows,
    size: tuple[int, int],
    *,
    resolution: Resolution,
    ink: bool,
    disc_um: float,
    near_um: float,
) -> tuple[int, int]:
    """Pixels that vanish under the opening, and pixels that count."""
    height = size[1]
    across, down = (max(1, round(disc_um / side)) for side in resolution.pixel_um())
    disc = Disc.of(across, down)
    steps = max(across, down)
    near = 0 if ink else max(1, floor(near_um / max(resolution.pixel_um())))
    halo = 3 * steps + near + 2
    lost = total = 0
    for top in range(0, height, _STRIP):
        bottom = min(height, top + _STRIP)
        shape, inside = _padded(read, size, top - halo, bottom + halo, ink=ink, side=steps)
        kept = _forgiven(_opened(shape, disc), shape, steps)
        counted = shape if ink else shape & _grown(~shape & inside, near)
        core = slice(halo, halo + bottom - top)
        total += _count((counted & inside)[core])
        lost += _count((counted & inside & ~kept)[core])
    return lost, total


def _padded(
    read: ReadRows, size: tuple[int, int], top: int, bottom: int, *, ink: bool, side: int
) -> tuple[Packed, Packed]:
    """The shape with its surroundings set, and the mask of what lies inside the area.

    Beyond the area the shape is taken to go on, for at least ``side`` columns left and right, so
    that a shape cut by the border is not narrow because of the cut.
    """
    width, height = size
    row_bytes, beside = (width + 7) // 8, side // 8 + 1
    inside = np.zeros((bottom - top, row_bytes + 2 * beside), np.uint8)
    first, stop = max(0, top), min(height, bottom)
    rows = slice(first - top, stop - top)
    inside[rows, beside : beside + row_bytes] = 255
    if width % 8:
        inside[rows, beside + row_bytes - 1] = (0xFF << (8 - width % 8)) & 0xFF
    bits = np.zeros_like(inside)
    bits[rows, beside : beside + row_bytes] = read(first, stop)
    shape = bits if ink else ~bits
    return (shape & inside) | ~inside, inside


def _left(bits: Packed, count: int) -> Packed:
    """Every pixel takes the value ``count`` columns to its right."""
    whole, part = divmod(count, 8)
    moved: Packed = np.zeros_like(bits)
    if whole:
        moved[:, :-whole] = bits[:, whole:]
    else:
        moved[:] = bits
    if part:
        following = np.zeros_like(moved)
        following[:, :-1] = moved[:, 1:]
        np.left_shift(moved, part, out=moved)
        np.right_shift(following, 8 - part, out=following)
        moved |= following
    return moved


def _right(bits: Packed, count: int) -> Packed:
    """Every pixel takes the value ``count`` columns to its left."""
    whole, part = divmod(count, 8)
    moved = np.zeros_like(bits)
    if whole:
        moved[:, whole:] = bits[:, :-whole]
    else:
        moved[:] = bits
    if part:
        before = np.zeros_like(moved)
        before[:, 1:] = moved[:, :-1]
        np.right_shift(moved, part, out=moved)
        np.left_shift(before, 8 - part, out=before)
        moved |= before
    return moved


def _spans(
    bits: Packed,
    lengths: set[int],
    shift: Callable[[Packed, int], Packed],
    combine: Callable[[Packed, Packed], Packed],
) -> dict[int, Packed]:
    """``bits`` combined with its next length-1 shifts, for each length."""
    result: dict[int, Packed] = {}
    done, reached = bits, 1
    for length in sorted(lengths):
        while reached < length:
            step = min(reached, length - reached)
            done = combine(done, shift(done, step))
            reached += step
        result[length] = done
    return result


def _opened(shape: Packed, disc: Disc) -> Packed:
    """The part of the shape that the disc can sweep."""
    lengths = {length for _, length in disc.spans}
    fits = np.full_like(shape, 255)
    worn = _spans(shape, lengths, _left, np.bitwise_and)
    for row, (first, length) in enumerate(disc.spans):
        line = _left(worn[length], first)
        fits[: len(fits) - row] &= line[row:]
        fits[len(fits) - row :] = 0
    swept = np.zeros_like(shape)
    spread = _spans(fits, lengths, _right, np.bitwise_or)
    for row, (first, length) in enumerate(disc.spans):
        line = _right(spread[length], first)
        swept[row:] |= line[: len(fits) - row]
    return swept


def _forgiven(kept: Packed, shape: Packed, steps: int) -> Packed:
    """``kept`` grown within the shape, by one pixel at each step, corners every second time."""
    for step in range(steps):
        sides = kept | _left(kept, 1) | _right(kept, 1)
        grown = sides.copy()
        source = sides if step % 2 else kept
        grown[1:] |= source[:-1]
        grown[:-1] |= source[1:]
        kept = grown & shape
    return kept


def _grown(bits: Packed, reach: int) -> Packed:
    """All pixels within ``reach`` rows and columns of a set pixel."""
    wide = _spans(bits, {2 * reach + 1}, _right, np.bitwise_or)[2 * reach + 1]
    wide = _left(wide, reach)
    done, reached = wide, 1
    while reached < 2 * reach + 1:
        step = min(reached, 2 * reach + 1 - reached)
        further = done.copy()
        further[step:] |= done[:-step]
        done, reached = further, reached + step
    moved = np.zeros_like(done)
    moved[: len(done) - reach] = done[reach:]
    return moved


def _count(bits: Packed) -> int:
    return int(np.bitwise_count(bits).sum(dtype=np.int64))

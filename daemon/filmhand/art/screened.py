"""Finds the dots of an art that was screened already: a print that was scanned, or a film's bits.

Dots on a lattice show as two sharp peaks of the spectrum, equally far out and at right angles. The
limits were set on pictures screened on purpose (the tests hold them); they have no other source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filmhand.art.grey import WHITE, Codes

_SIDE = 256
# Middles of the windows, in shares of the room that is left beside one.
_PLACES = ((0.5, 0.5), (0.2, 0.2), (0.2, 0.8), (0.8, 0.2), (0.8, 0.8))
_SHORTEST, _LONGEST = 2.2, 26.0  # periods in pixels
_SEARCHED = 64.0  # a stronger lattice up to here speaks against dots
_LEAST_PEAK = 400.0  # times the middle of its ring, in power
_RIGHT_ANGLE = math.radians(4)
_SAME_LENGTH = 0.06
_LEAST_CONTRAST = 0.02
_LEAST_SHARE = 0.001  # of the window's power, in one peak


@dataclass(frozen=True, slots=True)
class FoundScreen:
    """The screen that an art was printed with.

    Attributes
    ----------
    period_px : pixels of the art from one row of dots to the next
    angle : degrees counter-clockwise as a viewer sees it, 0 <= angle < 90
    strength : power of the weaker peak over the middle of its ring
    """

    period_px: float
    angle: float
    strength: float


def find_screen(coded: Codes) -> FoundScreen | None:
    """The lattice of dots in an art, or None.

    Five windows of 256 pixels are looked at, at full size, so the time does not grow with
    the art.

    coded : (H, W) uint16.
    """
    side = min(_SIDE, *coded.shape)
    if side < 48:
        return None
    found = [one for window in _windows(coded, side) if (one := _in_window(window)) is not None]
    if len(found) < 3:
        return None
    middle = sorted(found, key=lambda one: one.period_px)[len(found) // 2]
    alike = [one for one in found if _alike(one, middle)]
    if len(alike) < 0.7 * len(found):
        return None
    return FoundScreen(
        float(np.mean([one.period_px for one in alike])),
        # Around the middle one, since 89 degrees and 1 are near.
        float(np.mean([_near(one.angle, middle.angle) for one in alike])) % 90,
        float(np.median([one.strength for one in alike])),
    )


def _windows(coded: Codes, side: int) -> Iterator[NDArray[np.float32]]:
    down, across = (whole - side for whole in coded.shape)
    for y, x in _PLACES:
        top, left = int(y * down), int(x * across)
        window = coded[top : top + side, left : left + side]
        yield window.astype(np.float32) / np.float32(WHITE)


def _near(angle: float, other: float) -> float:
    return other + (angle - other + 45) % 90 - 45


def _alike(one: FoundScreen, other: FoundScreen) -> bool:
    turned = abs(_near(one.angle, other.angle) - other.angle)
    return abs(one.period_px / other.period_px - 1) < 0.06 and turned < 4


def _in_window(window: NDArray[np.float32]) -> FoundScreen | None:
    side = len(window)
    if float(window.std()) < _LEAST_CONTRAST:
        return None
    taper = np.hanning(side).astype(np.float32)
    power = np.abs(np.fft.rfft2((window - window.mean()) * taper[:, None] * taper)) ** 2
    power = np.fft.fftshift(power, axes=0)
    plane = _plane(side)
    usable = (plane.radius > side / _SEARCHED) & (plane.radius < side / _SHORTEST)
    score = np.where(usable, power / plane.middles(power), 0)
    weight = np.where(usable, power, 0)
    for _ in range(4):
        place = np.unravel_index(int(np.argmax(weight)), weight.shape)
        pair = _partner(power, score, place, side)
        if pair is not None:
            (x, y), strength = pair
            period = side / math.hypot(x, y)
            if period > _LONGEST or power[place] < _LEAST_SHARE * float(power.sum()):
                return None
            return FoundScreen(period, math.degrees(math.atan2(-y, x)) % 90, strength)
        weight[_around(place, 3)] = 0
    return None


def _around(place: tuple[np.intp, ...], reach: int) -> tuple[slice, ...]:
    return tuple(slice(max(0, int(at) - reach + 1), int(at) + reach) for at in place)


@dataclass(frozen=True, slots=True)
class _Plane:
    """The half plane of a window's spectrum, sorted into rings four wide."""

    radius: NDArray[np.float64]
    order: NDArray[np.int64]
    ends: NDArray[np.int64]

    def middles(self, power: NDArray[np.float64]) -> NDArray[np.float64]:
        """The median power of the ring that each place lies in."""
        in_order = power.ravel()[self.order]
        out = np.empty_like(in_order)
        for a, b in zip(self.ends, self.ends[1:], strict=False):
            if b > a:
                out[a:b] = np.median(in_order[a:b])
        middle = np.empty_like(out)
        middle[self.order] = np.maximum(out, 1e-9)
        return middle.reshape(power.shape)


@lru_cache(maxsize=2)
def _plane(side: int) -> _Plane:
    v, u = np.mgrid[-(side // 2) : side - side // 2, 0 : side // 2 + 1]
    radius = np.hypot(u, v)
    order = np.argsort(radius, axis=None, kind="stable")
    edges = np.arange(0, radius.max() + 4, 4.0)
    ends = np.append(np.searchsorted(radius.ravel()[order], edges), radius.size)
    return _Plane(radius, order, ends)


def _partner(
    power: NDArray[np.float64], score: NDArray[np.float64], place: tuple[np.intp, ...], side: int
) -> tuple[tuple[float, float], float] | None:
    """The peak's exact place (x, y) and the weaker strength of it and its partner, or None."""
    x, y = _exact(power, int(place[0]), int(place[1]), side)
    length = math.hypot(x, y)
    # A quarter turn on; the other half of the plane mirrors this one.
    px, py = (-y, x) if y <= 0 else (y, -x)
    row, column = round(py) + side // 2, round(px)
    if not (2 <= row < score.shape[0] - 2 and 0 <= column < score.shape[1] - 2):
        return None
    reach = 2
    top, left = row - reach, max(0, column - reach)
    around = score[top : row + reach + 1, left : column + reach + 1]
    r, c = np.unravel_index(int(np.argmax(around)), around.shape)
    strength = float(min(around[r, c], score[place[0], place[1]]))
    if strength < _LEAST_PEAK:
        return None
    qx, qy = _exact(power, top + int(r), left + int(c), side)
    across = abs(x * qx + y * qy) / max(1e-9, length * math.hypot(qx, qy))
    one_bin = 1.0 / length
    if across > math.sin(_RIGHT_ANGLE) + one_bin:
        return None
    if abs(math.hypot(qx, qy) / length - 1) > _SAME_LENGTH + one_bin:
        return None
    return (x, y), strength


def _exact(power: NDArray[np.float64], row: int, column: int, side: int) -> tuple[float, float]:
    """The centre of gravity of a peak's amplitude, (x, y) in cycles a window."""
    top, left = max(0, row - 1), max(0, column - 1)
    part = np.sqrt(power[top : row + 2, left : column + 2])
    v, u = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    total = float(part.sum())
    return float((u * part).sum()) / total, float((v * part).sum()) / total - side // 2

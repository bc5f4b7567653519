"""The slow beat between the dots and the threads: moire, from frequency vectors.

A mesh order and a dot order that nearly coincide leave a low difference frequency, which the eye
sees as bands (I. Amidror, The Theory of the Moire Phenomenon, vol. I, 2nd ed., Springer, 2009,
ch. 2). A tensioned mesh is stretched by an amount that nobody measures, so the worst period over
the whole interval counts. The mesh is taken to lie straight in its frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MM_PER_INCH = 25.4
LARGEST_STRETCH = 0.05
# A lock is an endless period; what is longer than any film is reported as this.
LONGEST_MM = 1000.0
# How much longer than the very best a beat may be for its angle to be worth naming.
_NEAR_BEST = 1.6
_MESH_ORDERS = np.array([(1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, -1.0)])


@dataclass(frozen=True, slots=True)
class Beat:
    """Beat periods in millimetres: on the slack mesh, and the worst while it is stretched."""

    period_mm: float
    worst_period_mm: float


def screen_vectors(lpi: float, angle: float, *, lines: bool = False) -> NDArray[np.float64]:
    """(k, 2) float64: the frequency vectors of a screen, lines per inch, y up.

    Two for dots; one for lines, at right angles to their direction ``angle``.
    """
    direction = np.radians(angle)
    across = [-np.sin(direction), np.cos(direction)]
    if lines:
        return lpi * np.array([across])
    return lpi * np.array([[np.cos(direction), np.sin(direction)], across])


def beat_with_mesh(vectors: NDArray[np.float64], threads_per_inch: float) -> Beat:
    """The slowest beat between a screen and a square mesh.

    Parameters
    ----------
    vectors : (1 or 2, 2) float64, the screen's frequency vectors, per inch
    threads_per_inch : of the slack mesh
    """
    orders = _orders(vectors, threads_per_inch)
    slack = _MESH_ORDERS * threads_per_inch
    tight = slack * (1 - LARGEST_STRETCH)
    apart = orders[:, None, :] - slack[None]
    lowest = float(np.hypot(apart[..., 0], apart[..., 1]).min())
    # Distance from each dot order to the segment that each mesh order runs along as it stretches.
    along = (tight - slack)[None]
    share = np.clip((apart * along).sum(-1) / (along * along).sum(-1), 0, 1)
    nearest = apart - share[..., None] * along
    worst = float(np.hypot(nearest[..., 0], nearest[..., 1]).min())
    return Beat(_period(lowest), _period(worst))


def better_angles(
    lpi: float, angle: float, threads_per_inch: float, *, lines: bool = False, count: int = 3
) -> list[float]:
    """Angles, in steps of half a degree, with about the shortest worst beat, nearest first.

    Only angles whose worst beat is clearly shorter than at ``angle`` are named; there may be none.
    """
    turn = 180.0 if lines else 90.0
    tried = np.arange(0, turn, 0.5)
    worst = np.array(
        [
            beat_with_mesh(screen_vectors(lpi, a, lines=lines), threads_per_inch).worst_period_mm
            for a in tried
        ]
    )
    now = beat_with_mesh(screen_vectors(lpi, angle, lines=lines), threads_per_inch)
    before, after = np.roll(worst, 1), np.roll(worst, -1)
    valley = np.flatnonzero((worst <= before) & (worst <= after))
    near_best = worst[valley] <= min(_NEAR_BEST * worst.min(), 0.8 * now.worst_period_mm)
    best = valley[near_best]
    apart = np.abs((tried[best] - angle + turn / 2) % turn - turn / 2)
    return [float(a) for a in tried[best[np.argsort(apart, kind="stable")]][:count]]


def _orders(vectors: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    """Every combination of the screen's vectors that can come near a mesh order."""
    furthest = int(np.ceil(1.5 * reach / np.hypot(*vectors[0]))) + 1
    steps = np.arange(-furthest, furthest + 1)
    if len(vectors) == 1:
        return steps.astype(np.float64)[:, None] * vectors[:1]
    i, j = (axis.ravel() for axis in np.meshgrid(steps, steps))
    orders: NDArray[np.float64] = np.stack([i, j], 1).astype(np.float64) @ vectors
    return orders


def _period(frequency: float) -> float:
    return min(LONGEST_MM, MM_PER_INCH / frequency) if frequency > 0 else LONGEST_MM

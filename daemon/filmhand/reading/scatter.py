"""How far tones lie from the smooth curve of their neighbors, which tells how far they err.

What repeats with the pixels of a camera, what JPEG left out and what lies on a print moves whole
patches, and so the parts of a patch agree on it. A press curve is smooth over a few tones: how far
each tone lies from the curve through two at each side tells such errors (as R. T. Birge, The
calculation of errors by the method of least squares, Phys. Rev. 40, 1932, takes errors from what
readings differ by, where that is more than was said of them).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from filmhand.arrays import Float64Array, Int64Array
from filmhand.reading.reading import PatchReading

_BESIDE = 2  # tones at each side that the curve goes through
_FEWEST = 9
_NEIGHBORS = 3.0  # tones: how far what is seen of one counts for another, as a standard deviation
_LEAST = 0.1  # points: no scatter is less
# JPEG blurs colors in most pictures, and in few of them one color was seen sharper than another.
# With this all tones of the simulated pictures in tests/benchmarks/wedge_reading.py lie within 1.5
# points; with 3, four of a thousand do not.
_LUMA_MORE = 8.0
_MOST_SPREADS = 9.0  # squares over their median: more is a bend of the curve


def tone_scatter(tones: Sequence[PatchReading]) -> Float64Array:
    """(n,) float64, points: how far each of n tones errs by what it and its neighbors differ by.

    Parameters
    ----------
    tones : by rising film tone, each once; fewer than nine tell nothing, which is 0 for each
    """
    film, seen = np.array([(one.film_pct, one.measured_pct) for one in tones]).T
    count = len(film)
    if count < _FEWEST:
        return np.zeros(count)
    middle = np.arange(_BESIDE, count - _BESIDE)
    square = np.array([_off(film, seen, int(at)) for at in middle])
    square = np.minimum(square, _MOST_SPREADS * np.median(square))
    return np.sqrt(_over_neighbors(square, middle, count))


def _over_neighbors(seen: Float64Array, at: Int64Array, count: int) -> Float64Array:
    """(count,) what was seen of some of so many tones, spread over their neighbors."""
    near = np.exp(-0.5 * ((np.arange(count)[:, None] - at) / _NEIGHBORS) ** 2)
    spread: Float64Array = near @ seen / near.sum(axis=1)
    return spread


def _off(film: Float64Array, seen: Float64Array, at: int) -> float:
    """The square by which a tone differs from the cubic through its neighbors, for one reading."""
    around = [at + one for one in range(-_BESIDE, _BESIDE + 1) if one]
    share = [
        np.prod([(film[at] - film[k]) / (film[i] - film[k]) for k in around if k != i])
        for i in around
    ]
    off = seen[at] - float(np.dot(share, seen[around]))
    return float(off**2 / (1 + np.dot(share, share)))


def with_scatter(tones: Sequence[PatchReading]) -> list[PatchReading]:
    """The same tones, their errors no less than what neighbors differ by makes them."""
    return [
        replace(one, error_pct=max(one.error_pct, float(more)))
        for one, more in zip(tones, tone_scatter(tones), strict=True)
    ]


def both_ways(
    luma: Sequence[PatchReading], light: Sequence[PatchReading]
) -> tuple[list[PatchReading], float]:
    """Tones that were told by luma and by weighed light as one, and how much luma counts, 0..1.

    Luma is noisy where it hardly sees the ink, and wrong where a camera sees one color sharper than
    another; light is bent where colors were blurred in codes that are not linear, as JPEG blurs
    them. A picture does not tell which it is. So each counts by its scatter, and what the two
    differ by over a few tones is an error: the spread of a choice between them by these weights.
    """
    spread = [float((tone_scatter(one) ** 2).mean()) + _LEAST**2 for one in (luma, light)]
    share = _LUMA_MORE * spread[1] / (spread[0] + _LUMA_MORE * spread[1])
    differ = np.array([b.measured_pct - a.measured_pct for a, b in zip(luma, light, strict=True)])
    apart = _over_neighbors(differ, np.arange(len(differ)), len(differ))
    unsure = np.sqrt(share * (1 - share)) * np.abs(apart)
    joined = [
        PatchReading(
            a.film_pct,
            share * a.measured_pct + (1 - share) * b.measured_pct,
            share * a.error_pct + (1 - share) * b.error_pct,
        )
        for a, b in zip(luma, light, strict=True)
    ]
    surest = with_scatter(joined)
    return [
        replace(one, error_pct=float(np.hypot(one.error_pct, more)))
        for one, more in zip(surest, unsure, strict=True)
    ], share

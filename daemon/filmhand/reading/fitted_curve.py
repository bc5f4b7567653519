"""One press curve through the readings of a wedge: blended, freed of outliers, smooth and rising.

Readings of one tone are blended by their errors. A tone that is out of line with its neighbors is
left out. Through what remains goes the smoothest curve that stays within the errors: second
differences are made as small as a mean squared deviation of so much of an error allows (C. H.
Reinsch, Smoothing by spline functions, Numer. Math. 10, 1967). What still falls is pooled to its
weighted mean (M. Ayer et al., An empirical distribution function for sampling with incomplete
information, Ann. Math. Stat. 26, 1955). Between the points :func:`filmhand.tone.curve_through` goes
by monotone cubics.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.reading.curve_words import CurveRefusal, CurveWord
from filmhand.reading.reading import PatchReading, ReadOf, WedgeReading
from filmhand.values import dataclass

FEWEST_TONES = 8
"""Tones between bare and solid that a curve needs."""
_SAME_TONE = 0.25  # points of film tone that two wedges of one profile may lie apart
_LEAST_ERROR = 0.2  # points: no reading is better than its paper and its light
_FAR, _FAR_ERRORS = 3.0, 5.0  # points and errors that a reading may lie from those of its tone
_OUT, _OUT_ERRORS = 1.5, 3.0  # the same, beyond the tones on both sides of it
_MOST_OUT = 0.15  # share of the tones that may be out of line
# Squared errors, in the mean. Of 0.02 to 1, this comes nearest to two published curves with noise
# of 0.3 to 1.2 points: 0.74 of it remains, 0.87 without smoothing.
_NEAR = 0.6
_SEEN_ERRORS = 2.0  # ink less than so many errors is none that was seen


@dataclass(frozen=True, slots=True)
class FittedCurve:
    """A press curve and what it was laid through, in percent.

    Attributes
    ----------
    points : film and print tones, both rising from 0 to 100, the film tones strictly
    tones : the blended readings, with those that were left out
    notes : sentences on readings that disagree, and on those that were left out
    """

    points: tuple[tuple[float, float], ...]
    tones: tuple[PatchReading, ...]
    notes: tuple[str, ...] = ()


def fit_curve(readings: Sequence[WedgeReading]) -> FittedCurve:
    """The press curve of one print or of several of the same wedge.

    Raises
    ------
    Refused
        where one is of a film, too few tones were read, or too many are out of line
    """
    if any(reading.of is not ReadOf.PRINT for reading in readings):
        raise CurveRefusal.NOT_PRINT.refused()
    notes: list[str] = []
    tones = _blended(readings, notes)
    if len(tones) < FEWEST_TONES:
        raise CurveRefusal.TOO_FEW.refused(n=len(tones), least=FEWEST_TONES)
    kept = _in_line(tones, notes)
    film, measured, error = np.array([(t.film_pct, t.measured_pct, t.error_pct) for t in kept]).T
    smooth = _smoothed(film, measured, error)
    risen = np.clip(_risen(smooth, error**-2.0), 0, 100)
    inked = np.maximum.accumulate(risen > _SEEN_ERRORS * error)
    open_ = np.maximum.accumulate((100 - risen > _SEEN_ERRORS * error)[::-1])[::-1]
    printed = np.where(inked, np.where(open_, risen, 100.0), 0.0)
    inner = [(round(float(x), 2), round(float(y), 2)) for x, y in zip(film, printed, strict=True)]
    return FittedCurve(((0.0, 0.0), *inner, (100.0, 100.0)), tuple(tones), tuple(notes))


def _blended(readings: Sequence[WedgeReading], notes: list[str]) -> list[PatchReading]:
    """One reading a tone, by rising film tone; bare and solid are what the others are held to."""
    every = sorted(
        (patch for reading in readings for patch in reading.patches), key=lambda one: one.film_pct
    )
    groups: list[list[PatchReading]] = []
    for patch in every:
        if not 0 < patch.film_pct < 100:
            continue
        if groups and patch.film_pct - groups[-1][0].film_pct <= _SAME_TONE:
            groups[-1].append(patch)
        else:
            groups.append([patch])
    return [_mean_of(group, notes) for group in groups]


def _mean_of(group: Sequence[PatchReading], notes: list[str]) -> PatchReading:
    film, measured, error = np.array([(t.film_pct, t.measured_pct, t.error_pct) for t in group]).T
    error = np.maximum(error, _LEAST_ERROR)
    far = np.abs(measured - np.median(measured)) > np.maximum(_FAR, _FAR_ERRORS * error)
    tone = f"{film.mean():.1f}"
    if len(group) > 2 and 2 * far.sum() < len(group):
        for value in measured[far]:
            notes.append(CurveWord.LEFT_OUT.say(film=tone, measured=f"{value:.1f}"))
        film, measured, error = film[~far], measured[~far], error[~far]
    elif far.any():
        low, high = f"{measured.min():.1f}", f"{measured.max():.1f}"
        notes.append(CurveWord.NOT_ALIKE.say(film=tone, low=low, high=high))
    weight = error**-2.0
    mean = float(np.average(measured, weights=weight))
    # What readings differ by counts where it is more than their errors say.
    spread = float(np.sqrt(np.average((measured - mean) ** 2, weights=weight) / len(measured)))
    return PatchReading(float(film.mean()), mean, max(float(weight.sum() ** -0.5), spread))


def _in_line(tones: Sequence[PatchReading], notes: list[str]) -> list[PatchReading]:
    """The tones without those that lie beyond both of their neighbors, the worst first."""
    kept = list(tones)
    out: list[PatchReading] = []
    while True:
        worst, most = None, 1.0
        ends = (PatchReading(0, 0, _LEAST_ERROR), PatchReading(100, 100, _LEAST_ERROR))
        beside = [ends[0], *kept, ends[1]]
        for below, one, above in zip(beside, kept, beside[2:], strict=False):
            allowed = max(_OUT, _OUT_ERRORS * one.error_pct)
            beyond = max(
                one.measured_pct - max(above.measured_pct, below.measured_pct),
                min(below.measured_pct, above.measured_pct) - one.measured_pct,
            )
            if beyond > most * allowed:
                worst, most = one, beyond / allowed
        if worst is None:
            break
        kept.remove(worst)
        out.append(worst)
        if len(out) > _MOST_OUT * len(tones) or len(kept) < FEWEST_TONES:
            raise CurveRefusal.NO_ORDER.refused(n=len(out), all=len(tones))
    for one in sorted(out, key=lambda tone: tone.film_pct):
        film, measured = f"{one.film_pct:.1f}", f"{one.measured_pct:z.1f}"
        notes.append(CurveWord.LEFT_OUT.say(film=film, measured=measured))
    return kept


def _smoothed(film: Float64Array, measured: Float64Array, error: Float64Array) -> Float64Array:
    """The values (n,) with the smallest second differences that are as near as the errors say."""
    # Bare and solid are known, so the curve is pulled through both.
    x = np.concatenate([[0.0], film, [100.0]])
    y = np.concatenate([[0.0], measured, [100.0]])
    weight = np.concatenate([[1e6], error**-2.0, [1e6]])
    left, right = np.diff(x)[:-1], np.diff(x)[1:]
    bend = np.zeros((len(x) - 2, len(x)))
    rows = np.arange(len(x) - 2)
    bend[rows, rows] = 2 / (left * (left + right))
    bend[rows, rows + 1] = -2 / (left * right)
    bend[rows, rows + 2] = 2 / (right * (left + right))
    # A bend counts by the stretch of film tones that it is of.
    rough = bend.T @ (bend * ((left + right) / 2)[:, None])

    def bent(stiffness: float) -> Float64Array:
        values: Float64Array = np.linalg.solve(np.diag(weight) + stiffness * rough, weight * y)
        return values

    low, high = -6.0, 8.0  # powers of ten, from hardly any smoothing to a straight line
    for _ in range(40):
        middle = (low + high) / 2
        off = np.mean(weight[1:-1] * (bent(10**middle) - y)[1:-1] ** 2)
        low, high = (middle, high) if off < _NEAR else (low, middle)
    return bent(10**low)[1:-1]


def _risen(values: Float64Array, weight: Float64Array) -> Float64Array:
    """The nearest values that never fall, by weighted least squares: neighbors pool that do."""
    pools: list[tuple[float, float, int]] = []
    for value, heavy in zip(values, weight, strict=True):
        mean, total, count = float(value), float(heavy), 1
        while pools and pools[-1][0] >= mean:
            before, weighed, many = pools.pop()
            mean = (mean * total + before * weighed) / (total + weighed)
            total, count = total + weighed, count + many
        pools.append((mean, total, count))
    return np.repeat([mean for mean, _, _ in pools], [count for _, _, count in pools])

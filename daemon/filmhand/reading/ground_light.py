"""The light on a wedge, from the bare ground between its patches, and what its solid reflects.

Light falls off smoothly toward the edges of a picture, and from one side to the other. A surface of
low degree through the bare places takes that out; what is left of them tells how far it is to be
trusted.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.values import dataclass

_DEGREES = ((40, 4), (24, 3), (12, 2), (5, 1), (1, 0))
"""So many places at the least, and the degree of the surface that they carry."""
_ROUNDS = 8
_TUNING = 1.5  # of the spread: what lies further off counts less
_SEES = 0.4  # of the strongest contrast
_OUTLIER = 3.0  # of the usual spread: what lies further off is a speck, and no light
# Tried for what neighbors share: variances over that of the noise, and lengths over the mean
# distance of a place to its nearest.
_SHARED, _REACHES = (0.0, 0.3, 1.0, 3.0, 10.0), (1.0, 2.0, 4.0)
_LEAST_VARIANCE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class GroundLight:
    """The light that bare ground gives back everywhere on a wedge.

    What a surface of low degree leaves at the bare places is part noise of each, part light that
    neighbors share. How much of which, and how far it reaches, is what makes it likeliest; what is
    said between the places is then its mean, and how far that errs its spread (a Gaussian process
    with a squared exponential: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine
    Learning, 2006, equations 2.23 to 2.26, 5.8 and 5.12).

    Attributes
    ----------
    size_mm : of the wedge
    degree : of the surface
    terms : (n, 3) float64, its terms for red, green and blue
    places : (m, 2) float64, millimeters, where bare ground was seen
    left : (m, 3) float64, what was seen there, over what the surface says
    shared : variance that neighbors share, over that of the noise
    reach_mm : how far it reaches
    inverse : (m, m) float64, of the covariance of ``left``, over the noise's variance
    loose : (n, n) float64, covariance of the surface's terms, over the same
    """

    size_mm: tuple[float, float]
    degree: int
    terms: Float64Array
    places: Float64Array
    left: Float64Array
    shared: float
    reach_mm: float
    inverse: Float64Array
    loose: Float64Array

    def at(self, x: Float64Array, y: Float64Array) -> Float64Array:
        """(n, 3) float64: linear red, green and blue at places in millimeters."""
        surface = _powers(x, y, self.size_mm, self.degree) @ self.terms
        near = self.shared * _alike(np.column_stack([x, y]), self.places, self.reach_mm)
        light: Float64Array = surface * (1 + near @ self.inverse @ (self.left - 1))
        return light

    def differs(self) -> Float64Array:
        """(m, 3) float64: by what share each bare place differs from what the others say of it."""
        alone = self.inverse @ (self.left - 1) / np.diag(self.inverse)[:, None]
        return np.asarray(alone, np.float64)

    def error(self, x: float, y: float, weights: Float64Array) -> float:
        """Standard error of the light at a place, as a share, of a sum of channels."""
        left = (self.left - 1) @ weights
        noise = max(0.0, float(left @ self.inverse @ left)) / len(left)
        near = self.shared * _alike(np.array([[x, y]]), self.places, self.reach_mm)[0]
        powers = _powers(np.array([x]), np.array([y]), self.size_mm, self.degree)[0]
        spread = (
            self.shared - float(near @ self.inverse @ near) + float(powers @ self.loose @ powers)
        )
        return float(np.sqrt(noise * max(0.0, spread)))


def _alike(one: Float64Array, other: Float64Array, reach_mm: float) -> Float64Array:
    """(n, m) float64: 1 for the same place, less the farther apart."""
    square = ((one[:, None] - other[None]) ** 2).sum(axis=2)
    return np.asarray(np.exp(-0.5 * square / reach_mm**2), np.float64)


def _powers(
    x: Float64Array, y: Float64Array, size_mm: tuple[float, float], degree: int
) -> Float64Array:
    """(n, terms) float64: products of Chebyshev polynomials up to a degree."""
    across, down = (2 * one / side - 1 for one, side in zip((x, y), size_mm, strict=True))
    first = np.polynomial.chebyshev.chebvander(across, degree)
    second = np.polynomial.chebyshev.chebvander(down, degree)
    columns = [first[:, i] * second[:, j] for i in range(degree + 1) for j in range(degree + 1 - i)]
    return np.column_stack(columns)


def fit_ground(
    places: Float64Array, seen: Float64Array, size_mm: tuple[float, float]
) -> GroundLight:
    """The light through what was seen of bare ground; places far from all others count little.

    Parameters
    ----------
    places : (m, 2) float64, millimeters, m at least 1
    seen : (m, 3) float64, linear light above 0
    """
    degree = next(degree for least, degree in _DEGREES if len(places) >= least)
    powers = _powers(places[:, 0], places[:, 1], size_mm, degree)
    terms = np.empty((powers.shape[1], seen.shape[1]))
    for channel in range(seen.shape[1]):
        weight = np.ones(len(places))
        for _ in range(_ROUNDS):
            root = np.sqrt(weight)[:, None]
            found, *_ = np.linalg.lstsq(powers * root, seen[:, channel] * root[:, 0], rcond=1e-9)
            off = np.abs(powers @ found - seen[:, channel])
            spread = max(1.4826 * float(np.median(off)), 1e-6)
            weight = np.minimum(1.0, _TUNING * spread / np.maximum(off, 1e-12))
        terms[:, channel] = found
    surface = np.maximum(powers @ terms, 1e-6)
    left = seen / surface
    # What the surface took for an outlier is told as noisier, by as much as it counted less.
    noisy = np.max(np.abs(left - 1), axis=1)
    usual = max(1.4826 * float(np.median(noisy)), 1e-6)
    noise = np.maximum(1.0, (noisy / (_OUTLIER * usual)) ** 4)
    shared, reach, inverse = _shared_light(places, left - 1, noise)
    loose = np.linalg.pinv(powers.T @ (powers / noise[:, None]), rcond=1e-9)
    return GroundLight(size_mm, degree, terms, places, left, shared, reach, inverse, loose)


def _shared_light(
    places: Float64Array, left: Float64Array, noise: Float64Array
) -> tuple[float, float, Float64Array]:
    """What neighbors share, how far it reaches, and the inverse covariance, that are likeliest."""
    count = len(places)
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    near = float(apart.min(axis=1).mean()) if count > 1 else 1.0
    best: tuple[float, float, float, Float64Array] | None = None
    for reach in (near * one for one in _REACHES):
        alike = _alike(places, places, reach)
        for shared in _SHARED:
            values, vectors = np.linalg.eigh(shared * alike + np.diag(noise))
            values = np.maximum(values, 1e-9)
            turned = vectors.T @ left
            variance = (turned**2 / values[:, None]).mean(axis=0) + _LEAST_VARIANCE
            likely = -count * float(np.log(variance).sum()) - left.shape[1] * float(
                np.log(values).sum()
            )
            if best is None or likely > best[0] + 1e-9:
                best = likely, shared, reach, np.asarray((vectors / values) @ vectors.T, np.float64)
    assert best is not None
    return best[1], best[2], best[3]


def channel_weights(contrast: Float64Array, noise: Float64Array, usable: BoolArray) -> Float64Array:
    """(3,) float64 that add up to 1: how much each channel counts of a share of the ground's light.

    Linear light through any filter mixes by areas (Murray-Davies), and so does any sum of channels;
    each is weighed by its contrast over the square of its noise, which leaves the least noise
    (matched filter, from memory).

    Parameters
    ----------
    contrast : (3,) float64, by what share the solid is darker than bare ground
    noise : (3,) float64, standard deviation of bare ground, as a share
    usable : (3,) bool, whether a channel may count at all; one at least that has contrast
    """
    strongest = np.abs(np.where(usable, contrast, 0)).max()
    weights = np.where(usable, contrast / np.maximum(noise, 1e-3) ** 2, 0.0)
    weights = np.where(np.abs(contrast) >= _SEES * strongest, weights, 0.0)
    return np.asarray(weights / weights.sum(), np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class SolidLight:
    """What the solid gives back of the light on bare ground, as planes over the wedge.

    Attributes
    ----------
    size_mm : of the wedge
    terms : (3, 3) float64: in the middle, and what it gains to the right edge and to the foot, each
        for red, green and blue
    off : (n, 3) float64, by how much each solid differs from that
    """

    size_mm: tuple[float, float]
    terms: Float64Array
    off: Float64Array

    def at(self, x: float, y: float) -> Float64Array:
        """(3,) float64: the shares at a place in millimeters."""
        across, down = (2 * one / side - 1 for one, side in zip((x, y), self.size_mm, strict=True))
        return np.asarray(np.array([1.0, across, down]) @ self.terms, np.float64)

    def error(self, weights: Float64Array) -> float:
        """Standard error of the shares, of a sum of channels."""
        count = len(self.off)
        return float(np.sqrt(((self.off @ weights) ** 2).sum() / max(1, count - 1) / count))


_PLANE_SOLIDS = 4
_LEVEL = 0.3  # how strongly a plane is kept level: solids are few, and lie close together


def fit_solid(
    places: Float64Array, shares: Float64Array, size_mm: tuple[float, float]
) -> SolidLight:
    """The planes through what solids gave back; the median of fewer than four.

    Parameters
    ----------
    places : (n, 2) float64, millimeters
    shares : (n, 3) float64, of the light on bare ground
    """
    terms = np.vstack([np.median(shares, axis=0), np.zeros((2, 3))])
    powers = np.column_stack([np.ones(len(shares)), 2 * places / np.array(size_mm) - 1])
    if len(shares) >= _PLANE_SOLIDS:
        kept = np.vstack([powers, np.diag([0.0, _LEVEL, _LEVEL])])
        terms, *_ = np.linalg.lstsq(kept, np.vstack([shares, np.zeros((3, 3))]), rcond=None)
    return SolidLight(size_mm, terms, shares - powers @ terms)

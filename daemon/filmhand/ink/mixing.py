"""The print that inks make on a cloth, by a stated model.

Each spot of the print is bare cloth or has some of the inks over each other, one over the next in
print order: one of 2^n Neugebauer primaries (H. E. J. Neugebauer, Die theoretischen Grundlagen des
Mehrfarbenbuchdrucks, Z. wiss. Photographie 36, 1937). Dots of screens that lie at different angles
meet as by chance, so the part of the area that each primary has is a product of the inks' areas
(M. E. Demichel, Procédé 26, 1924); three screens 30 degrees apart stay in step and may miss that by
three hundredths of the area. Light that spreads within the cloth makes dots look larger,
which the exponent n of J. A. C. Yule and W. J. Nielsen tells (The penetration of light into paper
and its effect on halftone reproductions, TAGA Proc. 3, 1951): 1 for none, up to 2 and more.

A solid layer sends back the part ``opacity`` of its light by itself and takes the rest through
itself from what is below, so on white it has its own color whatever its opacity. A layer of
opacity 0 is a filter, by which densities add up; one of opacity 1 hides what is below.

Layers are reckoned in three bands of light, those of the primaries of ITU-R BT.2020: narrow enough
that a layer's light in one is its color's, and so wide that next to no ink lies beyond them. What
three bands cannot tell, such as two inks of one color but different spectra, is not foreseen.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from filmhand.arrays import Float64Array
from filmhand.ink.cielab import lab_to_xyz, xyz_matrix, xyz_to_lab, xyz_to_lab_slopes
from filmhand.values import dataclass

BT2020_PRIMARIES = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
MOST_INKS = 10  # have 1024 primaries
YULE_NIELSEN = 1.7
"""How far light spreads among dots on cloth and paper (common practice, no source)."""
_XYZ_OF_BANDS = xyz_matrix(BT2020_PRIMARIES)
_BANDS_OF_XYZ = np.linalg.inv(_XYZ_OF_BANDS)


def lab_to_bands(lab: Float64Array) -> Float64Array:
    """(..., 3) light of the three bands, of (..., 3) L*, a*, b*; what lies beyond is clipped at 0.

    White is 1 in each; a fluorescent color may be more.
    """
    return np.maximum(lab_to_xyz(lab) @ _BANDS_OF_XYZ.T, 0)


def bands_to_lab(bands: Float64Array) -> Float64Array:
    """(..., 3) L*, a*, b* of (..., 3) light of the three bands."""
    return xyz_to_lab(bands @ _XYZ_OF_BANDS.T)


@dataclass(frozen=True, slots=True, eq=False)
class PrintingInk:
    """An ink as it prints.

    Attributes
    ----------
    color : (3,) float64, L*, a*, b* of a solid layer on white
    opacity : 0 for a transparent ink, 1 for one that hides what is below
    """

    color: Float64Array
    opacity: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class PrintModel:
    """Inks on a cloth.

    Attributes
    ----------
    primaries : (2 ** n, 3) float64, light of the three bands of each Neugebauer primary; bit k of
        its place tells whether it has the ink k
    yule_nielsen : the exponent, 1 where light does not spread
    """

    primaries: Float64Array
    yule_nielsen: float = 1.0

    @property
    def ink_count(self) -> int:
        """How many inks there are."""
        return len(self.primaries).bit_length() - 1

    def screened(self, coverages: Float64Array) -> Float64Array:
        """(..., 3) L*, a*, b* of screens that lie over each other as by chance.

        Parameters
        ----------
        coverages : (..., n) float64, the printed area of each ink, 0..1
        """
        return self.of_parts(demichel_weights(coverages))

    def screened_with_slopes(self, coverages: Float64Array) -> tuple[Float64Array, Float64Array]:
        """(m, 3) as :meth:`screened`, and (3, n, m) how that changes with each ink.

        Parameters
        ----------
        coverages : (m, n) float64, the printed area of each ink, 0..1
        """
        exponent, low = self.yule_nielsen, coverages.shape[1] // 2
        # The inks in two halves, since a part of the area is a product of what both have of it.
        below, below_slopes = _weights_and_slopes(coverages.T[:low])
        above, above_slopes = _weights_and_slopes(coverages.T[low:])
        ends = (self.primaries.T ** (1 / exponent)).reshape(3, len(above), len(below))
        by_above = ends @ below
        by_below = ends.swapaxes(1, 2) @ above
        spread = (by_below * below).sum(axis=1)
        slopes = np.concatenate(
            [
                (by_below[:, None] * below_slopes).sum(axis=2),
                (by_above[:, None] * above_slopes).sum(axis=2),
            ],
            axis=1,
        )
        xyz = _XYZ_OF_BANDS @ spread**exponent
        slopes *= (exponent * spread ** (exponent - 1))[:, None]
        x, y, z = xyz_to_lab_slopes(xyz.T).T[:, None] * np.tensordot(_XYZ_OF_BANDS, slopes, 1)
        return xyz_to_lab(xyz.T), np.stack([116 * y, 500 * (x - y), 200 * (y - z)])

    def of_parts(self, parts: Float64Array) -> Float64Array:
        """(..., 3) L*, a*, b* of places of which it is known how much each primary has.

        Parameters
        ----------
        parts : (..., 2 ** n) float64, 0..1, in the order of :attr:`primaries`; they add up to 1
        """
        return self._seen(parts, self.primaries)

    def side_by_side(self, shares: Float64Array) -> Float64Array:
        """(..., 3) L*, a*, b* of solid areas that lie beside each other and share the place.

        Parameters
        ----------
        shares : (..., n) float64, the part of the place that each ink has, 0..1; what is left to 1
            is cloth
        """
        cloth = 1 - shares.sum(axis=-1, keepdims=True)
        alone = np.concatenate([[0], 2 ** np.arange(self.ink_count)])
        return self._seen(np.concatenate([cloth, shares], axis=-1), self.primaries[alone])

    def _seen(self, weights: Float64Array, primaries: Float64Array) -> Float64Array:
        n = self.yule_nielsen
        return bands_to_lab((weights @ primaries ** (1 / n)) ** n)


def print_model(
    inks: Sequence[PrintingInk], cloth: Float64Array, *, yule_nielsen: float = 1.0
) -> PrintModel:
    """The model of inks in print order, the first lowest, on a cloth.

    Parameters
    ----------
    inks : at most :data:`MOST_INKS`
    cloth : (3,) float64, L*, a*, b*
    yule_nielsen : the exponent, at least 1

    Raises
    ------
    ValueError
        For more inks, or an exponent or opacity out of range.
    """
    if len(inks) > MOST_INKS:
        raise ValueError(f"{len(inks)} inks are more than {MOST_INKS}")
    if yule_nielsen < 1:
        raise ValueError(f"a Yule-Nielsen exponent of {yule_nielsen} is under 1")
    primaries = lab_to_bands(cloth)[None]
    for ink in inks:
        if not 0 <= ink.opacity <= 1:
            raise ValueError(f"an opacity of {ink.opacity} is not from 0 to 1")
        layer = lab_to_bands(ink.color)
        over = layer * (ink.opacity + (1 - ink.opacity) * primaries)
        primaries = np.concatenate([primaries, over])
    return PrintModel(primaries, yule_nielsen)


def demichel_weights(coverages: Float64Array) -> Float64Array:
    """The part of the area that each Neugebauer primary has, where dots meet as by chance.

    Parameters
    ----------
    coverages : (..., n) float64, the area of each ink, 0..1

    Returns
    -------
    (..., 2 ** n) float64, in the order of :attr:`PrintModel.primaries`; they add up to 1

    >>> demichel_weights(np.array([0.5, 0.2]))
    array([0.4, 0.4, 0.1, 0.1])
    """
    weights = np.ones((*coverages.shape[:-1], 1))
    for k in range(coverages.shape[-1]):
        area = coverages[..., k, None]
        weights = np.concatenate([weights * (1 - area), weights * area], axis=-1)
    return weights


def _weights_and_slopes(areas: Float64Array) -> tuple[Float64Array, Float64Array]:
    """(2 ** n, m) :func:`demichel_weights` of (n, m) areas, and (n, 2 ** n, m) their slopes."""
    n, m = areas.shape
    weights, slopes = np.ones((1, m)), np.zeros((n, 1, m))
    for k, area in enumerate(areas):
        slopes = np.concatenate([slopes * (1 - area), slopes * area], axis=1)
        slopes[k] = np.concatenate([-weights, weights])
        weights = np.concatenate([weights * (1 - area), weights * area])
    return weights, slopes

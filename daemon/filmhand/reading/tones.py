"""Tones of patches by Murray-Davies, each with its error."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import Float64Array
from filmhand.reading.ground_light import GroundLight, SolidLight
from filmhand.reading.reading import PatchReading
from filmhand.reading.windows import Picture, RepeatedCell, SeenPart
from filmhand.sheet.wedge_places import BoxMm
from filmhand.values import dataclass

Share = TypeVar("Share", float, Float64Array)
_FLOOR = 0.2  # points: no scan is surer than that


def area_by_murray_davies(tint: Share, solid: float) -> Share:
    """The area, 0 (bare) to 1 (solid), of a tint that gives back such a share of the light.

    A. Murray, J. Franklin Inst. 221, 1936: D = -log10(1 - a (1 - 10^-Ds)), shares being 10^-D.

    Parameters
    ----------
    tint, solid : light given back, over that of bare ground

    >>> round(area_by_murray_davies(10**-0.3006, 10**-3.0), 3)
    0.5
    """
    return (1 - tint) / (1 - solid)


# Shares of coded red, green and blue in luma (ITU-R BT.601), as JPEG has it (JFIF).
_LUMA = np.array([0.299, 0.587, 0.114])
_LUMA_SEES = 0.07  # of all codes: with less between ink and ground it is not asked
_AREAS = np.linspace(-0.5, 1.5, 401)


@dataclass(frozen=True, slots=True, eq=False)
class EvenedWedge:
    """A wedge in even light: what is seen is held against bare ground and solid at its own place.

    Attributes
    ----------
    picture : where it was seen
    ground : the light on it
    solid : what the solid gives back of it
    weights : (3,) float64, how much each channel counts
    by_luma : whether areas are told by luma and not by the weighed light. Of a photograph luma
        alone is kept at full resolution; its colors are blurred in codes that are not linear, which
        would make dots of a colored ink darker
    """

    picture: Picture
    ground: GroundLight
    solid: SolidLight
    weights: Float64Array
    by_luma: bool

    def ends(self, x: float, y: float) -> tuple[Float64Array, Float64Array]:
        """(3,) float64 each: linear light of bare ground and of the solid at a place."""
        ground = np.maximum(self.ground.at(np.array([x]), np.array([y]))[0], 1e-6)
        return ground, ground * self.solid.at(x, y)

    def areas(self, part: SeenPart) -> Float64Array:
        """(n,) float64: which share of each pixel is ink, 0..1 but for noise."""
        box = part.box
        ground, solid = self.ends(box.left + box.width / 2, box.top + box.height / 2)
        if not self.by_luma:
            light = (part.light / ground) @ self.weights
            return area_by_murray_davies(light, float((solid / ground) @ self.weights))
        # Of a pixel that is partly ink the lights mix, and the luma of the mixture tells the area.
        mixed = luma(ground + _AREAS[:, None] * (solid - ground))
        if mixed[0] > mixed[-1]:
            return np.interp(-luma(part.light), -mixed, _AREAS)
        return np.interp(luma(part.light), mixed, _AREAS)

    def tone(
        self, box: BoxMm, cell: RepeatedCell | None, by_chance: Float64Array | None = None
    ) -> tuple[float, float]:
        """Tone in percent of what fills a box, and its standard error in points.

        Parameters
        ----------
        by_chance : (n,) share of ink of each pixel of the box that is taken off; None for none
        """
        part = self.picture.part(box)
        window = part.window(box, cell)
        if window.sum() <= 0:
            return float("nan"), 100.0
        areas = self.areas(part) if by_chance is None else self.areas(part) - by_chance
        area = float((areas * window).sum() / window.sum())
        x, y = box.left + box.width / 2, box.top + box.height / 2
        quarters = [
            float((areas * window * mask).sum() / (window * mask).sum())
            for mask in _quarters(part, x, y)
            if (window * mask).sum() > 0
        ]
        # A quarter holds no whole number of cells, so quarters of a tint differ by more than the
        # mean errs. Without cells, as of scattered dots, the mean goes by chance as they do.
        halves = 2 if cell is None else 4
        spread = float(np.std(quarters)) / halves if len(quarters) > 1 else 0.0
        dark = self.contrast(x, y)
        light = (1 - area * dark) * self.ground.error(x, y, self.weights) / dark
        error = np.sqrt(spread**2 + light**2 + (area * self.solid.error(self.weights) / dark) ** 2)
        return 100 * area, 100 * float(error)

    def contrast(self, x: float, y: float) -> float:
        """By what share of its light the ground would have to darken to be taken for solid."""
        ground, solid = self.ends(x, y)
        if not self.by_luma:
            return 1 - float((solid / ground) @ self.weights)
        less = luma(np.array([ground, 0.99 * ground, solid]))
        return float(0.01 * (less[0] - less[2]) / (less[0] - less[1]))


def luma(light: NDArray[Any]) -> Float64Array:
    """Luma of linear red, green and blue, (n, 3): the sum of their sRGB codes as JPEG weighs them.

    Light beyond 0 and 1, which noise brings about, goes on as the curve does at its ends.
    """
    light = np.asarray(light, np.float64)
    codes = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    )
    return np.asarray(codes @ _LUMA, np.float64)


def luma_sees(ground: Float64Array, solid: Float64Array) -> bool:
    """Whether luma parts ink of such light, (3,), well from ground, (3,)."""
    return bool(abs(luma(ground[None]) - luma(solid[None]))[0] >= _LUMA_SEES)


def _quarters(part: SeenPart, x: float, y: float) -> list[Float64Array]:
    right, low = part.x >= x, part.y >= y
    return [(a & b).astype(np.float64) for a in (right, ~right) for b in (low, ~low)]


def blended(tones: Sequence[tuple[float, float, float]]) -> list[PatchReading]:
    """One reading for each film tone, the lowest first.

    Parameters
    ----------
    tones : (film tone, tone as read, standard error), several to a film tone

    The mean of repeats by their errors; its error is no less than what they differ by makes it.
    """
    found = []
    for film in sorted({film for film, _, _ in tones}):
        own = np.array([(tone, max(error, _FLOOR)) for one, tone, error in tones if one == film])
        weight = own[:, 1] ** -2
        mean = float((own[:, 0] * weight).sum() / weight.sum())
        error = float(weight.sum() ** -0.5)
        if len(own) > 1:
            apart = float(np.sqrt((weight * (own[:, 0] - mean) ** 2).sum() / weight.sum()))
            error = max(error, apart / np.sqrt(len(own) - 1))
        found.append(PatchReading(film, mean, error))
    return found

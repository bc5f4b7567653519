"""Tones of scattered dots, held against the very dots that were drawn.

How many scattered dots lie in a patch goes by chance, and more of them print more. The profile that
made a wedge draws the same dots again, so the chance is known: each pixel's ink is lessened by what
was drawn there beyond the patch's tone, as many times as the press's curve is steep.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float64Array
from filmhand.reading.tones import EvenedWedge
from filmhand.reading.windows import SeenPart
from filmhand.sheet.wedge_layout import WedgePatch
from filmhand.sheet.wedge_places import BoxMm
from filmhand.units import MM_PER_INCH
from filmhand.values import dataclass

_ALIKE = 0.15
"""Correlation of ink and what was drawn, pixel by pixel, less than which other dots are
seen than those that were drawn."""
_BESIDE = 10.0  # points: tones so near tell how steep the curve is, as a standard deviation
_STEEPEST = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class DrawnPatch:
    """What was drawn of a patch.

    Attributes
    ----------
    patch : its place and tone
    bits : (rows, columns) bool, ink: all of its box
    """

    patch: WedgePatch
    bits: BoolArray

    def share(self, part: SeenPart, pixel_mm: float) -> Float64Array:
        """(n,) float64: which share of each pixel of a part was drawn as ink, 0..1.

        Parameters
        ----------
        pixel_mm : the side of a pixel on the wedge
        """
        box, (rows, columns) = self.patch.box, self.bits.shape
        summed = np.zeros((rows + 1, columns + 1))
        summed[1:, 1:] = self.bits.cumsum(axis=0, dtype=np.float64).cumsum(axis=1)
        left, right = _edges((part.x - box.left) / box.width, pixel_mm / box.width, columns)
        top, bottom = _edges((part.y - box.top) / box.height, pixel_mm / box.height, rows)
        ink = summed[bottom, right] - summed[top, right] - summed[bottom, left] + summed[top, left]
        return np.asarray(ink / ((right - left) * (bottom - top)), np.float64)


def _edges(
    middle: Float64Array, side: float, count: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last edge, in so many device pixels of all, about the middles of the seen ones."""
    first = np.rint((middle - side / 2) * count).astype(np.int64).clip(0, count - 1)
    last = np.rint((middle + side / 2) * count).astype(np.int64).clip(1, count)
    return first, np.maximum(last, first + 1)


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The pixels of a patch: the share of ink that each shows, and that was drawn there."""

    patch: WedgePatch
    box: BoxMm
    ink: Float64Array
    drawn: Float64Array


def scattered_tones(
    wedge: EvenedWedge, drawn: Sequence[DrawnPatch], boxes: Sequence[BoxMm]
) -> list[tuple[float, float, float]] | None:
    """Film tone, tone and error of every patch; None where the picture does not show these dots.

    Parameters
    ----------
    boxes : what is read of each patch
    """
    seen = [_seen(wedge, one, box) for one, box in zip(drawn, boxes, strict=True)]
    if any(not len(one.ink) for one in seen) or _alike(seen) < _ALIKE:
        return None
    found = []
    made = np.array([100 * one.drawn.mean() for one in seen])
    ink = np.array([100 * one.ink.mean() for one in seen])
    for one in seen:
        tone = one.patch.film_pct
        if tone in {0, 100}:
            found.append((tone, *wedge.tone(one.box, None)))
            continue
        steep = _steepness(made, ink, tone)
        by_chance = steep * (one.drawn - tone / 100)
        found.append((tone, *wedge.tone(one.box, None, by_chance)))
    return found


def _seen(wedge: EvenedWedge, drawn: DrawnPatch, box: BoxMm) -> _Seen:
    part = wedge.picture.part(box)
    x, y = box.left + box.width / 2, box.top + box.height / 2
    pixel_mm = MM_PER_INCH / wedge.picture.ppi_at(x, y)
    return _Seen(drawn.patch, box, wedge.areas(part), drawn.share(part, pixel_mm))


def _alike(seen: Sequence[_Seen]) -> float:
    """How well ink goes with what was drawn, pixel by pixel within the patches: a correlation."""
    drawn = np.concatenate([one.drawn - one.drawn.mean() for one in seen])
    ink = np.concatenate([one.ink - one.ink.mean() for one in seen])
    both = float(np.sqrt((drawn**2).sum() * (ink**2).sum()))
    return float((drawn * ink).sum()) / both if both else 0.0


def _steepness(drawn: Float64Array, seen: Float64Array, at: float) -> float:
    """Points of print to a point of film, from the tones around one: a line through them."""
    weight = np.exp(-0.5 * ((drawn - at) / _BESIDE) ** 2)
    x = drawn - np.average(drawn, weights=weight)
    y = seen - np.average(seen, weights=weight)
    spread = float((weight * x * x).sum())
    if spread <= 0:
        return 1.0
    return float(np.clip((weight * x * y).sum() / spread, 0, _STEEPEST))


def drawn_patches(patches: Sequence[WedgePatch], bits: Sequence[BoolArray]) -> list[DrawnPatch]:
    """Patches of a wedge with what was drawn of each, in the same order."""
    return [DrawnPatch(patch, own) for patch, own in zip(patches, bits, strict=True)]

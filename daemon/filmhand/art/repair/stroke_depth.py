"""How deep strokes lie below the light of their paper, for any rows of art at full size."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float32Array, Float64Array, Int32Array
from filmhand.art.analysis.page_regions import PageRegions
from filmhand.art.analysis.paper_estimate import PaperEstimate
from filmhand.art.analysis.ruled_lines import RuledLineEraser
from filmhand.art.files.gray import Codes, light_of_codes
from filmhand.kernels.loops import compiled


class Evener:
    """Depth of any rows: 1 minus light over the paper's light, the paper enlarged bilinearly."""

    def __init__(self, coded: Codes, paper: PaperEstimate, regions: PageRegions | None) -> None:
        self.coded = coded
        self.eraser: RuledLineEraser | None = None
        self._regions = regions
        self._factor = paper.factor
        inverse = (1 / np.maximum(paper.light, 1e-4)).astype(np.float32)
        places = (np.arange(coded.shape[1]) + 0.5) / paper.factor - 0.5
        self._inverse = _stretched_rows(inverse, places)

    def depth(self, top: int, bottom: int) -> Float32Array:
        """(bottom - top, W) float32; 0 is paper, 1 no light at all; lighter than paper is < 0."""
        places = (np.arange(top, bottom) + 0.5) / self._factor - 0.5
        last = len(self._inverse) - 1
        places = np.clip(places, 0.0, float(last))
        below = np.minimum(places.astype(np.int32), max(0, last - 1))
        depth = _depth_below(
            self.coded[top:bottom], self._inverse, below, (places - below).astype(np.float32)
        )
        if self._regions is not None:
            tone = self._regions.enlarged(self._regions.tone, slice(top, bottom), depth.shape[1])
            depth[tone] = 0
        return depth if self.eraser is None else self.eraser.clean(depth, top)


def _stretched_rows(rows: Float32Array, places: Float64Array) -> Float32Array:
    """Rows between their known columns, the outer ones of which are repeated.

    rows : (h, w) float32
    places : (W,) float64 columns of ``rows`` -> (h, W) float32
    """
    loops = compiled()
    if loops is None:
        return _rows_between(rows, places)
    last = rows.shape[1] - 1
    inside = places.clip(0, last)
    since = inside.astype(np.int32)
    out = np.empty((len(rows), len(places)), np.float32)
    loops.stretch_rows(np.ascontiguousarray(rows), last + 1, since, inside - since, out)
    return out


def _rows_between(rows: Float32Array, places: Float64Array) -> Float32Array:
    """What the loop in C does."""
    known = np.arange(rows.shape[1])
    return np.stack([np.interp(places, known, row) for row in rows]).astype(np.float32)


def _depth_below(
    coded: Codes, inverse: Float32Array, below: Int32Array, part: Float32Array
) -> Float32Array:
    """One minus the light of rows of codes by that of the paper between two of its rows.

    Parameters
    ----------
    coded : (n, W) uint16
    inverse : (h, W) float32, one over the paper's light
    below : (n,) int32, the row of ``inverse`` that each lies below
    part : (n,) float32, how far it lies from there to the next
    """
    loops = compiled()
    if loops is None:
        return _depth_by_rows(coded, inverse, below, part)
    depth = np.empty(coded.shape, np.float32)
    rows = np.ascontiguousarray(coded)
    loops.depth_below(rows, coded.shape[1], light_of_codes(), inverse, below, part, depth)
    return depth


def _depth_by_rows(
    coded: Codes, inverse: Float32Array, below: Int32Array, part: Float32Array
) -> Float32Array:
    """What the loop in C does."""
    depth = np.take(light_of_codes(), coded)
    last = len(inverse) - 1
    for y, (one, share) in enumerate(zip(below, part, strict=True)):
        depth[y] *= inverse[one] * (1 - share) + inverse[min(one + 1, last)] * share
    np.subtract(1, depth, out=depth)
    return depth

"""The paper under a drawing: its light, estimated on a small copy.

Paper is what is left when strokes are closed over (gray closing: the local maximum, then its
local minimum). Solid shapes wider than the closing are found by their sharp rims and filled in
from around, so that they stay solid; a shade without such rims is a shadow, and stays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Int64Array
from filmhand.art.files.gray import Codes, light_of_codes
from filmhand.art.raster import (
    closing,
    fill_gaps,
    grown,
    in_threads,
    local_maximum,
    median_of,
    quantile_of,
    row_strips,
    smooth,
)
from filmhand.kernels.loops import compiled
from filmhand.values import dataclass

SMALL_SIDE, LEAST_SEEN = 720, 16  # pixels of the copy on which paper is looked for
_MOST_SUMMED = 128  # pixels along a block that the loop in C sums as NumPy does
_STROKE_SHARE = 1 / 28  # of the longer side: what is narrower than this is a stroke
_SHAPE_SHARE = 1 / 5
_SOLID = 0.3
_DIP = 0.85
_SHARP_RIM = 0.15
# How far paper may be off a smooth surface, in logarithms; the least share of the sheet that is
# such paper; and its light where it is darkest, by that where it is lightest.
_LAMPLIGHT_OFF, _LEAST_LAMPLIT, _DARKEST_LAMPLIGHT = 0.08, 0.7, 0.08
_UNEVEN = 0.75
# Paper that was photographed or scanned has more grain than this, also after JPEG (measured: 0.01
# and more, and drawn gradients 0.004 at most); without it, only even light grounds count as paper.
_LEAST_GRAIN, _UNSHADED, _LIGHTEST_DRAWN = 0.004, 0.8, 0.6


@dataclass(slots=True)
class PaperEstimate:
    """Estimated paper.

    light : (h, w) float32 light of the bare paper, on a copy reduced ``factor`` times.
    paper_share : share 0..1 of the sheet that is bare paper.
    noise : standard deviation of the grain, relative to the paper, on the reduced copy.
    """

    light: Float32Array
    factor: int
    paper_share: float
    noise: float

    @property
    def has_grain(self) -> bool:
        """Whether it is paper that was scanned or photographed, with its smudges and folds."""
        return self.noise >= _LEAST_GRAIN

    @property
    def is_gradient(self) -> bool:
        """Whether it is shaded or dark without any grain, as drawn grounds are and paper is not."""
        darkest, lightest = float(self.light.min()), float(self.light.max())
        return is_gradient(darkest, lightest, self.noise)


@dataclass(frozen=True, slots=True)
class PaperLook:
    """Art seen small enough to look for its paper, and what was found.

    Attributes
    ----------
    small : (h, w) float32 light 0..1, from :func:`reduced_light`; empty where that is too narrow
    factor : how much it is reduced
    estimate : from :func:`estimate_paper`, and None for too narrow art
    """

    small: Float32Array
    factor: int
    estimate: PaperEstimate | None

    @classmethod
    def at(cls, coded: Codes) -> PaperLook:
        """A look at (H, W) uint16 codes."""
        factor = paper_factor(coded)
        if min(coded.shape) // factor < LEAST_SEEN:
            return cls(np.empty((0, 0), np.float32), factor, None)
        small = reduced_light(coded, factor)
        return cls(small, factor, estimate_paper(small, factor=factor))


LookForPaper = Callable[[], PaperLook]


def paper_factor(coded: Codes) -> int:
    """How many pixels of art are one of the copy on which its paper is looked for."""
    return int(max(1, -(-max(coded.shape) // SMALL_SIDE)))


def is_gradient(darkest: float, lightest: float, noise: float) -> bool:
    """Whether a ground between these lights, with this grain, is drawn and no paper."""
    return noise < _LEAST_GRAIN and (darkest < _UNSHADED * lightest or lightest < _LIGHTEST_DRAWN)


def reduced_light(coded: Codes, factor: int, *, negative: bool = False) -> Float32Array:
    """Mean light over ``factor`` x ``factor`` blocks; what does not fill a block is left out.

    coded : (H, W) uint16 -> (H // factor, W // factor) float32, 0..1; ``negative`` is whether light
    and dark change places.
    """
    height, width = (side // factor for side in coded.shape)
    small: Float32Array = np.empty((height, width), np.float32)
    light = np.ascontiguousarray(light_of_codes()[::-1]) if negative else light_of_codes()
    loops = compiled() if factor <= _MOST_SUMMED else None

    def one(rows: slice) -> None:
        strip = coded[rows.start * factor : rows.stop * factor]
        if loops is None:
            small[rows] = _block_sums(strip[:, : width * factor], light, factor)
        else:
            rows_of_codes = np.ascontiguousarray(strip)
            stride = coded.shape[1]
            loops.sum_blocks(rows_of_codes, stride, light, factor, factor, width, small[rows])

    if small.size:
        in_threads(one, row_strips((height, width * factor**2), 200_000))
    small /= factor * factor
    return small


def _block_sums(coded: Codes, light: Float32Array, factor: int) -> Float32Array:
    """What the loop in C does."""
    lit = np.take(light, coded)
    summed = lit.reshape(-1, factor, coded.shape[1]).sum(axis=1)  # the fast direction first
    sums: Float32Array = summed.reshape(-1, coded.shape[1] // factor, factor).sum(axis=2)
    return sums


def closed_over(soft: Float32Array) -> Float32Array:
    """The light with all strokes filled in from around."""
    return closing(soft, max(5, round(max(soft.shape) * _STROKE_SHARE)))


def estimate_paper(
    small: Float32Array,
    *,
    factor: int,
    soft: Float32Array | None = None,
    closed: Float32Array | None = None,
) -> PaperEstimate | None:
    """The paper of a plausible drawing on paper, or None (dark background, ramp, photograph).

    Parameters
    ----------
    small : (h, w) float32 light from :func:`reduced_light`
    soft, closed : ``small`` smoothed twice, and that from :func:`closed_over`, where they are known
    """
    soft = smooth(smooth(small)) if soft is None else soft
    strokes = closed_over(soft) if closed is None else closed
    lamp = _lamplight(strokes, even=_UNEVEN + 0.02)
    if lamp is not None and float(lamp.min()) < _UNEVEN:
        # In even light a dark corner is no shape, and closing does not lift it.
        found = _estimate(small / lamp, soft / lamp, strokes / lamp, factor=factor)
        return None if found is None else replace(found, light=found.light * lamp)
    return _estimate(small, soft, strokes, factor=factor)


def _estimate(
    small: Float32Array, soft: Float32Array, strokes: Float32Array, *, factor: int
) -> PaperEstimate | None:
    side = max(small.shape)
    shapes = closing(strokes, max(9, round(side * _SHAPE_SHARE)))
    paper = quantile_of(strokes, 0.95)
    if paper <= 0.02:
        return None
    solid = (strokes < _DIP * shapes) | (strokes < _SOLID * paper)
    if solid.any():
        if solid.mean() > 0.75:
            return None
        if _rim_step(soft, shapes, solid) < _SHARP_RIM:
            if (strokes < _SOLID * paper).mean() > 0.02:
                return None  # it darkens without an edge: a ramp or a photograph
            solid[:] = False
    light: Float32Array = fill_gaps(strokes, grown(solid, 3)) if solid.any() else strokes
    for _ in range(6):
        light = smooth(light)
    share: Float32Array = (soft / np.maximum(light, 1e-4)).astype(np.float32)
    is_paper = share > 0.85
    if not is_paper.any():
        return None
    light *= np.float32(median_of(share[is_paper]))
    share = (small / np.maximum(light, 1e-4)).astype(np.float32)
    grain = share - smooth(smooth(share))
    noise = median_of(np.abs(grain[is_paper])) * 1.4826 * 1.1
    return PaperEstimate(light, factor, float(is_paper.mean()), noise)


def _lamplight(strokes: Float32Array, *, even: float = 2.0) -> Float32Array | None:
    """How the light falls off over a sheet, 1 where it is lightest; None where it is not so smooth.

    Where it falls off to no less than ``even``, it is not worked out for each pixel: None too.

    The logarithm of a lamp's light is a surface of second order, as in
    :mod:`filmhand.art.repair.paper_shading`. What is much darker than that is taken for shapes on
    the paper.
    """
    by = max(1, max(strokes.shape) // 100)
    if min(strokes.shape) < 8 * by:
        return None
    sample = strokes[by // 2 :: by, by // 2 :: by]
    rows, columns = (np.arange(n) * by + by // 2 for n in sample.shape)
    basis = _second_order(rows, columns, max(strokes.shape)).reshape(-1, 6)
    logs = np.log(np.maximum(sample.ravel(), 1e-4))
    paper = np.ones(logs.shape, np.bool_)
    for _ in range(8):
        terms = np.linalg.lstsq(basis[paper], logs[paper], rcond=None)[0]
        before, off = paper, logs - basis @ terms
        paper = np.abs(off) < max(_LAMPLIGHT_OFF, 2.0 * median_of(np.abs(off)))
        if paper.mean() < _LEAST_LAMPLIT:
            return None
        if np.array_equal(paper, before):
            break  # another fit would give the same
    else:
        terms = np.linalg.lstsq(basis[paper], logs[paper], rcond=None)[0]
    if quantile_of(np.abs(off), _LEAST_LAMPLIT) > _LAMPLIGHT_OFF:
        return None
    factors = terms.astype(np.float32)
    rows, columns = (np.append(np.arange(0, n, by), n - 1) for n in strokes.shape)
    seen = _second_order(rows, columns, max(strokes.shape)) @ factors
    if np.exp(seen.min() - seen.max()) >= even:
        return None
    height, width = strokes.shape
    fall = _second_order(np.arange(height), np.arange(width), max(height, width)) @ factors
    light: Float32Array = np.exp(np.maximum(fall - fall.max(), np.float32(-20)))
    return None if light.min() < _DARKEST_LAMPLIGHT else light


def _second_order(rows: Int64Array, columns: Int64Array, side: int) -> Float32Array:
    """(rows, columns, 6): 1, x, y, x x, x y, y y."""
    y, x = (rows / side)[:, None], columns / side
    terms: Float32Array = np.empty((len(rows), len(columns), 6), np.float32)
    terms[..., 0] = 1
    terms[..., 1], terms[..., 2] = x, y
    terms[..., 3], terms[..., 4], terms[..., 5] = x * x, x * y, y * y
    return terms


def _rim_step(soft: Float32Array, around: Float32Array, solid: BoolArray) -> float:
    """How much the light changes over 7 pixels at the rim of the solids, against that around."""
    rim = grown(solid, 1) & ~solid
    if not rim.any():
        return 0.0
    high, low = local_maximum(soft, 7), -local_maximum(-soft, 7)
    return median_of((high[rim] - low[rim]) / np.maximum(around[rim], 1e-3))

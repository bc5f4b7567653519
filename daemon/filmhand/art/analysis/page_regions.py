"""The parts of a page that are tone - pictures and tints - and those that are strokes on paper.

Strokes are closed over; what is then still darker than the paper is a picture, a tint or a solid.
The paper's own light is a smooth surface (a quadratic), fitted to what lies highest. A picture's
outline is taken as a rectangle, at any tilt, where it nearly is one, and as its hull otherwise, so
that its pale parts stay with it.

The limits were set on pages put together on purpose (the tests hold them); they have no other
source.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array, distinct_rows
from filmhand.art.analysis.page_marks import find_marks
from filmhand.art.raster import grown, local_maximum, quantile_of, quantiles_of
from filmhand.values import dataclass

_T = TypeVar("_T", bound=np.generic)

_GRID = 24  # pixels between the places at which the paper is looked at
_ON_PAPER = 0.07  # how far bare paper may be from the surface
_DARKER = 0.92
_LEAST_PAPER = 0.15
_DARKEST_PAPER = 0.12  # of its light where it is lightest
_LEAST_REGION, _LEAST_SIDE = 0.008, 0.045  # of the page
_MIDDLE = (0.12, 0.86)  # light of tones that are neither ink nor paper
_LEAST_MIDDLE = 0.25
_DARK_SPREAD = 0.1  # codes; solid ink keeps closer together
_LEAST_STEP, _LEAST_RIM = 0.08, 0.5
_NEARLY_A_RECTANGLE = 0.86
MARGIN = 3  # pixels of the reduced copy that a tone region reaches beyond its outline


@dataclass(frozen=True, slots=True)
class PageRegions:
    """A page in parts, on a copy reduced ``factor`` times.

    Attributes
    ----------
    tone : (h, w) bool, pictures and tints, MARGIN pixels wider than they are
    inner : (h, w) bool, the same without that margin
    paper : (h, w) float32, light of the bare paper
    """

    tone: BoolArray
    inner: BoolArray
    paper: Float32Array
    factor: int

    @property
    def share(self) -> float:
        """Share of the page that is tone, 0..1."""
        return float(self.inner.mean())

    def resampled(self, shape: tuple[int, ...]) -> BoolArray:
        """Where another reduced copy of the same art is tone."""
        return self._sampled(self.tone, shape)

    def of_copy(self, shape: tuple[int, ...]) -> PageRegions:
        """The regions of another copy of the same art, taken as it is."""
        tone, inner = (self._sampled(one, shape) for one in (self.tone, self.inner))
        return PageRegions(tone, inner, self._sampled(self.paper, shape), 1)

    def _sampled(self, field: NDArray[_T], shape: tuple[int, ...]) -> NDArray[_T]:
        rows, columns = (
            (np.arange(new) * old // new).clip(max=old - 1)
            for new, old in zip(shape, field.shape, strict=True)
        )
        found: NDArray[_T] = field[rows][:, columns]
        return found

    def enlarged(self, small: NDArray[_T], rows: slice, width: int) -> NDArray[_T]:
        """Some rows of the art at full size, (rows, width), of one of the arrays of the copy."""
        down = (np.arange(rows.start, rows.stop) // self.factor).clip(max=len(small) - 1)
        across = (np.arange(width) // self.factor).clip(max=small.shape[1] - 1)
        enlarged: NDArray[_T] = small[down][:, across]
        return enlarged


def find_regions(
    soft: Float32Array, closed: Float32Array, paper: Float32Array | None, *, factor: int
) -> PageRegions | None:
    """The tone regions of a page on paper; None without paper or without such a region.

    Parameters
    ----------
    soft : (h, w) float32 light, smoothed
    closed : from :func:`~filmhand.art.analysis.paper_estimate.closed_over`
    paper : from :func:`paper_surface`
    factor : how much the copy is reduced
    """
    if min(soft.shape) < 4 * _GRID or paper is None:
        return None
    relative = (closed / paper).astype(np.float32)
    if float((np.abs(relative - 1) < _ON_PAPER).mean()) < _LEAST_PAPER:
        return None
    dark = relative < _DARKER
    pieces = find_marks(dark)
    share = (soft / paper).astype(np.float32)
    inner = np.zeros(soft.shape, np.bool_)
    height, width = soft.shape
    large = (pieces.area >= _LEAST_REGION * soft.size) & (
        np.minimum(pieces.height, pieces.width) >= _LEAST_SIDE * min(soft.shape)
    )
    if not large.any():
        return None
    steps = local_maximum(relative, 9) + local_maximum(-relative, 9)
    for piece in np.flatnonzero(large):
        only = pieces.runs[pieces.runs[:, 3] == piece]
        outline = _outline(only)
        mask = _filled(outline, (height, width))
        if _has_tones(share[mask]) and _has_a_rim(steps, mask):
            inner |= mask
    if not inner.any():
        return None
    return PageRegions(grown(inner, MARGIN), inner, paper, factor)


def _has_tones(share: Float32Array) -> bool:
    """True unless all is solid ink and bare paper."""
    if not share.size:
        return False
    if float(((share > _MIDDLE[0]) & (share < _MIDDLE[1])).mean()) >= _LEAST_MIDDLE:
        return True
    dark = np.clip(share[share < 0.2], 0, 1) ** (1 / 2.2)
    return bool(
        dark.size > 0.5 * share.size and np.ptp(quantiles_of(dark, (0.1, 0.9))) > _DARK_SPREAD
    )


def _has_a_rim(steps: Float32Array, mask: BoolArray) -> bool:
    """True where the light changes at once around most of a piece, as it does not at a shadow."""
    rim = grown(mask, 1) & ~mask
    return not rim.any() or float((steps[rim] > _LEAST_STEP).mean()) >= _LEAST_RIM


def paper_surface(closed: Float32Array) -> Float32Array | None:
    """Light of the paper: a quadratic surface under which little lies, then through what is on it.

    The expectile regression of W. K. Newey and J. L. Powell, Asymmetric least squares estimation
    and testing, Econometrica 55 (1987) 819-847, by repeated weighting.
    """
    height, width = closed.shape
    sample = closed[_GRID // 2 :: _GRID, _GRID // 2 :: _GRID].astype(np.float64)
    y, x = np.mgrid[0 : sample.shape[0], 0 : sample.shape[1]]
    y, x = (y * _GRID + _GRID // 2) / height, (x * _GRID + _GRID // 2) / width
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y]).reshape(6, -1).T
    light = sample.ravel()
    weight = np.ones(len(light))
    fitted = np.full(len(light), quantile_of(light, 0.9))
    for _ in range(12):
        root = np.sqrt(weight)
        fitted = terms @ np.linalg.lstsq(terms * root[:, None], light * root, rcond=None)[0]
        weight = np.where(light > fitted, 1.0, 0.02)
    for _ in range(4):
        near = np.abs(light / np.maximum(fitted, 1e-3) - 1) < _ON_PAPER
        if near.sum() < 12:
            return None
        factors = np.linalg.lstsq(terms[near], light[near], rcond=None)[0]
        fitted = terms @ factors
    if fitted.min() < _DARKEST_PAPER * fitted.max() or fitted.max() < 0.05:
        return None  # no sheet of paper is shaded like that
    one, fx, fy, fxx, fxy, fyy = factors.astype(np.float32)
    x = (np.arange(width) / width).astype(np.float32)
    y = (np.arange(height) / height).astype(np.float32)[:, None]
    surface: Float32Array = (one + fx * x + fxx * x * x) + fxy * x * y + (fy * y + fyy * y * y)
    return np.maximum(surface, np.float32(0.02))


def _outline(runs: Int64Array) -> Float64Array:
    """The (n, 2) corners (x, y) around a piece: a rectangle if it nearly is one, else its hull."""
    row, first, stop = runs[:, 0], runs[:, 1], runs[:, 2]
    ends = np.concatenate(
        [np.stack([x, y], axis=1) for x in (first, stop) for y in (row, row + 1)]
    ).astype(np.float64)
    hull = _hull(ends)
    sides = np.roll(hull, -1, axis=0) - hull
    best: tuple[float, Float64Array] | None = None
    for along in sides / np.maximum(np.hypot(*sides.T)[:, None], 1e-9):
        turn = np.array([along, (-along[1], along[0])])
        turned = hull @ turn.T
        low, high = turned.min(axis=0), turned.max(axis=0)
        size = float(np.prod(high - low))
        if best is None or size < best[0]:
            corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
            best = size, corners @ turn
    assert best is not None
    area = 0.5 * abs(float(np.sum(hull[:, 0] * np.roll(hull[:, 1], -1)
                                  - hull[:, 1] * np.roll(hull[:, 0], -1))))  # fmt: skip
    return best[1] if area >= _NEARLY_A_RECTANGLE * best[0] else hull


def _hull(points: Float64Array) -> Float64Array:
    """The convex hull.

    The monotone chain of A. M. Andrew, Another efficient algorithm for convex hulls in two
    dimensions, Information Processing Letters 9 (1979) 216-219.
    """
    ordered = distinct_rows(points)

    def chain(some: list[list[float]]) -> list[list[float]]:
        out: list[list[float]] = []
        for x, y in some:  # plain numbers: an array for each point would take ten times as long
            while len(out) > 1:
                (ox, oy), (px, py) = out[-2:]
                if (px - ox) * (y - oy) - (py - oy) * (x - ox) > 0:
                    break
                out.pop()
            out.append([x, y])
        return out[:-1]

    return np.array(chain(ordered.tolist()) + chain(ordered[::-1].tolist()))


def _filled(corners: Float64Array, shape: tuple[int, int]) -> BoolArray:
    image = Image.new("L", (shape[1], shape[0]), 0)
    ImageDraw.Draw(image).polygon([(float(x), float(y)) for x, y in corners], 1, 1)
    return np.asarray(image) > 0

"""The reduced picture that all judging looks at, and what is worked out from it only when asked."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np

from filmhand.arrays import BoolArray, Float32Array
from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.analysis.page_regions import paper_surface
from filmhand.art.analysis.paper_estimate import (
    PaperEstimate,
    closed_over,
    estimate_paper,
    reduced_light,
)
from filmhand.art.files.gray import WHITE, Codes
from filmhand.art.raster import local_maximum, median_of, otsu, quantile_of, share_counts, smooth
from filmhand.values import dataclass

LONGEST_REDUCED_SIDE = 1100
DARK_BACKGROUND = 0.43  # code below which most of the picture counts as a dark background


@dataclass
class ReducedImage:
    """One art, seen small.

    Attributes
    ----------
    coded : (H, W) uint16 sRGB-coded gray, at full size
    drawn : True where it is computer-drawn, as
        :func:`~filmhand.art.analysis.exact_flats.looks_drawn` tells
    factor : pixels of ``coded`` along one side of a pixel of the small picture
    median : code 0..1 in the middle of all
    """

    coded: Codes
    drawn: bool
    factor: int
    median: float

    @classmethod
    def at(cls, coded: Codes, *, drawn: bool | None = None) -> ReducedImage:
        """A look at (H, W) uint16 codes."""
        factor = max(1, -(-max(coded.shape) // LONGEST_REDUCED_SIDE))
        median = median_of(coded[::factor, ::factor]) / WHITE
        return cls(coded, looks_drawn(coded) if drawn is None else drawn, factor, median)

    @property
    def dark(self) -> bool:
        """True for a dark background: light and dark change places in ``small``."""
        return self.median < DARK_BACKGROUND

    @property
    def narrow(self) -> bool:
        """Too narrow for anything to be told."""
        return bool(min(self.coded.shape) // self.factor < 8)

    @cached_property
    def small(self) -> Float32Array:
        """(h, w) float32 light 0..1, of the negative where the background is dark."""
        return reduced_light(self.coded, self.factor, negative=self.dark)

    @cached_property
    def softer(self) -> Float32Array:
        """``small``, smoothed once."""
        return smooth(self.small)

    @cached_property
    def soft(self) -> Float32Array:
        """``small``, smoothed twice."""
        return smooth(self.softer)

    @cached_property
    def closed(self) -> Float32Array:
        """``soft`` with all strokes filled in."""
        return closed_over(self.soft)

    @cached_property
    def paper(self) -> Float32Array | None:
        """Light of the paper as a smooth surface, or None where there is none."""
        return None if min(self.small.shape) < 48 else paper_surface(self.closed)

    @cached_property
    def paper_estimate(self) -> PaperEstimate | None:
        """The paper of a plausible drawing on paper, or None."""
        return estimate_paper(self.small, factor=self.factor, soft=self.soft, closed=self.closed)

    @cached_property
    def relative_code(self) -> Float32Array:
        """(h, w) float32: the code 0..1 of the light by that of the paper, where there is one."""
        light = 1.0 if self.paper_estimate is None else np.maximum(self.paper_estimate.light, 1e-4)
        code: Float32Array = (np.clip(self.softer / light, 0, 1) ** (1 / 2.2)).astype(np.float32)
        return code

    @cached_property
    def inked_depth(self) -> tuple[Float32Array, float]:
        """Where a line art shows background (0) and ink (about 1), as :func:`depths_of` tells."""
        return depths_of(self.relative_code)

    def papered(self, where: BoolArray, paper: Float32Array) -> ReducedImage:
        """The same, with bare paper laid over a part of the small picture."""
        other = replace(self, drawn=False)  # a new one, with nothing worked out yet
        other.__dict__["small"] = np.where(where, paper, self.small).astype(np.float32)
        return other


def depths_of(share: Float32Array) -> tuple[Float32Array, float]:
    """How deep each place is inked, and the contrast of ink and paper, parted as by Otsu 1979.

    share : (h, w) float32 codes 0..1 -> (h, w) float32, 0 where paper is, 1 where there is ink
    """
    threshold = (otsu(share_counts(share, 256)) + 1) / 256  # the upper end of its bin
    ink, lighter = share[share <= threshold], share[share > threshold]
    if not ink.size or not lighter.size:
        return np.zeros_like(share), 0.0
    paper = median_of(lighter)
    contrast = paper - median_of(ink)
    depth = ((paper - share) / np.float32(max(contrast, 1e-3))).astype(np.float32)
    # A solid shape may be far deeper than thin strokes that the lens has blurred: strokes are
    # measured by their own crests.
    crests = depth[(depth >= local_maximum(depth, 7)) & (depth > 0.25)]
    if crests.size:
        depth /= np.float32(min(1.0, quantile_of(crests, 0.35)))
    return depth, contrast

"""What an art would look like as line art: tried on a small picture, and held against the art."""

from __future__ import annotations

import numpy as np
from PIL import Image

from filmhand.arrays import BoolArray, Float32Array
from filmhand.art.analysis.exact_flats import PaleInk
from filmhand.art.analysis.likeness import (
    Likeness,
    darkness,
    darkness_of_ink,
    filled_shapes,
    likeness_of,
)
from filmhand.art.analysis.page_regions import PageRegions
from filmhand.art.files.gray import WHITE, Codes
from filmhand.art.raster import block_sums, local_maximum, quantiles_of
from filmhand.art.repair.line_cleaning import prepare_line
from filmhand.pipeline.render.render_words import ScreenedAsTone
from filmhand.pipeline.render.seen_small import on_clear_film
from filmhand.values import dataclass

_CELLS = 350  # along the longer side
_LEAST_CELLS, _LEAST_LINE = 8, 40
_SOLID = 0.98
# Line art has to be like its art and may lose next to nothing; its ink is even where it is wide.
# The limits were set on open pictures that were looked at; they have no other source.
_LEAST_CORRELATION, _MOST_GONE, _MOST_GONE_ON_PAPER, _MOST_FILLED = 0.9, 0.01, 0.03, 0.03
_MOST_SPREAD, _MOST_SHADED, _MOST_LOST = 25.0, 0.03, 0.2
_SURE_CORRELATION, _SURE_SPREAD, _LEAST_PATTERN = 0.995, 12.0, 5.0


@dataclass(frozen=True, slots=True)
class LineOutcome:
    """Line art held against its art.

    Attributes
    ----------
    likeness : of dark marks on their ground
    light_gone : share of the art's light, beside its ink, that is lost as whole shapes
    spread : how far the darkness within wide ink goes apart, in percent of the ink's own
    shaded : how much darkness would be lost or added there, by that of all ink
    pattern : standard deviation of the art's lightness
    blank : nothing would print
    on_paper, grain : something was taken off as paper, and it has the grain of paper
    gradient : what would be taken off as paper is shaded without any grain
    """

    likeness: Likeness
    light_gone: float
    spread: float
    shaded: float
    pattern: float
    blank: bool
    on_paper: bool
    grain: bool
    gradient: bool

    def why_not(self) -> str:
        """Why the art cannot be line art, in a sentence; empty if it can."""
        gone = sum(shape.weight for shape in self.likeness.gone)
        most_gone = _MOST_GONE_ON_PAPER if self.grain else _MOST_GONE
        shaded = self.spread > _MOST_SPREAD and self.shaded > _MOST_SHADED
        like, lost, filled = self.likeness.correlation, self.likeness.lost, self.light_gone
        reasons = (
            (self.blank, ScreenedAsTone.BLANK, ""),
            (self.gradient, ScreenedAsTone.GRADIENT, ""),
            (like < _LEAST_CORRELATION, ScreenedAsTone.UNLIKE, f"{max(0, round(100 * like))}"),
            (gone > most_gone, ScreenedAsTone.SHAPES_LOST, f"{100 * gone:.2g}"),
            (
                lost > _MOST_LOST and not self.grain,
                ScreenedAsTone.DARKNESS_LOST,
                f"{100 * lost:.0f}",
            ),
            (filled > _MOST_FILLED, ScreenedAsTone.SHAPES_FILLED, f"{100 * filled:.2g}"),
            (shaded, ScreenedAsTone.SHADED, ""),
        )
        return next((why.say(percent=percent) for holds, why, percent in reasons if holds), "")

    @property
    def sure(self) -> bool:
        """Whether it is line art beyond doubt, whatever it looked like."""
        return (
            not self.blank
            and not self.gradient
            and self.pattern >= _LEAST_PATTERN
            and self.likeness.correlation >= _SURE_CORRELATION
            and not self.likeness.gone
            and self.light_gone == 0
            and self.spread < _SURE_SPREAD
        )


def line_outcome(
    seen: Codes,
    regions: PageRegions | None,
    *,
    drawn: bool,
    level: float,
    ink: PaleInk | None = None,
) -> LineOutcome:
    """Make the small picture line art and compare.

    Parameters
    ----------
    seen : (h, w) uint16 codes of the reduced art
    regions : the pictures of a mixed page, of which only what lies beside them counts
    level : share of ink above which film is solid
    """
    regions = None if regions is None else regions.of_copy(seen.shape)
    line = prepare_line(seen, drawn=drawn, ink=ink, regions=regions)
    film = (line.share > level * WHITE).astype(np.float32)
    if ink is not None:
        wanted = ink.brought_up(seen)
    elif line.paper is not None:
        wanted = on_clear_film(seen, line.paper.light)
    else:
        wanted = seen
    factor = max(1, -(-max(seen.shape) // _CELLS))
    tone = (1 - wanted.astype(np.float32) / np.float32(WHITE)).astype(np.float32)
    asked, made = _cells(tone, factor), _cells(film, factor)
    if regions is not None:
        beyond = _resized(regions.tone, made.shape)
        asked[beyond] = made[beyond] = 0
    # On a ground without grain there are no smudges: what is pale is meant.
    on_paper = line.paper is not None and line.paper.has_grain
    likeness = likeness_of(
        asked, made, least_cells=_LEAST_CELLS, least_line=_LEAST_LINE, on_paper=on_paper
    )
    dark, solid = darkness(asked), -local_maximum(-made, 5) > _SOLID
    of_ink = darkness_of_ink(asked, made)
    total = max(1e-6, float(darkness(made).sum(dtype=np.float64)))
    within = dark[solid] * (100 / of_ink)
    spread = float(np.ptp(quantiles_of(within, (0.05, 0.95)))) if within.size > 10 else 0.0
    shaded = float(np.abs(np.minimum(within, 125) - 100).sum(dtype=np.float64)) / total
    filled = filled_shapes(asked, made, least_cells=_LEAST_CELLS, least_line=_LEAST_LINE)
    return LineOutcome(
        likeness,
        sum(shape.weight for shape in filled),
        spread,
        shaded,
        float(dark.std()),
        blank=not film.any(),
        on_paper=line.paper is not None,
        grain=on_paper,
        gradient=line.paper is not None and regions is None and line.paper.is_gradient,
    )


def _cells(field: Float32Array, factor: int) -> Float32Array:
    means = block_sums(field, factor)
    means /= factor * factor
    return means


def _resized(mask: BoolArray, shape: tuple[int, ...]) -> BoolArray:
    """A mask at another size, True where any of it is."""
    size = shape[1], shape[0]
    image = Image.fromarray(mask.astype(np.uint8) * 255).resize(size, Image.Resampling.BOX)
    return np.asarray(image) > 0

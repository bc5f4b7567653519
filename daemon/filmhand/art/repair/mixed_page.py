"""A page of pictures and strokes made ready as one picture: clean strokes, even paper.

In the parts with strokes the picture holds ``1 - share of ink`` as its light, so that one threshold
cuts them; in the others it holds the picture, its light taken against that of the paper. Around a
picture lies a margin that belongs to it, in which bare paper becomes quite bare: so no box shows
where one part ends.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.art.analysis.auto_levels import auto_levels
from filmhand.art.analysis.page_regions import PageRegions
from filmhand.art.analysis.paper_estimate import PaperEstimate
from filmhand.art.files.gray import WHITE, Codes, codes_of_light, light_of_codes
from filmhand.art.raster import row_strips
from filmhand.art.repair.line_cleaning import ALL, Cleaning, EndPoints, prepare_line
from filmhand.art.repair.repair_note import Repair
from filmhand.values import dataclass

_STRIP_PIXELS = 400_000
_LEAST_PAPER = 0.8  # light in the margin, of the paper's, from which it is paper
_SAMPLED = 1_000_000


@dataclass(frozen=True, slots=True)
class MixedParts:
    """One picture in two kinds of parts.

    Attributes
    ----------
    coded : (H, W) uint16 sRGB-coded gray
    lines : (H, W) bool, where it is to be cut at a threshold
    levels : (black, white) codes of the tone parts, for ``endpoints: auto``
    notes : plain sentences for the record
    repairs : what was done to the paper around the pictures
    paper : what was taken off as paper; None for nothing
    """

    coded: Codes
    lines: BoolArray
    levels: tuple[int, int]
    notes: list[str]
    repairs: list[Repair]
    paper: PaperEstimate | None


def in_parts(
    coded: Codes,
    regions: PageRegions,
    *,
    drawn: bool,
    endpoints: EndPoints = "auto",
    cleaning: Cleaning = ALL,
) -> MixedParts:
    """The parts of a page, each made ready for what is done to it.

    coded : (H, W) uint16 sRGB-coded gray.
    regions : from :func:`~filmhand.art.analysis.page_regions.find_regions` of the same art.
    drawn, endpoints, cleaning : as in :func:`~filmhand.art.repair.line_cleaning.prepare_line`; the
        paper under the pictures is evened for "auto" alone.
    """
    line = prepare_line(coded, drawn=drawn, endpoints=endpoints, cleaning=cleaning, regions=regions)
    out, lines = line.share, np.empty(coded.shape, np.bool_)
    width = coded.shape[1]
    code_of, light_of = codes_of_light(), light_of_codes()
    for rows in row_strips(coded.shape, _STRIP_PIXELS):
        tone = regions.enlarged(regions.tone, rows, width)
        lines[rows] = ~tone
        strip = code_of[WHITE - out[rows]]
        if tone.any():
            part = coded[rows]
            if endpoints == "auto":
                light = light_of[part] / regions.enlarged(regions.paper, rows, width)
                margin = ~regions.enlarged(regions.inner, rows, width)
                light[margin & (light > _LEAST_PAPER)] = 1
                part = code_of[np.round(np.minimum(light, 1) * WHITE).astype(np.uint16)]
            strip[tone] = part[tone]
        out[rows] = strip
    levels = _levels(out, lines, regions, drawn=drawn)
    return MixedParts(out, lines, levels, line.notes, line.repairs, line.paper)


def _levels(
    coded: Codes, lines: BoolArray, regions: PageRegions, *, drawn: bool
) -> tuple[int, int]:
    step = max(1, int(np.sqrt(coded.size * regions.share / _SAMPLED)))
    sample = coded[::step, ::step][~lines[::step, ::step]]
    return auto_levels(sample[:, None], drawn=drawn)

"""Line art made ready to be cut: clean strokes on bare paper, an edge at every 50 %.

Drawn art needs nothing: its edges were averaged in code values, so the code is the share of ink.
Scans and photographs averaged light. There the paper is evened out, faint strokes are brought to
full ink, and grain that is much smaller than the strokes is taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from typing import Literal

import numpy as np

from filmhand.arrays import Float32Array, UInt8Array, UInt16Array, distinct
from filmhand.art.analysis.auto_levels import percentile_codes
from filmhand.art.analysis.exact_flats import PaleInk
from filmhand.art.analysis.page_regions import PageRegions
from filmhand.art.analysis.paper_estimate import (
    LEAST_SEEN,
    LookForPaper,
    PaperEstimate,
    PaperLook,
    estimate_paper,
    paper_factor,
    reduced_light,
)
from filmhand.art.analysis.ruled_lines import RuledLineEraser, RuledLines
from filmhand.art.files.gray import WHITE, Codes, light_of_codes
from filmhand.art.raster import (
    fill_gaps,
    grown,
    in_threads,
    local_maximum,
    looked_up,
    median_of,
    otsu,
    quantile_of,
    quantiles_of,
    row_strips,
    smooth,
)
from filmhand.art.repair.paper_shading import paper_sentence
from filmhand.art.repair.repair_note import Repair, RepairKind
from filmhand.art.repair.repair_words import RepairNote
from filmhand.art.repair.stroke_depth import Evener
from filmhand.values import dataclass

EndPoints = Literal["auto", "off"] | tuple[float, float]

_STRIP_PIXELS = 200_000
_BANDS, _BAND_ROWS = 20, 16
_LEAST_PAPER = 0.55
_FAINT = 0.8  # strokes that keep less than this of the paper's light back are brought up
_LEAST_DEPTH = 0.04
_MOST_PASSES = 3
_LEFT_BY_ONE_PASS = 0.375  # of the noise


@dataclass(slots=True)
class LineArt:
    """Line art ready to be resampled and cut.

    share : (H, W) uint16, share of ink: 0 bare, 65535 solid; the edge is the contour at half.
    notes : plain sentences for the record.
    repairs : what was done, whose sentences stand among the notes too.
    paper : what was taken off as paper; None for nothing.
    gain : how much fainter strokes were than ink, and so were brought up.
    """

    share: UInt16Array
    notes: list[str] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    paper: PaperEstimate | None = None
    gain: float = 1.0


@dataclass(frozen=True, slots=True)
class Cleaning:
    """Which repairs of drawings on paper may be done.

    light : uneven light is evened out
    paper : tinted paper becomes bare film, its grain and specks are taken off
    faded : faint strokes are brought up to full ink
    """

    light: bool = True
    paper: bool = True
    faded: bool = True

    @property
    def nothing(self) -> bool:
        """Whether all of them are off."""
        return not (self.light or self.paper or self.faded)


ALL = Cleaning()


def prepare_line(
    coded: Codes,
    *,
    drawn: bool,
    endpoints: EndPoints = "auto",
    cleaning: Cleaning = ALL,
    rules: Sequence[RuledLines] = (),
    regions: PageRegions | None = None,
    ink: PaleInk | None = None,
    plan: LinePlan | None = None,
) -> LineArt:
    """The ink share of line art.

    Parameters
    ----------
    coded : (H, W) uint16
        sRGB-coded gray, 0 black to 65535 white.
    drawn : bool
        True for computer-drawn art: its code values are the share already.
    endpoints : "auto", "off" or (black %, white %)
        "auto" evens paper, brings up faint strokes and takes off grain where the art is a scan
        of a drawing on paper. "off" gives exactly 65535 - code. Two numbers stretch so that
        these shares of the pixels are clipped at either end.
    cleaning : Cleaning
        What "auto" may do.
    rules : of writing paper, to be taken off
    regions : parts that are tone, to be taken for bare paper
    ink : of drawn art, to be brought up to solid
    plan : from :func:`plan_line` of the same art, where somebody has that
    """
    if isinstance(endpoints, tuple):
        return _stretched(coded, endpoints)
    if endpoints == "auto" and ink is not None and cleaning.faded:
        return _inked(coded, ink)
    if endpoints == "off" or (drawn and not rules):
        return LineArt(WHITE - coded)
    return _from_paper(
        coded, cleaning, plan or plan_line(coded, cleaning, rules=rules, regions=regions)
    )


def _stretched(coded: Codes, ends: tuple[float, float]) -> LineArt:
    black, white = percentile_codes(coded, black=ends[0], white=ends[1])
    if white <= black:
        return LineArt(WHITE - coded)
    codes = np.arange(65536)
    table = np.round(np.clip((white - codes) / (white - black), 0, 1) * WHITE).astype(np.uint16)
    note = RepairNote.CLIPPED.say(
        black=f"{black / 257:.0f}",
        white=f"{white / 257:.0f}",
        solid=f"{ends[0]:g}",
        clear=f"{ends[1]:g}",
    )
    return LineArt(looked_up(table, coded), [note])


def _inked(coded: Codes, ink: PaleInk) -> LineArt:
    found = round(100 * ink.tone)
    say = RepairNote.INK_BROUGHT_UP.say(tone=found)
    done = [Repair(RepairKind.FADED, found, "% tone", say)]
    share = ink.brought_up(coded)
    np.subtract(WHITE, share, out=share)  # in its place: large art has no room for one more
    return LineArt(share, [say], done)


@dataclass(frozen=True, slots=True)
class LinePlan:
    """What is to be done to strokes on paper: the paper, depths above it, and what they ask for.

    All three are None where there is too little paper, or nothing may be done.
    """

    paper: PaperEstimate | None = None
    evener: Evener | None = None
    recipe: _Recipe | None = None

    @property
    def gain(self) -> float:
        """How much fainter strokes are than ink."""
        return self.recipe.gain if self.recipe is not None else 1.0


def plan_line(
    coded: Codes,
    cleaning: Cleaning,
    *,
    rules: Sequence[RuledLines] = (),
    regions: PageRegions | None = None,
    look: LookForPaper | None = None,
) -> LinePlan:
    """Look for the paper under line art, and measure its strokes.

    coded, cleaning, rules, regions : as of :func:`prepare_line`
    look : gives :meth:`~filmhand.art.analysis.paper_estimate.PaperLook.at` of ``coded``, where
        somebody has that
    """
    if regions is not None:
        paper = _paper_beside(coded, regions)
    else:
        paper = (PaperLook.at(coded) if look is None else look()).estimate
    if paper is None or paper.paper_share < _LEAST_PAPER or cleaning.nothing:
        return LinePlan()
    if not cleaning.light:
        paper = replace(paper, light=np.full_like(paper.light, median_of(paper.light)))
    evener = Evener(coded, paper, regions)
    if rules:
        reach = 2 * max(1, -(-max(coded.shape) // max(one.height for one in rules)))
        evener.eraser = RuledLineEraser(rules, evener.depth, coded.shape, reach=reach)
    recipe = _measure(evener)
    if not cleaning.faded:
        recipe = replace(recipe, gain=1.0)
    if not cleaning.paper:
        recipe = replace(recipe, passes=0, speck=0, tint=float(paper.light.max()))
    return LinePlan(paper, evener, recipe)


def _from_paper(coded: Codes, cleaning: Cleaning, plan: LinePlan) -> LineArt:
    paper, evener, recipe = plan.paper, plan.evener, plan.recipe
    if paper is None or evener is None or recipe is None:
        dark = np.round((1 - light_of_codes()) * WHITE).astype(np.uint16)
        notes = [] if cleaning.nothing else [RepairNote.NO_PAPER.say()]
        return LineArt(looked_up(dark, coded), notes)
    share = np.empty_like(coded)

    def one(rows: slice) -> None:
        share[rows] = _cleaned(evener, recipe, rows.start, rows.stop)

    in_threads(one, row_strips(coded.shape, _STRIP_PIXELS, least=16))
    done = recipe.repairs(paper, cleaning)
    notes = [repair.say for repair in done] + recipe.notes()
    if evener.eraser is not None:
        notes.append(RepairNote.RULES_TAKEN_OFF.say())
    return LineArt(share, notes, done, paper, recipe.gain)


def _paper_beside(coded: Codes, regions: PageRegions) -> PaperEstimate | None:
    """The paper beside the pictures of a page, or None where none is found."""
    factor = paper_factor(coded)
    if min(coded.shape) // factor < LEAST_SEEN:
        return None
    small = reduced_light(coded, factor)
    small = fill_gaps(small, grown(regions.resampled(small.shape), 2))
    return estimate_paper(small, factor=factor)


@dataclass(frozen=True, slots=True)
class _Recipe:
    """What was measured on the strokes: smoothing passes, gain to full ink, speck limit.

    ``tint`` is the light of paper that is to stay as dark as it is, 1 where it becomes bare.
    """

    passes: int
    gain: float
    core: float
    speck: int
    tint: float = 1.0

    def repairs(self, paper: PaperEstimate, cleaning: Cleaning) -> list[Repair]:
        uneven, lightest = float(paper.light.min() / paper.light.max()), paper.light.max()
        done = paper_sentence(
            uneven=uneven if uneven < 0.9 else None,
            tint=float(lightest) if cleaning.paper and lightest < 0.8 else None,
        )
        if self.gain > 1.01:
            say = RepairNote.STROKES_BROUGHT_UP.say(share=f"{100 * self.core:.0f}")
            done.append(
                Repair(RepairKind.FADED, round(100 * self.core), "% darker than the paper", say)
            )
        return done

    def notes(self) -> list[str]:
        notes = [] if self.core else [RepairNote.NO_STROKE.say()]
        if self.passes:
            notes.append(RepairNote.GRAIN_SMOOTHED.say())
        if self.speck:
            notes.append(RepairNote.SPECKS_TAKEN_OFF.say())
        return notes


def _measure(evener: Evener) -> _Recipe:
    """Depth of the strokes, their width and the grain, on bands of rows at full resolution."""
    height = evener.coded.shape[0]
    rows = min(_BAND_ROWS, height)
    tops = distinct(np.linspace(0, height - rows, _BANDS).astype(int))
    bands = [evener.depth(top, top + rows) for top in tops]
    soft = [smooth(band) for band in bands]
    core = _core_depth(soft)
    if core is None:
        return _Recipe(passes=1, gain=1.0, core=0.0, speck=2)
    noise = _noise(bands, core)
    if noise < 0.12 * core:
        # Smoothing makes thin strokes shallower; without much grain it is not needed.
        core = _core_depth(bands) or core
    passes = next(
        (n for n, left in enumerate((1.0, _LEFT_BY_ONE_PASS, 0.27)) if noise * left < 0.08 * core),
        3,
    )
    width = _stroke_width(soft, core / 2)
    if width < 3:
        passes = min(passes, 1)
    if noise < 0.12 * core and not passes:
        cut = _cut(bands, core, noise)
    else:
        cut = _cut(soft, core, _LEFT_BY_ONE_PASS * noise)
    gain = 0.5 / cut
    speck = int(np.clip((width / 2.2) ** 2, 2, 40)) if noise > 0.02 * core else 0
    return _Recipe(min(passes, _MOST_PASSES), gain, core, speck)


def _core_depth(soft: list[Float32Array]) -> float | None:
    """How deep the strokes are where they are deepest: a low quantile over the crests."""
    sample = np.concatenate([band.ravel()[::3] for band in soft])
    counts, edges = np.histogram(sample, 512, (-0.2, 1.0))
    middle = median_of(sample)
    grain = median_of(np.abs(sample - middle)) * 1.4826
    # Few strokes on much grain would pull the threshold into the grain.
    threshold = max(float(edges[otsu(counts) + 1]), middle + 4.5 * grain, _LEAST_DEPTH)
    deep = _crests(soft, threshold)
    if deep.size < max(4, 6e-5 * sample.size):
        return None
    return quantile_of(deep, 0.35)


def _cut(bands: list[Float32Array], core: float, noise: float) -> float:
    """The depth at which strokes are as wide as they are: half of that of their ink, up to 0.5.

    A lens makes thin strokes shallower, so that at half of their own depth they are too wide. Ink
    is as deep as the deepest of it; but nearly all strokes have to stay.
    """
    crests = _crests(bands, core / 2)
    if not crests.size:
        return min(0.5, core / 2)
    low, deep = quantiles_of(crests, (0.05, 0.98))
    half = 0.5 if core >= _FAINT else float(deep) / 2 - noise  # the deepest are so by noise too
    return min(0.5, max(core / 2, min(half, 0.9 * float(low))))


def _crests(bands: list[Float32Array], deeper_than: float) -> Float32Array:
    """The depths at the local maxima, along the middles of strokes."""
    found = [b[(b >= local_maximum(b, 7)) & (b > deeper_than)] for b in bands]
    return np.concatenate(found)


def _noise(bands: list[Float32Array], core: float) -> float:
    grain = np.concatenate(
        [(band - smooth(smooth(band)))[band < 0.5 * core].ravel()[::3] for band in bands]
    )
    return median_of(np.abs(grain)) * 1.4826 * 1.1 if grain.size else 0.0


def _stroke_width(soft: list[Float32Array], cut: float) -> float:
    """Width of strokes in pixels: inked area over half the number of edges, across and down.

    A straight stroke of width w at any angle shows (|sin| + |cos|) edge pixels a unit length and
    side; 4/pi is the mean of that over all angles.
    """
    inked = edges = 0
    for band in soft:
        ink = band > cut
        inked += int(ink.sum())
        edges += int((ink[1:] != ink[:-1]).sum()) + int((ink[:, 1:] != ink[:, :-1]).sum())
    return inked / max(1.0, edges / 2) * (4 / np.pi)


def _cleaned(evener: Evener, recipe: _Recipe, top: int, bottom: int) -> UInt16Array:
    pad = recipe.passes + (4 if recipe.speck else 0)
    start, end = max(0, top - pad), min(evener.coded.shape[0], bottom + pad)
    depth = evener.depth(start, end)
    for _ in range(recipe.passes):
        depth = smooth(depth)
    depth *= np.float32(recipe.gain * WHITE * recipe.tint)
    if recipe.tint < 1:
        depth += np.float32(WHITE * (1 - recipe.tint))
    np.clip(depth, 0, WHITE, out=depth)
    share = (depth + np.float32(0.5)).astype(np.uint16)
    if recipe.speck:
        share = _despeckled(share, recipe.speck)
    return share[top - start : share.shape[0] - (end - bottom)]


def _despeckled(share: UInt16Array, speck: int) -> UInt16Array:
    """Ink with fewer than ``speck`` inked pixels in the 9 x 9 around it is put below the edge."""
    ink = share > WHITE // 2
    if not ink.any():
        return share
    count = np.pad(ink, 4).astype(np.uint8)
    count = _sum_of_9(_sum_of_9(count).T).T
    alone = ink & (count < speck)
    share[alone] = WHITE // 3
    return share


def _sum_of_9(count: UInt8Array) -> UInt8Array:
    """Sums of nine rows by doubling; at most 81, so eight bits are enough."""
    two = count[:-1] + count[1:]
    four = two[:-2] + two[2:]
    eight = four[:-4] + four[4:]
    return eight[:-1] + count[8:]

"""What an art is - photo, drawing, text, mixed page, screened print, flat tints, signature - and
with that how it is treated.

:mod:`filmhand.art.analysis.tone_or_line` parts tone from line. Here the two are named more closely,
and three kinds are treated otherwise than as a whole: a mixed page part by part, a signature
without the rules under it, and flat tints as tone where they were scanned.

The limits were set on one half of a labeled set (``tests/outside/kinds_set.py``) and are held
against the other half; they have no other source.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import Literal

import numpy as np

from filmhand.arrays import BoolArray, Float32Array
from filmhand.art.analysis.exact_flats import PaleInk, find_pale_ink
from filmhand.art.analysis.page_marks import PageMarks, find_marks
from filmhand.art.analysis.page_regions import PageRegions, find_regions
from filmhand.art.analysis.reading_words import ReadingNote
from filmhand.art.analysis.reduced_image import ReducedImage
from filmhand.art.analysis.ruled_lines import RuledLines, find_ruled_lines, near_ruled_lines
from filmhand.art.analysis.tone_or_line import ToneOrLine, is_clouded, tone_or_line_of
from filmhand.art.files.gray import Codes, light_of_codes
from filmhand.art.raster import local_maximum, median_of, quantile_of, smooth
from filmhand.art.repair.descreen import ScreenedBefore, find_earlier_screen
from filmhand.values import dataclass

Treatment = Literal["tone", "line", "mixed"]

# Marks up to these shares of the longer side can be letters.
_LETTER_HIGH, _LETTER_WIDE = 0.09, 0.2
_LEAST_LETTERS, _LEAST_SHARE = 12, 0.8
_MANY_LETTERS, _SHARE_OF_MANY = 60, 0.4
_FEW_LETTERS, _SHARE_OF_FEW = 25, 0.3  # on stained paper, so that it is no photograph
_LETTERS_BESIDE_PICTURES, _PAPER_BESIDE_PICTURES, _MOST_PICTURES = (25, 100), 0.6, 0.65
_FRAME = 0.05
_PAPER_UNDER_RULES = 0.75
_PLACES = 300
_INK_ON_RULES, _LEAST_INK, _PALER_THAN_INK = 0.002, 0.12, 0.75
_FLAT_RANGE, _FLAT_SHARE = 0.06, 0.8
_FLAT_BINS, _FLAT_MASS, _FEW_BINS = 100, 0.98, 24
# A shade: it changes within seven pixels, and not much more within fifteen, so it is no edge.
_SHADE_RANGE, _SHADE_AROUND, _MOST_SHADES = (0.03, 0.12), 0.15, 0.03
_TINT = (0.4, 0.93)  # codes, of the paper, that are neither solid nor bare
_LEAST_TINT, _LEAST_ONLY_TINT, _LEAST_SOLID = 0.01, 0.08, 0.01


class ArtKind(StrEnum):
    """The kinds of art that are told apart."""

    PHOTO = "photo"
    DRAWING = "drawing"
    TEXT = "text"
    MIXED = "mixed"
    SCREENED = "screened"
    FLAT = "flat"
    SIGNATURE = "signature"


@dataclass(frozen=True, slots=True)
class Reading:
    """What an art was taken for.

    Attributes
    ----------
    kind, treat : what it is, and how it is treated if the profile does not say otherwise
    why : plain sentences for the record
    screen : of an art that was screened already
    regions : of a mixed page
    rules : of the paper under a signature
    ink : of line art that is drawn in one ink paler than black
    """

    kind: ArtKind
    treat: Treatment
    why: list[str]
    screen: ScreenedBefore | None = None
    regions: PageRegions | None = None
    rules: tuple[RuledLines, ...] = ()
    ink: PaleInk | None = None

    @property
    def has_places(self) -> bool:
        """Whether it tells where things lie in the art, and so holds for that picture only."""
        return self.regions is not None or bool(self.rules)


def classify(coded: Codes, *, drawn: bool | None = None, screenless: bool = False) -> Reading:
    """What an art is, from a copy of about a megapixel and five windows at full size.

    coded : (H, W) uint16 sRGB-coded gray.
    drawn : what :func:`~filmhand.art.analysis.exact_flats.looks_drawn` says of it, where that is
        known.
    screenless : True where :func:`~filmhand.art.repair.descreen.find_earlier_screen` has found
        none in it.
    """
    look = ReducedImage.at(coded, drawn=drawn)
    ink = find_pale_ink(coded) if look.drawn else None
    if ink is None:
        return _classified(look, screenless=screenless)
    # Flat art in one ink is line art, whatever its lightness: judged as if that were black.
    reading = _classified(ReducedImage.at(ink.brought_up(coded), drawn=True))
    if reading.treat == "line":
        return replace(reading, ink=ink)
    return _classified(look, screenless=screenless)


def _classified(look: ReducedImage, *, screenless: bool = False) -> Reading:
    verdict = tone_or_line_of(look)
    if look.narrow:
        return Reading(ArtKind.PHOTO, verdict.treat, [verdict.why])
    return (
        _signature(look)
        or (None if screenless else _screened(look, verdict))
        or _flat(look, verdict)
        or _mixed(look, verdict)
        or _plain(look, verdict)
    )


def read_mixed(coded: Codes, *, drawn: bool | None = None) -> Reading | None:
    """An art that is to be treated part by part; None where it has no pictures on paper."""
    look = ReducedImage.at(coded, drawn=drawn)
    regions = None if look.narrow or look.dark else _regions(look)
    return None if regions is None else _in_parts(regions)


def _signature(look: ReducedImage) -> Reading | None:
    """Ink over the rules of writing paper."""
    if (
        look.dark
        or look.paper_estimate is None
        or look.paper_estimate.paper_share < _PAPER_UNDER_RULES
    ):
        return None
    share = (look.small / np.maximum(look.paper_estimate.light, 1e-4)).astype(np.float32)
    depth = 1 - np.clip(share, 0, 1)
    rules = find_ruled_lines(depth)
    if not rules:
        return None
    soft = smooth(depth)
    besides = soft[~near_ruled_lines(depth.shape, rules)]
    deep = besides[besides > _LEAST_INK]
    if deep.size < _INK_ON_RULES * soft.size:
        return None
    # Thin lines look pale where they are reduced, so the two are compared at full size.
    seen = depth > 0.5 * min(one.depth for one in rules)
    on_rules = near_ruled_lines(depth.shape, rules, grown=0) & seen
    strokes = ~near_ruled_lines(depth.shape, rules) & (soft > quantile_of(deep, 0.75))
    if _depth_at(look, on_rules) > _PALER_THAN_INK * _depth_at(look, strokes):
        return None
    count = sum(len(one.place) for one in rules)
    why = ReadingNote.SIGNATURE.say(count=count)
    return Reading(ArtKind.SIGNATURE, "line", [why], rules=tuple(rules))


def _depth_at(look: ReducedImage, where: BoolArray) -> float:
    """How deep the darkest pixels are, at full size, around places of the small picture."""
    assert look.paper_estimate is not None
    rows, columns = np.nonzero(where)
    step = max(1, len(rows) // _PLACES)
    by, found = look.factor, []
    for row, column in zip(rows[::step], columns[::step], strict=True):
        part = look.coded[max(0, row - 1) * by : (row + 2) * by, column * by : (column + 1) * by]
        light = float(light_of_codes()[part.min()])
        found.append(1 - light / max(1e-4, float(look.paper_estimate.light[row, column])))
    return median_of(found) if found else 0.0


def _screened(look: ReducedImage, verdict: ToneOrLine) -> Reading | None:
    screen = find_earlier_screen(look.coded)
    if screen is None:
        return None
    why = ReadingNote.SCREENED_BEFORE.say(
        period=f"{screen.period:.1f}", angle=f"{screen.angle:.0f}"
    )
    return Reading(ArtKind.SCREENED, verdict.treat, [verdict.why, why], screen=screen)


def _flat(look: ReducedImage, verdict: ToneOrLine) -> Reading | None:
    """Shapes of even tints, with sharp edges and little else."""
    soft = look.soft
    # As it would be in even light; what cannot be line art also as it is.
    codes = [_codes(soft)] if verdict.treat == "tone" else []
    if not look.dark and look.paper is not None:
        codes.append(_codes((soft / look.paper).astype(np.float32)))
    for code in codes:
        flat = _even_tints(code)
        if flat is not None:
            return _of_tints(code, flat, verdict)
    return None


def _codes(light: Float32Array) -> Float32Array:
    return (np.clip(light, 0, 1.3) ** (1 / 2.2)).astype(np.float32)


def _even_tints(code: Float32Array) -> BoolArray | None:
    """Where an art is even, if nearly all of it is, on few codes and without soft shades."""
    within = local_maximum(code, 7) + local_maximum(-code, 7)
    flat: BoolArray = within < _FLAT_RANGE
    if float(flat.mean()) < _FLAT_SHARE or not _on_few_codes(code[flat]):
        return None
    around = local_maximum(code, 15) + local_maximum(-code, 15)
    shades = (within >= _SHADE_RANGE[0]) & (within < _SHADE_RANGE[1]) & (around < _SHADE_AROUND)
    return None if float(shades.mean()) > _MOST_SHADES else flat


def _of_tints(code: Float32Array, flat: BoolArray, verdict: ToneOrLine) -> Reading | None:
    tint = float((flat & (code > _TINT[0]) & (code < _TINT[1])).mean())
    solid = float((flat & (code <= _TINT[0])).mean())
    if tint < _LEAST_TINT:
        return None
    if verdict.treat == "line" and solid < _LEAST_SOLID and tint < _LEAST_ONLY_TINT:
        return None  # faint strokes that are wide here and there
    why = verdict.why
    if verdict.treat == "line":
        why = ReadingNote.EVEN_TINTS.say(share=f"{100 * tint:.2g}")
    return Reading(ArtKind.FLAT, "tone", [why, ReadingNote.FLATS.say()])


def _on_few_codes(codes: Float32Array) -> bool:
    """True if nearly all stand on a few codes, as chosen tints do."""
    counts, _ = np.histogram(codes, round(1.3 * _FLAT_BINS), (0, 1.3))
    ordered = np.cumsum(np.sort(counts)[::-1])
    return int(np.searchsorted(ordered, _FLAT_MASS * ordered[-1])) + 1 <= _FEW_BINS


def _mixed(look: ReducedImage, verdict: ToneOrLine) -> Reading | None:
    """Pictures on a page, with letters beside them; what is left without them is line art."""
    if look.dark:
        return None
    regions = _regions(look)
    if regions is None or regions.share > _MOST_PICTURES:
        return None
    code = np.clip(smooth(look.small) / regions.paper, 0, 1) ** (1 / 2.2)
    if float((code[~regions.tone] > 0.9).mean()) < _PAPER_BESIDE_PICTURES:
        return None
    # The table under a photographed page may show along the frame, which says nothing of the page.
    beside = regions.tone | _along_frame(regions.tone.shape)
    if tone_or_line_of(look.papered(beside, regions.paper)).treat != "line":
        return None
    outside = find_marks((code < 0.75) & ~regions.tone)
    # What could be line art as a whole must be a page beyond doubt.
    least = _LETTERS_BESIDE_PICTURES[verdict.treat == "line"]
    if int(_letters(outside, look.small.shape).sum()) < least:
        return None
    return _in_parts(regions)


def _along_frame(shape: tuple[int, ...]) -> BoolArray:
    """(h, w) bool: True within a small share of the longer side from the frame."""
    band = round(_FRAME * max(shape))
    found = np.ones(shape, np.bool_)
    found[band : shape[0] - band, band : shape[1] - band] = False
    return found


def _regions(look: ReducedImage) -> PageRegions | None:
    return find_regions(look.soft, look.closed, look.paper, factor=look.factor)


def _in_parts(regions: PageRegions) -> Reading:
    why = ReadingNote.MIXED.say(share=f"{100 * regions.share:.0f}")
    return Reading(ArtKind.MIXED, "mixed", [why], regions=regions)


def _plain(look: ReducedImage, verdict: ToneOrLine) -> Reading:
    if verdict.treat == "tone":
        return Reading(ArtKind.PHOTO, "tone", [verdict.why])
    marks = find_marks(look.inked_depth[0] > 0.5)
    letters = _letters(marks, look.small.shape)
    share = float(marks.area[letters].sum()) / max(1, int(marks.area.sum()))
    count = int(letters.sum())
    text = (count >= _LEAST_LETTERS and share >= _LEAST_SHARE) or (
        count >= _MANY_LETTERS and share >= _SHARE_OF_MANY
    )
    if text:
        return Reading(ArtKind.TEXT, "line", [verdict.why, ReadingNote.TEXT.say()])
    lettered = count >= _FEW_LETTERS and share >= _SHARE_OF_FEW
    if not look.drawn and not lettered and is_clouded(look):
        return Reading(ArtKind.PHOTO, "tone", [ReadingNote.CLOUDED.say()])
    return Reading(ArtKind.DRAWING, "line", [verdict.why])


def _letters(marks: PageMarks, shape: tuple[int, ...]) -> BoolArray:
    side = max(shape)
    small = (marks.height < _LETTER_HIGH * side) & (marks.width < _LETTER_WIDE * side)
    found: BoolArray = small & (marks.area >= 4)
    return found

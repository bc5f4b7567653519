"""What of the smallest dots, shadow dots, lines and gaps is there, and how far edges have moved."""

from __future__ import annotations

import numpy as np

from filmhand.reading.reading import SizesHeld
from filmhand.reading.small_depths import clear_depth, field_parts, seen_depths
from filmhand.reading.tones import EvenedWedge
from filmhand.reading.windows import RepeatedCell
from filmhand.sheet.wedge_layout import PITCH, FeatureKind, WedgeField, WedgeLayout
from filmhand.sheet.wedge_places import BoxMm
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

# A thing is there where its middle lies by at least this part so far from ground to ink, or from
# solid to ground, as a picture so soft shows it of one whose edges lie as far out as those of wide
# lines: what ink that ran took of an opening's area does not count (common practice, no source).
_THERE = 0.4
_MISSING = 0.1  # of all in a field at most, or one of at least four, which a speck of dust takes
_FEW = 4
# By so much of that way what lies between them differs, or they have run together.
_PARTED = 0.06
_LEAST_SEEN = 0.08  # of that way in any case: haze and noise are no openings
# Softer pictures show less of a thing than can be told from its neighbors and from noise.
_LEAST_CLEAR = 0.15
_PITCH_PX = 3.0  # pixels from one to the next, so that they can be told from a smear
_RIM_MM = 0.3
_EDGES_UM = 140.0  # of lines whose edges tell how far ink ran: finer ones may be lost
_KEYS = {
    FeatureKind.DOTS: "dots",
    FeatureKind.SHADOW_DOTS: "shadow_dots",
    FeatureKind.LINES: "lines",
    FeatureKind.GAPS: "gaps",
}


@dataclass(frozen=True, slots=True)
class SmallThings:
    """What small things told.

    Attributes
    ----------
    held : the smallest size of each kind of which it and all larger ones are there
    too_coarse : sizes in micrometers, by kind, below which the picture tells nothing
    none_held : kinds of which the picture shows some and not even the largest was there
    growth_um : by how much edges lie further out than drawn: of upright lines, and of lying ones;
        None without lines
    """

    held: SizesHeld
    too_coarse: dict[FeatureKind, float]
    none_held: tuple[FeatureKind, ...]
    growth_um: tuple[float, float] | None


def look_at_small_things(
    wedge: EvenedWedge, layout: WedgeLayout, dpi: PixelsPerInch, *, blur_mm: float
) -> SmallThings:
    """What is there of a wedge's fields of small things.

    Parameters
    ----------
    dpi : device pixels per inch of acetate
    blur_mm : the spread of edges in the picture, as a standard deviation
    """
    growth = _growth(wedge, layout, dpi)
    ran_mm = max(0.0, float(np.mean(growth)) / 1000) if growth else 0.0
    held: dict[str, float | None] = {}
    none: list[FeatureKind] = []
    coarse: dict[FeatureKind, float] = {}
    for kind in FeatureKind:
        smallest = None
        for field in reversed(layout.of_kind(kind)):
            if not _can_be_told(wedge, field, dpi, blur_mm):
                coarse[kind] = field.size_um
                break
            there = _is_there(wedge, field, dpi, blur_mm, ran_mm)
            if there is None:
                continue
            if not there:
                if smallest is None:
                    none.append(kind)
                break
            smallest = field.size_um
        held[_KEYS[kind]] = smallest
    return SmallThings(SizesHeld(**held), coarse, tuple(none), growth)


def _pixel_mm(wedge: EvenedWedge, field: WedgeField) -> float:
    return 25.4 / wedge.picture.ppi_at(field.box.left, field.box.top)


def _can_be_told(wedge: EvenedWedge, field: WedgeField, dpi: PixelsPerInch, blur_mm: float) -> bool:
    """Whether the picture is fine and sharp enough to part what stands in a field."""
    across, down = (
        25.4 * one / side for one, side in zip(field.pixels, (dpi.x, dpi.y), strict=True)
    )
    pixel = _pixel_mm(wedge, field)
    fine = PITCH * min(across, down) >= _PITCH_PX * pixel
    return fine and clear_depth(field, pixel, blur_mm) >= _LEAST_CLEAR


def _is_there(
    wedge: EvenedWedge, field: WedgeField, dpi: PixelsPerInch, blur_mm: float, ran_mm: float
) -> bool | None:
    """Whether nearly all of a field is there; None where the picture shows too little of it."""
    pixel = _pixel_mm(wedge, field)
    closed = 0.0 if field.kind.is_ink else 2 * ran_mm
    least = max(_LEAST_SEEN, _THERE * clear_depth(field, pixel, blur_mm, closed_mm=closed))
    for part in field_parts(field):
        seen = seen_depths(wedge, field, part, dpi, pixel)
        if seen is None:
            return None
        depths, between = seen
        lacking = int((depths < least).sum())
        spared = max(_MISSING * len(depths), 1 if len(depths) >= _FEW else 0)
        if lacking > spared or float(np.median(depths)) - between < _PARTED:
            return False
    return True


def _cell(field: WedgeField, dpi: PixelsPerInch, *, upright: bool) -> RepeatedCell:
    """What repeats: across of upright lines, down of lying ones."""
    across, down = (
        PITCH * one / side * 25.4 for one, side in zip(field.pixels, (dpi.x, dpi.y), strict=True)
    )
    return (
        RepeatedCell((across, 0.0), (0.0, 0.0))
        if upright
        else RepeatedCell((0.0, 0.0), (0.0, down))
    )


def _line_boxes(field: WedgeField) -> list[tuple[BoxMm, bool]]:
    """The boxes of a field of lines whose areas are read, and whether they stand upright there."""
    box = field.box
    rim = min(_RIM_MM, 0.1 * box.width)
    half = box.width / 2
    left = BoxMm(box.left, box.top, half, box.height)
    # Lying lines begin a line's width further in.
    apart = max(0.0, field.size_um / 1000 - rim)
    right = BoxMm(box.left + half + apart, box.top, half - apart, box.height)
    return [(left.inside(rim), True), (right.inside(rim), False)]


def _growth(
    wedge: EvenedWedge, layout: WedgeLayout, dpi: PixelsPerInch
) -> tuple[float, float] | None:
    """By how much edges lie further out, in micrometers, from the area of wide lines and gaps.

    A line gains its growth at both edges: the area grows by twice that over the pitch.
    """
    found: dict[bool, list[float]] = {True: [], False: []}
    for field in (*layout.of_kind(FeatureKind.LINES), *layout.of_kind(FeatureKind.GAPS)):
        if field.size_um < _EDGES_UM:
            continue
        for box, upright in _line_boxes(field):
            cell = _cell(field, dpi, upright=upright)
            if not cell.fits(box):
                continue
            side, pixels = (dpi.x, field.pixels[0]) if upright else (dpi.y, field.pixels[1])
            pitch_um = PITCH * pixels / side * 25400
            tone, _ = wedge.tone(box, cell)
            drawn = 1 / PITCH if field.kind.is_ink else 1 - 1 / PITCH
            found[upright].append((tone / 100 - drawn) * pitch_um / 2)
    if not found[True] or not found[False]:
        return None
    return float(np.median(found[True])), float(np.median(found[False]))

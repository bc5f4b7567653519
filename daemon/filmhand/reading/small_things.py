"""What of the smallest dots, shadow dots, lines and gaps is there, and how far edges have moved."""

from __future__ import annotations

import numpy as np

from filmhand.reading.reading import SizesHeld
from filmhand.reading.tones import EvenedWedge
from filmhand.reading.windows import RepeatedCell
from filmhand.sheet.wedge_layout import PITCH, FeatureKind, WedgeField, WedgeLayout, round_dot
from filmhand.sheet.wedge_places import BoxMm
from filmhand.units import PixelsPerInch
from filmhand.values import dataclass

_HELD = 0.5  # of what is drawn must be there
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
    growth_um : by how much edges lie further out than drawn: of upright lines, and of lying ones;
        None without lines
    """

    held: SizesHeld
    too_coarse: dict[FeatureKind, float]
    growth_um: tuple[float, float] | None


def look_at_small_things(
    wedge: EvenedWedge, layout: WedgeLayout, dpi: PixelsPerInch
) -> SmallThings:
    """What is there of a wedge's fields of small things.

    Parameters
    ----------
    dpi : device pixels per inch of acetate
    """
    held: dict[str, float | None] = {}
    coarse: dict[FeatureKind, float] = {}
    for kind in FeatureKind:
        smallest = None
        for field in reversed(layout.of_kind(kind)):
            if _pitch_mm(field, dpi) * _pixels_per_mm(wedge, field) < _PITCH_PX:
                coarse[kind] = field.size_um
                break
            there = _share_there(wedge, field, dpi)
            if there is None:
                continue
            if there < _HELD:
                break
            smallest = field.size_um
        held[_KEYS[kind]] = smallest
    return SmallThings(SizesHeld(**held), coarse, _growth(wedge, layout, dpi))


def _pitch_mm(field: WedgeField, dpi: PixelsPerInch) -> float:
    """From one small thing to the next, in the direction in which they lie closer."""
    across, down = field.pixels
    return PITCH * 25.4 * min(across / dpi.x, down / dpi.y)


def _pixels_per_mm(wedge: EvenedWedge, field: WedgeField) -> float:
    return wedge.picture.ppi_at(field.box.left, field.box.top) / 25.4


def _cell(field: WedgeField, dpi: PixelsPerInch, *, upright: bool | None) -> RepeatedCell:
    """What repeats: both ways of dots, across of upright lines, down of lying ones."""
    across, down = (
        PITCH * one / side * 25.4 for one, side in zip(field.pixels, (dpi.x, dpi.y), strict=True)
    )
    if upright is None:
        return RepeatedCell((across, 0.0), (0.0, down))
    return (
        RepeatedCell((across, 0.0), (0.0, 0.0))
        if upright
        else RepeatedCell((0.0, 0.0), (0.0, down))
    )


def _drawn_share(field: WedgeField) -> float:
    """The share of its field that a kind of small thing covers as drawn, 0..1."""
    if not field.kind.is_round:
        return 1 / PITCH
    columns, rows = field.pixels
    return float(round_dot(columns, rows).sum()) / (PITCH**2 * columns * rows)


def _parts(field: WedgeField) -> list[tuple[BoxMm, bool | None]]:
    """The boxes of a field that are read, and whether lines stand upright in them."""
    box = field.box
    rim = min(_RIM_MM, 0.1 * box.width)
    if field.kind.is_round:
        return [(box.inside(rim), None)]
    half = box.width / 2
    left = BoxMm(box.left, box.top, half, box.height)
    # Lying lines begin a line's width further in.
    apart = max(0.0, field.size_um / 1000 - rim)
    right = BoxMm(box.left + half + apart, box.top, half - apart, box.height)
    return [(left.inside(rim), True), (right.inside(rim), False)]


def _share_there(wedge: EvenedWedge, field: WedgeField, dpi: PixelsPerInch) -> float | None:
    """How much is there of what is drawn, 1 for all of it: the lesser of its parts.

    None where so few are drawn that no window takes them in evenly; those are the largest.
    """
    shares = []
    for box, upright in _parts(field):
        cell = _cell(field, dpi, upright=upright)
        if not cell.fits(box):
            return None
        tone, _ = wedge.tone(box, cell)
        seen = tone if field.kind.is_ink else 100 - tone
        shares.append(seen / 100 / _drawn_share(field))
    return float(min(shares))


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
        for box, upright in _parts(field):
            cell = _cell(field, dpi, upright=upright)
            if upright is None or not cell.fits(box):
                continue
            side, pixels = (dpi.x, field.pixels[0]) if upright else (dpi.y, field.pixels[1])
            pitch_um = PITCH * pixels / side * 25400
            tone, _ = wedge.tone(box, cell)
            drawn = 1 / PITCH if field.kind.is_ink else 1 - 1 / PITCH
            found[upright].append((tone / 100 - drawn) * pitch_um / 2)
    if not found[True] or not found[False]:
        return None
    return float(np.median(found[True])), float(np.median(found[False]))

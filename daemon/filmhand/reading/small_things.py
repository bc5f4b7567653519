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

# Of the area that is drawn, or that edges which lie further out make of it where that is more: ink
# that ran never stands in for dots that are missing (common practice, no source).
_HELD = 0.5
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
    wedge: EvenedWedge, layout: WedgeLayout, dpi: PixelsPerInch
) -> SmallThings:
    """What is there of a wedge's fields of small things.

    Parameters
    ----------
    dpi : device pixels per inch of acetate
    """
    growth = _growth(wedge, layout, dpi)
    held: dict[str, float | None] = {}
    none: list[FeatureKind] = []
    coarse: dict[FeatureKind, float] = {}
    for kind in FeatureKind:
        smallest = None
        for field in reversed(layout.of_kind(kind)):
            if _pitch_mm(field, dpi) * _pixels_per_mm(wedge, field) < _PITCH_PX:
                coarse[kind] = field.size_um
                break
            there = _share_there(wedge, field, dpi, growth or (0.0, 0.0))
            if there is None:
                continue
            if there < _HELD:
                if smallest is None:
                    none.append(kind)
                break
            smallest = field.size_um
        held[_KEYS[kind]] = smallest
    return SmallThings(SizesHeld(**held), coarse, tuple(none), growth)


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


def _share_there(
    wedge: EvenedWedge, field: WedgeField, dpi: PixelsPerInch, growth_um: tuple[float, float]
) -> float | None:
    """How much is there of what is drawn or has grown of it, 1 for all: the lesser of its parts.

    None where so few are drawn that no window takes them in evenly; those are the largest.
    """
    shares = []
    for box, upright in _parts(field):
        cell = _cell(field, dpi, upright=upright)
        if not cell.fits(box):
            return None
        tone, _ = wedge.tone(box, cell)
        seen = tone if field.kind.is_ink else 100 - tone
        grown = _grown(field, dpi, growth_um, upright=upright)
        shares.append(seen / 100 / (_drawn_share(field) * max(1.0, grown)))
    return float(min(shares))


def _grown(
    field: WedgeField, dpi: PixelsPerInch, growth_um: tuple[float, float], *, upright: bool | None
) -> float:
    """The area of small things over that drawn, where edges of ink lie further out by so much."""
    sign = 1 if field.kind.is_ink else -1
    across, down = (
        max(0.0, 1 + 2 * sign * growth / (one / side * 25400))
        for growth, one, side in zip(growth_um, field.pixels, (dpi.x, dpi.y), strict=True)
    )
    return across * down if upright is None else across if upright else down


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

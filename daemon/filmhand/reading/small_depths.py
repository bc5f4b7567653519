"""How clearly each dot, opening, line and gap of a wedge's field is seen at its own middle.

Where a field lies is known to some tenths of a millimeter, as lenses bend and paper moves; so all
of a field is laid over one another first, which shows where its small things are, and then each
is looked at by itself.
"""

from __future__ import annotations

from math import erf, exp, sqrt

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.reading.tones import EvenedWedge
from filmhand.sheet.wedge_drawing import field_places
from filmhand.sheet.wedge_layout import PITCH, WedgeField
from filmhand.sheet.wedge_places import BoxMm
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

_CORE = 0.25  # of a thing's width: the radius about its middle that is looked at
# A disc of so many pixels' radius has the middle of one in it wherever it lies.
_CORE_PX = 0.75
_BINS = 12  # each way, of a field that is laid over itself
_SEEN = 0.5  # of all things in a part: with fewer in the picture it tells nothing


@dataclass(frozen=True, slots=True)
class FieldPart:
    """A part of a field.

    Attributes
    ----------
    box : in which nothing but its things stands
    upright : whether its lines do; None for dots
    """

    box: BoxMm
    upright: bool | None


def field_parts(field: WedgeField) -> list[FieldPart]:
    """All of a field of dots, and the two halves of one of lines."""
    box = field.box
    if field.kind.is_round:
        return [FieldPart(box, None)]
    half = box.width / 2
    apart = max(field.size_um / 1000, 0.04 * box.width)
    return [
        FieldPart(BoxMm(box.left, box.top, half, box.height), True),
        FieldPart(BoxMm(box.left + half + apart, box.top, half - apart, box.height), False),
    ]


def clear_depth(
    field: WedgeField, pixel_mm: float, blur_mm: float, *, closed_mm: float = 0.0
) -> float:
    """What a picture shows at the middle of a thing, 0..1 of the way from ground to it.

    The light of a disc, or of a bar, blurred by a normal distribution, at its middle: 1 - exp(-d²
    / 8s²), or erf(d / sqrt(8) s), by integration; what is averaged about the middle blurs by a
    quarter of its radius' square.

    Parameters
    ----------
    blur_mm : the spread of edges in the picture, as a standard deviation
    closed_mm : by how much it is narrower than drawn
    """
    core = _core(field.size_um / 1000, pixel_mm)
    wide = max(0.0, field.size_um / 1000 - closed_mm)
    spread = sqrt(max(blur_mm, pixel_mm / sqrt(12)) ** 2 + core**2 / 4)
    if field.kind.is_round:
        return 1 - exp(-(wide**2) / (8 * spread**2))
    return erf(wide / (sqrt(8) * spread))


def _core(wide: float, pixel_mm: float) -> float:
    return max(_CORE * wide, _CORE_PX * pixel_mm)


def seen_depths(
    wedge: EvenedWedge, field: WedgeField, part: FieldPart, dpi: PixelsPerInch, pixel_mm: float
) -> tuple[Float64Array, float] | None:
    """Of each thing in a part of a field, and of what lies between them: 0 as the ground, 1 as ink.

    Of openings 0 is as the solid and 1 as the ground. Lines are cut into lengths of their pitch.

    Returns
    -------
    (n,) float64 and the mean between them; None where the picture shows too few of them
    """
    seen = wedge.picture.part(part.box)
    if not len(seen.x):
        return None
    ink = wedge.areas(seen)
    depth = ink if field.kind.is_ink else 1 - ink
    pitch = [
        PITCH * one / side * MM_PER_INCH
        for one, side in zip(field.pixels, (dpi.x, dpi.y), strict=True)
    ]
    across, down = _middles(field, part, dpi, pitch)
    core = _core(field.size_um / 1000, pixel_mm)
    # How far each pixel lies from the middle of the thing that is drawn next to it.
    x, y = (seen.x - across[0]) / pitch[0], (seen.y - down[0]) / pitch[1]
    # From the first middle to the last, so that nothing beside the field counts as between.
    inner = _between(x, len(across)) & _between(y, len(down))
    cores = (core / pitch[0], core / pitch[1])
    shift, between = _shift(x[inner], y[inner], depth[inner], cores, part.upright)
    x, y = x - shift[0], y - shift[1]
    column, row = np.rint(x).astype(int), np.rint(y).astype(int)
    far_x = np.zeros(len(x)) if part.upright is False else (x - column) * pitch[0]
    far_y = np.zeros(len(y)) if part.upright else (y - row) * pitch[1]
    near = (
        (np.hypot(far_x, far_y) <= core)
        & (column >= 0)
        & (column < len(across))
        & (row >= 0)
        & (row < len(down))
    )
    which = (row * len(across) + column)[near]
    count = np.bincount(which, minlength=len(across) * len(down))
    total = np.bincount(which, depth[near], len(across) * len(down))
    if (count > 0).mean() < _SEEN:
        return None
    return total[count > 0] / count[count > 0], between


def _between(place: Float64Array, count: int) -> BoolArray:
    """Which places lie between the middles of the first and the last, or about an only one."""
    inside: BoolArray = (place >= 0) & (place <= count - 1) if count > 1 else np.abs(place) <= 0.5
    return inside


def _middles(
    field: WedgeField, part: FieldPart, dpi: PixelsPerInch, pitch: list[float]
) -> tuple[Float64Array, Float64Array]:
    """Middles of columns and rows of things, or of lengths of lines, in millimeters."""
    box = part.box
    across, down = field_places(field, dpi)
    if part.upright:
        down = box.top + _along(box.height, pitch[1])
    elif part.upright is False:
        across = box.left + _along(box.width, pitch[0])
    return across, down


def _along(length: float, pitch: float) -> Float64Array:
    """Middles of lengths of lines: their ends, which ink or light rounds off, do not count."""
    count = max(1, int(length / pitch) - 1)
    return np.asarray(length / 2 + (np.arange(count) - (count - 1) / 2) * pitch, np.float64)


def _shift(
    x: Float64Array,
    y: Float64Array,
    depth: Float64Array,
    core: tuple[float, float],
    upright: bool | None,
) -> tuple[tuple[float, float], float]:
    """By what share of a pitch all things lie beside their places, and the depth between them.

    Parameters
    ----------
    x, y : (n,) float64, places in pitches, 0 at the middle of the first thing
    core : the radius that is looked at, in pitches
    """
    shape = (1 if upright else _BINS, 1 if upright is False else _BINS)
    column = np.floor((x + 0.5) % 1 * shape[1]).astype(int).clip(0, shape[1] - 1)
    row = np.floor((y + 0.5) % 1 * shape[0]).astype(int).clip(0, shape[0] - 1)
    where = row * shape[1] + column
    count = np.bincount(where, minlength=shape[0] * shape[1]).reshape(shape).astype(np.float64)
    total = np.bincount(where, depth, shape[0] * shape[1]).reshape(shape).astype(np.float64)
    mean = _about(total, core) / np.maximum(_about(count, core), 1e-9)
    mean[_about(count, core) < 0.5] = -np.inf
    top, left = np.unravel_index(int(mean.argmax()), shape)
    between = mean[(top + shape[0] // 2) % shape[0], (left + shape[1] // 2) % shape[1]]
    over = (
        0.0 if upright is False else (left + 0.5) / shape[1] - 0.5,
        0.0 if upright else (top + 0.5) / shape[0] - 0.5,
    )
    return over, float(between)


def _about(bins: Float64Array, core: tuple[float, float]) -> Float64Array:
    """Sums of bins whose middles lie in an ellipse about each, around the edges."""
    rows, columns = bins.shape
    found = np.zeros_like(bins)
    for down in range(-(rows // 2), (rows + 1) // 2):
        for across in range(-(columns // 2), (columns + 1) // 2):
            if np.hypot(across / columns / core[0], down / rows / core[1]) <= 1:
                found += np.roll(bins, (down, across), (0, 1))
    return found

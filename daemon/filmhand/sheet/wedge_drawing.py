"""A wedge's layout as marks: corner marks, fields of small dots and lines, bars, figures, code."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil

import numpy as np

from filmhand.arrays import BoolArray, Float64Array
from filmhand.sheet.layout import Box, in_pixels
from filmhand.sheet.lettering import label_bits, paragraph_bits
from filmhand.sheet.marks import Mark
from filmhand.sheet.sheet_words import FieldWord
from filmhand.sheet.wedge_layout import PITCH, Label, WedgeField, round_dot
from filmhand.sheet.wedge_places import BoxMm, CornerMark, ScaleBar
from filmhand.units import MM_PER_INCH, PixelsPerInch
from filmhand.values import dataclass

_LETTERS = 0.64  # of the height of a label's room
_LONGEST_LINE_MM = 60.0
_BAR_LINE_MM = 0.3
_CODE_QUIET = 4  # modules of bare film around a code (ISO/IEC 18004)


@dataclass(frozen=True, slots=True)
class WedgeGround:
    """Where on the sheet a wedge lies: its top left pixel, and pixels per inch of acetate."""

    left: int
    top: int
    dpi: PixelsPerInch

    def box(self, box: BoxMm) -> Box:
        """The pixels of a box of the wedge, as the sheet is read."""
        return box.in_pixels(self.dpi, left=self.left, top=self.top)


def corner_mark(mark: CornerMark, ground: WedgeGround) -> Mark:
    """A corner mark: a pixel is ink where its middle lies in ink."""
    box = ground.box(mark.box)
    y, x = np.mgrid[: box.height, : box.width] + 0.5
    across = (x + box.left - ground.left) / ground.dpi.x * MM_PER_INCH
    down = (y + box.top - ground.top) / ground.dpi.y * MM_PER_INCH
    bits = np.zeros((box.height, box.width), np.bool_)
    for center, diameter, ink in mark.discs():
        bits[np.hypot(across - center[0], down - center[1]) <= diameter / 2] = ink
    return Mark(box, bits)


def field_mark(field: WedgeField, ground: WedgeGround) -> Mark:
    """A field of whole dots or lines, as many as it holds, with as much bare at either side."""
    box, (columns, rows) = ground.box(field.box), field.pixels
    small = np.zeros((box.height, box.width), np.bool_)
    if field.kind.is_round:
        small = _repeated(round_dot(columns, rows), box.width, box.height)
    else:
        half = box.width // 2
        solid = np.ones((1, columns), np.bool_)
        small[:, :half] = _repeated(solid, half, 1)
        small[:, half:] = _repeated(np.ones((rows, 1), np.bool_), 1, box.height)
        # What stands across from the ends of others is kept off them.
        apart = max(columns, ceil(0.04 * box.width))
        small[:, half : half + apart] = False
    return Mark(box, small if field.kind.is_ink else ~small)


def _repeated(one: BoolArray, width: int, height: int) -> BoolArray:
    """Whole copies at the pitch of a field, in the middle of (height, width).

    A side that is 1 is filled along.
    """
    rows, columns = one.shape
    bits = np.zeros((height, width), np.bool_)
    down = _places(height, rows) if height > 1 else [0]
    across = _places(width, columns) if width > 1 else [0]
    for top in down:
        for left in across:
            bits[top : top + rows, left : left + columns] = one
    return bits


def _places(room: int, size: int) -> list[int]:
    """First pixels of as many as a room holds with their own size clear at both ends."""
    pitch = PITCH * size
    count = max(1, (room - 3 * size) // pitch + 1)
    first = max(0, (room - (count - 1) * pitch - size) // 2)
    return [first + number * pitch for number in range(count)]


def field_places(field: WedgeField, dpi: PixelsPerInch) -> tuple[Float64Array, Float64Array]:
    """Middles of a field's columns and rows of small things, in millimeters of the wedge.

    Of lines the columns are those of the upright ones, in the left half, and the rows those of the
    lying ones.
    """
    box, (columns, rows) = field.box, field.pixels
    width, height = (
        round(side / MM_PER_INCH * one)
        for side, one in zip((box.width, box.height), (dpi.x, dpi.y), strict=True)
    )
    across = _places(width if field.kind.is_round else width // 2, columns)
    down = _places(height, rows)
    return (
        box.left + (np.array(across) + columns / 2) / dpi.x * MM_PER_INCH,
        box.top + (np.array(down) + rows / 2) / dpi.y * MM_PER_INCH,
    )


def solid_mark(box: BoxMm, ground: WedgeGround) -> Mark:
    """A block of ink."""
    place = ground.box(box)
    return Mark(place, np.ones((place.height, place.width), np.bool_))


def bar_mark(bar: ScaleBar, ground: WedgeGround) -> Mark:
    """A scale bar: a beam, and lines whose first edges lie whole 10 mm apart."""
    box, dpi = ground.box(bar.box), ground.dpi
    bits = np.zeros((box.height, box.width), np.bool_)
    lying = bits.T if bar.upright else bits[::-1]
    along, beside = (dpi.y, dpi.x) if bar.upright else (dpi.x, dpi.y)
    line, beam = (max(1, round(_BAR_LINE_MM / MM_PER_INCH * one)) for one in (along, beside))
    lying[:beam] = True
    for mm in range(0, bar.length_mm + 1, 10):
        at = round(mm / MM_PER_INCH * along)
        reach = len(lying) if mm % 50 == 0 or mm == bar.length_mm else len(lying) * 6 // 10
        lying[:reach, at : at + line] = True
    return Mark(box, bits)


def figures_mark(label: Label, ground: WedgeGround) -> Mark:
    """Words at the left of their room, cut where they are longer."""
    box = ground.box(label.box)
    bits = np.zeros((box.height, box.width), np.bool_)
    words = label.words if label.over is None else FieldWord[label.over.name].say()
    line = max(box.width, in_pixels(_LONGEST_LINE_MM, ground.dpi)[0])
    room = paragraph_bits([words], line, ground.dpi, tall_mm=label.box.height * _LETTERS)
    high, wide = min(box.height, len(room)), box.width
    below = (box.height - high) // 2
    bits[below : below + high] = room[:high, :wide]
    return Mark(box, bits)


def title_mark(box: BoxMm, lines: Sequence[str], ground: WedgeGround) -> Mark:
    """What the film is, in letters as large as there is room for."""
    place = ground.box(box)
    return Mark(place, label_bits(list(lines), place.width, place.height, ground.dpi))


def code_mark(modules: BoolArray, box: BoxMm, ground: WedgeGround) -> Mark:
    """A code in whole pixels a module, in the middle of its room.

    Parameters
    ----------
    modules : (n, n) bool, ink first, without its quiet zone
    """
    place = ground.box(box)
    whole = len(modules) + 2 * _CODE_QUIET
    across, down = place.width // whole, place.height // whole
    drawn = np.repeat(np.repeat(modules, down, axis=0), across, axis=1)
    left, top = (place.width - drawn.shape[1]) // 2, (place.height - drawn.shape[0]) // 2
    return Mark(Box(place.left + left, place.top + top, drawn.shape[1], drawn.shape[0]), drawn)


def all_marks(
    ground: WedgeGround,
    *,
    corners: Iterable[CornerMark],
    fields: Iterable[WedgeField],
    solids: Iterable[BoxMm],
    bars: Iterable[ScaleBar],
    labels: Iterable[Label],
) -> list[Mark]:
    """The marks of all that needs no screen."""
    return [
        *(corner_mark(mark, ground) for mark in corners),
        *(field_mark(field, ground) for field in fields),
        *(solid_mark(box, ground) for box in solids),
        *(bar_mark(bar, ground) for bar in bars),
        *(figures_mark(label, ground) for label in labels),
    ]

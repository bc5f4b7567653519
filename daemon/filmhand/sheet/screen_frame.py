"""What of a screen can be printed: its frame's inside, less the room for ink and squeegee."""

from __future__ import annotations

from filmhand.sheet.layout import Layout, in_millimeters, turn_size
from filmhand.sheet.sheet_words import SheetWord
from filmhand.units import PixelsPerInch, SheetSize, length_text, size_text

FREE_MM = 50.0
"""From the art to the inside of the frame, on every side: two inches (common practice, no source).

For fine halftones mediotono.es (fichas 18422) asks 15 cm, since threads run aslant near the frame.
"""


def printable_mm(frame: SheetSize) -> tuple[float, float]:
    """Shorter and longer side of what a frame of this inside prints, millimeters, 0 for none.

    >>> printable_mm(SheetSize(40640, 50800))
    (306.4, 408.0)
    """
    shorter, longer = (round(max(0.0, side - 2 * FREE_MM), 2) for side in sorted(frame.mm))
    return shorter, longer


def frame_warnings(frame: SheetSize | None, layout: Layout, dpi: PixelsPerInch) -> list[str]:
    """A sentence where the art, whichever way the screen lies, is larger than it prints."""
    if frame is None:
        return []
    width, height = in_millimeters((layout.art.width, layout.art.height), dpi)
    room = printable_mm(frame)
    if all(side <= most + 0.5 for side, most in zip(sorted((width, height)), room, strict=True)):
        return []
    upright = turn_size((width, height), layout.turned)  # as its owner knows it
    return [
        SheetWord.LARGER_THAN_SCREEN.say(
            art=size_text(upright, frame),
            frame=size_text(frame.mm, frame),
            room=size_text(room, frame),
            free=length_text(FREE_MM, frame),
        )
    ]

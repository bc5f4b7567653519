"""The films of art that is larger than the sheet, cut out of its joined bits.

All is screened, mended and judged on the joined film, so that what neighbors share is the same to
the pixel.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.pipeline.judged import JudgedFilm
from filmhand.pipeline.render.strips import AreaOfSheet, fill_rows_of_sheet
from filmhand.sheet.layout import Box, Layout


@contextmanager
def part_of_film(judged: JudgedFilm, layout: Layout, sheet: Path) -> Iterator[JudgedFilm]:
    """One film of a joined one, in a file that is there only inside the ``with``.

    Parameters
    ----------
    judged : the joined film
    layout : of the one film, among ``films`` of the joined one's
    sheet : where its bits are kept meanwhile
    """
    part = layout.part
    assert part is not None
    joined = judged.work
    shown = part.shown
    if joined.profile.film.mirror:
        shown = shown.mirrored(judged.bits.width)
    notes = [
        *joined.notes,
        f"The art is larger than the sheet; this film is {part}. Lay the films over one another "
        "until their crosses meet, tape them, and cut through both along the line between two "
        "crosses. Places in these notes are counted on the joined film.",
    ]
    work = replace(joined, layout=layout, notes=notes, checks=list(joined.checks))
    work.cleared = joined.cleared.shown(joined.area, shown, work.area)
    source = AreaOfSheet(judged.bits, shown)
    try:
        with BitSheet.create(sheet, width=layout.sheet.width, height=layout.sheet.height) as bits:
            fill_rows_of_sheet(
                bits,
                work.area,
                lambda first, count: source.read(first, first + count),
                threads=joined.request.threads,
            )
            yield replace(
                judged,
                work=work,
                bits=bits,
                counted=replace(
                    judged.counted,
                    spotted=_spotted_there(judged, shown),
                    worst=[
                        spot.moved(work.area.left - shown.left, work.area.top - shown.top)
                        for spot in judged.counted.worst
                        if _inside(spot.x_px, spot.y_px, shown)
                    ],
                ),
            )
    finally:
        sheet.unlink(missing_ok=True)


def _spotted_there(judged: JudgedFilm, shown: Box) -> SpottedOut:
    """The mending of the joined film with only the places on this one, counted from its art."""
    mended, area = judged.counted.spotted, judged.work.area
    x, y = shown.left - area.left, shown.top - area.top
    return replace(
        mended,
        places=[
            (column - x, row - y)
            for column, row in mended.places
            if _inside(column + area.left, row + area.top, shown)
        ],
    )


def _inside(x: int, y: int, box: Box) -> bool:
    return box.left <= x < box.right and box.top <= y < box.bottom

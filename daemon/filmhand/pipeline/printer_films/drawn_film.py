"""A film that is drawn and not made from art: written in the profile's formats and read again."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.pipeline.finished import draw_mark
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.profile.model import Profile
from filmhand.sheet.layout import Box
from filmhand.sheet.marks import Mark

_ROWS_AT_ONCE = 128


def write_drawn_film(
    profile: Profile,
    marks: Iterable[Mark],
    scratch: Path,
    *,
    mirror: bool = False,
    negative: Box | None = None,
) -> dict[Format, Path]:
    """The marks on a sheet of the profile, in each of its formats, in a scratch folder.

    Sheet and resolution are those that the printer is told; what is drawn is not scaled, and
    mirrored only where that is said. Every file is decoded again and compared.

    Parameters
    ----------
    mirror : turn all over left to right
    negative : a part of the sheet, as it is read, in which ink and clear are exchanged at last

    Raises
    ------
    OSError
        where the disk or the rights fail
    """
    width, height = profile.sheet.pixels(profile.dpi)
    files = {kind: scratch / f"film{kind.suffix}" for kind in profile.write}
    with BitSheet.create(scratch / "bits", width=width, height=height) as bits:
        for mark in marks:
            draw_mark(bits, mark, mirror=mirror)
        if negative is not None:
            area = AreaOfSheet(bits, negative.mirrored(width) if mirror else negative)
            for first in range(0, negative.height, _ROWS_AT_ONCE):
                count = min(_ROWS_AT_ONCE, negative.height - first)
                area.write(first, ~area.read(first, first + count))
        write_films(bits, files, dpi=profile.dpi)
        for kind, path in files.items():
            verify_film(path, bits, format=kind, dpi=profile.dpi)
    return files

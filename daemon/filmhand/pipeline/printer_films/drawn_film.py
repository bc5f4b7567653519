"""A film that is drawn and not made from art: written in the profile's formats and read again."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.pipeline.make import draw_mark
from filmhand.profile.model import Profile
from filmhand.sheet.marks import Mark


def write_drawn_film(
    profile: Profile, marks: Iterable[Mark], scratch: Path, *, mirror: bool = False
) -> dict[Format, Path]:
    """The marks on a sheet of the profile, in each of its formats, in a scratch folder.

    Sheet and resolution are those that the printer is told; what is drawn is not scaled, and
    mirrored only where that is said. Every file is decoded again and compared.

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
        write_films(bits, files, dpi=profile.dpi)
        for kind, path in files.items():
            verify_film(path, bits, format=kind, dpi=profile.dpi)
    return files

"""A film that is drawn and not made from art: written in the profile's formats and read again."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from filmhand.disk.file_names import clean_stem
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.pipeline.make import draw_mark
from filmhand.profile.model import Profile
from filmhand.sheet.marks import Mark


def write_drawn_film(
    profile: Profile, marks: Iterable[Mark], stem: str, folder: Path
) -> dict[Format, Path]:
    """The marks on a sheet of the profile, in each of its formats.

    Sheet and resolution are those that the printer is told; what is drawn is neither mirrored nor
    scaled. Every file is decoded again and compared.

    Parameters
    ----------
    stem : the name of the files without their ending; what no file system takes is replaced
    folder : where they go; older ones of that name are replaced

    Raises
    ------
    OSError
        where the disk or the rights fail
    """
    width, height = profile.sheet.pixels(profile.dpi)
    stem = clean_stem(f"{stem}.film")
    # Beside their final place, so that a rename puts them there whole.
    parts = {kind: folder / f".{stem}{kind.suffix}.part" for kind in profile.write}
    files = {kind: folder / f"{stem}{kind.suffix}" for kind in profile.write}
    with (
        tempfile.TemporaryDirectory(prefix="filmhand-") as scratch,
        BitSheet.create(Path(scratch) / "bits", width=width, height=height) as bits,
    ):
        for mark in marks:
            draw_mark(bits, mark, mirror=False)
        try:
            write_films(bits, parts, dpi=profile.dpi)
            for kind, part in parts.items():
                verify_film(part, bits, format=kind, dpi=profile.dpi)
            for kind, part in parts.items():
                part.replace(files[kind])
        finally:
            for part in parts.values():
                part.unlink(missing_ok=True)
    return files

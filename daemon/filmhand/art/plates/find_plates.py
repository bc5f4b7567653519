"""The plates of any art that is separated already, whatever kind of file it is."""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path

from filmhand.art.drawings.vector import Sizing
from filmhand.art.files.decode import ExaminedFile, examine_file, guarded
from filmhand.art.files.file_types import FileType
from filmhand.art.files.open_art import open_art
from filmhand.art.formats.jpeg_markers import frame_of
from filmhand.art.plates.art_plates import PROCESS_INKS, ArtPlates, plates_of_grays
from filmhand.art.plates.layered_plates import layered_plate_names, layered_plates
from filmhand.art.plates.tiff_plates import page_name, tiff_plate_names, tiff_plates
from filmhand.profile.model import Limits
from filmhand.profile.terms import Channel

_PROCESS = (Channel.CYAN, Channel.MAGENTA, Channel.YELLOW, Channel.BLACK)


def plate_names(path: Path, *, name: str, limits: Limits, page: int = 0) -> tuple[str, ...] | None:
    """The names of the plates that a page of the art has, none where it is not separated.

    None where that cannot be told. Raises Refused as
    :func:`filmhand.art.files.open_art.open_art` does, as far as that needs no decoding.
    """
    with guarded(name, limits):
        return _names(examine_file(path, name=name, limits=limits), page)


def names_of_pages(path: Path, *, name: str, limits: Limits) -> tuple[str, ...]:
    """What the pages of the art are called, empty for a page without a name."""
    there = path.stat()
    return _names_of_pages(path, name, limits, (there.st_ino, there.st_size, there.st_mtime_ns))


@lru_cache(maxsize=1)
def _names_of_pages(
    path: Path, name: str, limits: Limits, version: tuple[int, int, int]
) -> tuple[str, ...]:
    """The same of a file as it is now; a set of films asks several times."""
    found = examine_file(path, name=name, limits=limits)
    if found.kind is FileType.PDF:
        from filmhand.art.drawings.pdf import page_labels  # noqa: PLC0415 - most jobs need none of it

        return page_labels(path, name=name)
    directories = [found.directory(page) for page in range(len(found.pages))]
    return tuple("" if one is None else page_name(path, one) for one in directories)


def plates_of_art(
    path: Path, *, name: str, limits: Limits, page: int = 0, sizing: Sizing | None = None
) -> ArtPlates | None:
    """The plates of a page; None where it has none.

    Parameters
    ----------
    name, limits, page, sizing : as for :func:`filmhand.art.files.open_art.open_art`, and so is what
        is raised
    """
    found = examine_file(path, name=name, limits=limits)
    with guarded(name, limits):
        if found.kind is FileType.PDF:
            from filmhand.art.plates.pdf_plates import pdf_plates  # noqa: PLC0415 - most need none

            return pdf_plates(found, page, limits, sizing)
        names = _names(found, page)
    if not names:
        return None
    directory = found.directory(page)
    # Inks that only their names tell are nothing that has a channel of cyan.
    own = directory is not None and directory.has_own_inks
    if names == PROCESS_INKS and not own:
        return _process_plates(path, name, limits, page)
    with guarded(name, limits):
        if found.kind is FileType.TIFF:
            return tiff_plates(found, page, limits)
        return layered_plates(found, limits)


def plates_of_pages(
    path: Path, *, name: str, limits: Limits, pages: tuple[int, ...], sizing: Sizing | None = None
) -> ArtPlates:
    """Pages as the plates of one picture: what is dark on each becomes the tone of its ink.

    Parameters
    ----------
    pages : which of them, from 0, all of one size
    name, limits, sizing : as for :func:`filmhand.art.files.open_art.open_art`, and so is what is
        raised

    Raises
    ------
    ValueError
        Where pages are not of one size.
    """
    labels = names_of_pages(path, name=name, limits=limits)
    arts = (
        open_art(
            path, name=name, limits=limits, channel=Channel.LUMINANCE, page=page, sizing=sizing
        )
        for page in pages
    )
    return plates_of_grays(tuple(labels[page] for page in pages), arts)


def _names(found: ExaminedFile, page: int) -> tuple[str, ...] | None:
    if found.kind is FileType.TIFF:
        return tiff_plate_names(found, page)
    if found.kind is FileType.LAYERED:
        return layered_plate_names(found)
    if found.kind is FileType.PDF:
        from filmhand.art.plates.pdf_plates import pdf_plate_names  # noqa: PLC0415 - as above

        return pdf_plate_names(found, page)
    if found.kind is FileType.JPEG:
        with found.path.open("rb") as file:
            frame = frame_of(file, os.fstat(file.fileno()).st_size)
        return PROCESS_INKS if frame is not None and frame.channels == 4 else ()
    return ()


def _process_plates(path: Path, name: str, limits: Limits, page: int) -> ArtPlates:
    """The four planes of art in process inks, each by the reader for one channel."""
    planes = (
        open_art(path, name=name, limits=limits, channel=channel, page=page) for channel in _PROCESS
    )
    return plates_of_grays(PROCESS_INKS, planes)

"""A sheet of bits written as films, and each film read again and compared."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any, BinaryIO, Protocol

from filmhand.film.bits import BitSheet
from filmhand.film.fork_pool import in_order_in_fork
from filmhand.film.formats import Format
from filmhand.film.pdf import PdfWriter
from filmhand.film.pdf_reader import verify_pdf
from filmhand.film.png import PngWriter, verify_png
from filmhand.film.pwg import PwgWriter, verify_pwg
from filmhand.film.strips import FilePlan, FilmDiffers, Strip, in_order, plan_file, read_strip
from filmhand.film.tiff import TiffWriter, verify_tiff
from filmhand.units import Resolution

__all__ = ["FilmDiffers", "verify_film", "write_film", "write_films"]

THREADS = 2


class Writer(Protocol):
    """Turns strips into one file: `encode` in any thread, `add` in the strips' order."""

    def __init__(self, file: BinaryIO, plan: FilePlan) -> None: ...

    def encode(self, strip: Strip) -> Any:
        """What `add` needs of a strip."""

    def add(self, payload: Any) -> None:
        """Put the next strip into the file."""

    def finish(self) -> None:
        """Make the file whole."""


_WRITERS: dict[Format, type[Writer]] = {
    Format.PDF: PdfWriter,
    Format.TIFF: TiffWriter,
    Format.PNG: PngWriter,
    Format.PWG: PwgWriter,
}


def write_film(
    bits: BitSheet, path: Path, *, format: Format, dpi: Resolution, threads: int = THREADS
) -> None:
    """Write one film file; see :func:`write_films`."""
    write_films(bits, {format: path}, dpi=dpi, threads=threads)


def write_films(
    bits: BitSheet, paths: Mapping[Format, Path], *, dpi: Resolution, threads: int = THREADS
) -> None:
    """Write a sheet in several formats at once; every file is whole and on the disk afterwards.

    Formats that share a coding share the work. Memory is bounded by the strips under way, not
    by the sheet. The same bits give the same bytes every time on the same machine. When it
    fails, unfinished files stay where they are: the caller gives names nobody watches.

    Parameters
    ----------
    bits : BitSheet
    paths : mapping of Format to Path
        Where to write; an old file there is replaced.
    dpi : Resolution
        Pixels per inch across and down.
    threads : int
        How many strips are coded at once.

    Raises
    ------
    OSError
        As the disk says it, with its errno (no space left, and so on).
    Refused
        If the sheet is too large for a format.
    """
    plan = plan_file(bits, dpi=dpi)
    with ExitStack() as open_files:
        files = [open_files.enter_context(path.open("wb")) for path in paths.values()]
        writers = [_WRITERS[kind](file, plan) for kind, file in zip(paths, files, strict=True)]

        def encode(y: int) -> list[Any]:
            strip = read_strip(bits, plan, y)
            return [writer.encode(strip) for writer in writers]

        coded = (
            in_order_in_fork(encode, plan.starts)
            if plan.group4 and threads > 1
            else in_order(encode, plan.starts, threads=threads)
        )
        for payloads in coded:
            for writer, payload in zip(writers, payloads, strict=True):
                writer.add(payload)
        for writer, file in zip(writers, files, strict=True):
            writer.finish()
            file.flush()
            os.fsync(file.fileno())


def verify_film(
    path: Path, bits: BitSheet, *, format: Format, dpi: Resolution, threads: int = THREADS
) -> None:
    """Decode a film file and hold size, resolution and every bit against what was meant.

    Raises
    ------
    FilmDiffers
        If anything differs or cannot be decoded.
    OSError
        If the file cannot be read.
    """
    plan = plan_file(bits, dpi=dpi, group4=True)
    match format:
        case Format.PDF:
            verify_pdf(path, bits, plan, threads=threads)
        case Format.TIFF:
            verify_tiff(path, bits, plan, threads=threads)
        case Format.PNG:
            verify_png(path, bits, plan)
        case Format.PWG:
            verify_pwg(path, bits, plan)

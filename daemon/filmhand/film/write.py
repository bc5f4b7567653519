"""A sheet of bits written as films, and each film read again and compared."""

from __future__ import annotations

import io
import os
from collections.abc import Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from filmhand.film.bits import BitSheet
from filmhand.film.fork_pool import in_order_in_fork
from filmhand.film.formats import BrokenFilm, Format
from filmhand.film.strips import ROWS_PER_STRIP, FilePlan, in_order, plan_file, read_strip, swells
from filmhand.kernels.loops import compiled
from filmhand.units import Resolution

THREADS = 2


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
    plan = plan_file(bits, dpi=dpi, group4=not swells(bits))
    with ExitStack() as open_files:
        files = [open_files.enter_context(path.open("wb")) for path in paths.values()]
        writers = [kind.codec().writer(file, plan) for kind, file in zip(paths, files, strict=True)]

        def encode(y: int) -> list[Any]:
            strip = read_strip(bits, plan, y)
            return [writer.encode(strip) for writer in writers]

        # The coder of Pillow keeps other threads waiting, the compiled one does not.
        coded = (
            in_order_in_fork(encode, plan.starts)
            if plan.group4 and threads > 1 and compiled() is None
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
    BrokenFilm
        If anything differs or cannot be decoded.
    OSError
        If the file cannot be read.
    """
    plan = plan_file(bits, dpi=dpi, group4=True)  # a film that exists says itself what it is
    try:
        with path.open("rb") as file:
            format.codec().verify(file, bits, plan, threads=threads)
    except BrokenFilm as error:
        raise BrokenFilm(f"the {format.upper()} {error}") from error


def open_writer(sheet: tuple[int, int], *, format: Format, dpi: Resolution) -> None:
    """Begin a film of this many pixels across and down, and let it go again.

    Raises
    ------
    Refused
        If the sheet is too large for the format.
    """
    plan = FilePlan(*sheet, dpi, rows_per_strip=ROWS_PER_STRIP, group4=True)
    format.codec().writer(io.BytesIO(), plan)

"""What a job could not bring to an end here, told before anything is laid down.

How fast this computer is, is measured when it matters: by coding and reading back a small film.
That is a part of every job, and goes by the pixels alone.
"""

from __future__ import annotations

import time
from functools import cache
from pathlib import Path

import numpy as np

from filmhand.errors import needs_too_large_a_file, needs_too_much_time
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import verify_film, write_films
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.request import LARGEST_FILE
from filmhand.units import Resolution

_TRIAL_PX = (8192, 4096)
# How much of the processor's time of a whole job coding one film and reading it back takes at most:
# measured 0.2 to 0.3 for a flat tint at 1200 dpi, and less for photographs and line art.
_PART_OF_JOB = 0.4
# Pixels a second that any computer makes; so that small films are not kept waiting by a trial.
_ANY_COMPUTER = 1e6


def check_time(work: FilmInWork, pages: int) -> None:
    """Refuse art that this computer cannot make within the time of its profile.

    Parameters
    ----------
    work : one page, laid out
    pages : how many of the art the job makes; the time is that of all

    Raises
    ------
    Refused
        with what was measured, and what it would take
    """
    pixels, allowed = work.area.width * work.area.height * pages, work.profile.limits.seconds
    if pixels <= _ANY_COMPUTER * allowed:
        return
    rate = pixels_a_second() * work.request.threads
    if pixels > rate * allowed:
        raise needs_too_much_time(
            f"“{work.request.name}”", pixels=pixels, rate=rate, allowed=allowed
        )


def check_file(work: FilmInWork) -> None:
    """Refuse art whose bits would be a larger file than a job may write.

    Raises Refused.
    """
    sheet = work.layout.sheet
    size = sheet.height * ((sheet.width + 7) // 8)
    if size > LARGEST_FILE:
        raise needs_too_large_a_file(f"“{work.request.name}”", LARGEST_FILE, size=size)


@cache
def pixels_a_second() -> float:
    """Device pixels of film that one core of this computer makes in a second, at the most.

    Goes by the processor's time, so that other work on the computer does not count.
    """
    import tempfile  # noqa: PLC0415 - few jobs are so large

    width, height = _TRIAL_PX
    row = np.packbits(np.arange(width) // 64 % 2 == 1)
    with tempfile.TemporaryDirectory(prefix="filmhand-") as name:
        film = Path(name) / "film.tif"
        with BitSheet.create(Path(name) / "bits", width=width, height=height) as bits:
            bits.write(0, np.tile(row, (height, 1)))
            dpi = Resolution(300, 300)
            began = time.process_time()
            write_films(bits, {Format.TIFF: film}, dpi=dpi, threads=1)
            verify_film(film, bits, format=Format.TIFF, dpi=dpi, threads=1)
            took = time.process_time() - began
    return width * height * _PART_OF_JOB / max(took, 1e-6)

"""A JPEG of colors, handed on strip by strip while its decoder is still at work.

The base reader decodes such a picture whole, with four bytes for each pixel. Here it does so into
memory of ours. Whenever it asks for more of the file, the rows that it has finished are handed on,
in threads, and their memory goes back to the system; so decoding and what comes after go on side
by side, and of the decoded picture there is never much at once.
"""

from __future__ import annotations

import contextlib
import mmap
from collections.abc import Callable
from concurrent.futures import Future
from typing import TYPE_CHECKING, cast

import numpy as np
from PIL import Image

from filmhand.arrays import UInt8Array
from filmhand.art.raster import row_strips
from filmhand.speaking_pool import SpeakingPool

if TYPE_CHECKING:
    from PIL.JpegImagePlugin import JpegImageFile

TakeStrip = Callable[[slice, UInt8Array], None]

_THREADS, _WAITING = 2, 24  # strips that may be finished and not yet taken
_OPAQUE = 255


def comes_in_strips(image: Image.Image) -> bool:
    """Whether a picture that was opened, but not read, is one that :func:`load_strips` reads."""
    if image.format not in ("JPEG", "MPO") or image.mode != "RGB":
        return False
    return len(cast("JpegImageFile", image).tile) == 1


def load_strips(image: Image.Image, take: TakeStrip, *, pixels: int) -> None:
    """Decode a picture and hand on its pixels, from top to bottom, to several threads.

    ``image`` has no pixels afterwards.

    Parameters
    ----------
    image : one of which :func:`comes_in_strips` is true
    take : is given the rows of a strip and their (h, W, 4) uint8 red, green, blue and 255, which
        it must not keep
    pixels : of a strip, about

    Raises
    ------
    MemoryError
        where there is no room for the pixels
    OSError
        or whatever else the decoder raises
    """
    file = cast("JpegImageFile", image)
    width, height = image.size
    memory = _memory(width * height * 4)
    decoded = np.frombuffer(memory, np.uint8).reshape(height, width, 4)
    file.im = Image.frombuffer("RGBX", image.size, decoded, "raw", "RGBX", 0, 1).im
    strips, taken = list(row_strips((height, width), pixels)), list[Future[None]]()

    def take_one(rows: slice) -> None:
        take(rows, decoded[rows])
        _give_back(memory, rows.start * width * 4, rows.stop * width * 4)

    def is_finished(rows: slice) -> bool:
        # Rows come from the top, and pixels that were written are opaque.
        return bool(decoded[rows.stop - 1, -1, 3] == _OPAQUE)

    read = file.load_read
    with SpeakingPool(_THREADS) as pool:

        def read_on(size: int) -> bytes:
            while len(taken) < len(strips) and is_finished(strips[len(taken)]):
                taken.append(pool.submit(take_one, strips[len(taken)]))
                if len(taken) > _WAITING:
                    taken[-_WAITING].result()
            return read(size)

        file.load_read = read_on  # type: ignore[method-assign, assignment]
        try:
            file.load()
        finally:
            # Else the two would hold each other, and the address space of all pixels with them.
            del file.load_read
        taken += [pool.submit(take_one, rows) for rows in strips[len(taken) :]]
    for one in taken:
        one.result()


def _memory(size: int) -> mmap.mmap:
    """So many bytes, 0 each, of which parts can be given back.

    They are private, since pages that are shared are not given back before all of them are.
    """
    try:
        memory = mmap.mmap(-1, size, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
    except OSError as fault:
        raise MemoryError from fault
    if hasattr(mmap, "MADV_HUGEPAGE"):
        # The system then clears 2 MiB at a time, and is not called for every 4 KiB of a large
        # picture; a kernel that has no such pages says so, and does as ever.
        with contextlib.suppress(OSError):
            memory.madvise(mmap.MADV_HUGEPAGE)
    return memory


def _give_back(memory: mmap.mmap, start: int, stop: int) -> None:
    """Let the system have the whole pages between two places of private memory."""
    first, last = -(-start // mmap.PAGESIZE), stop // mmap.PAGESIZE
    if last > first:
        memory.madvise(mmap.MADV_DONTNEED, first * mmap.PAGESIZE, (last - first) * mmap.PAGESIZE)

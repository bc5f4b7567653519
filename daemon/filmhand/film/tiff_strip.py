"""One strip of a TIFF, decoded by libtiff or Pillow from a small TIFF of its own in memory.

Wrapping a strip keeps memory at the strip's size however large the film is, and keeps every
picture Pillow sees below its limit on pixels, so that the limit can stay in force for art.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Mapping

import numpy as np
from PIL import Image, TiffImagePlugin

from filmhand.arrays import UInt8Array
from filmhand.film.bits import pad_mask
from filmhand.film.formats import BrokenFilm
from filmhand.film.libtiff import read_first_strip

# Tag numbers of TIFF 6.0 that a strip needs to be read alone.
_WIDTH, _LENGTH, _BITS, _COMPRESSION, _PHOTOMETRIC = 256, 257, 258, 259, 262
_OFFSETS, _SAMPLES, _ROWS, _COUNTS = 273, 277, 278, 279
_LONG = 4
GROUP4 = 4
"""Value of TIFF tag 259."""

_PIXELS_AT_ONCE = 1 << 19


def decode_strip(
    payload: bytes,
    *,
    width: int,
    rows: int,
    compression: int,
    options: Mapping[int, int] | None = None,
) -> UInt8Array:
    """The bits stored in a strip, whatever color they stand for.

    Parameters
    ----------
    payload : bytes
        The strip as it stands in the TIFF.
    width, rows : int
        Pixels across, and rows in this strip.
    compression : int
        Value of tag 259.
    options : mapping of tag to value
        Further tags the compression needs, such as FillOrder (266) or T4Options (292).

    Returns
    -------
    (rows, ceil(width / 8)) uint8
        Packed most significant bit first, pad bits 0.

    Raises
    ------
    BrokenFilm
        If it cannot be decoded.
    """
    tags = dict(options or {})
    tags |= {_WIDTH: width, _LENGTH: rows, _BITS: 1, _COMPRESSION: compression}
    # MinIsBlack: Pillow then hands every stored 1 on as True.
    tags |= {_PHOTOMETRIC: 1, _SAMPLES: 1, _ROWS: rows, _COUNTS: len(payload)}
    tags[_OFFSETS] = 8 + 2 + 12 * (len(tags) + 1) + 4
    entries = (struct.pack("<HHII", tag, _LONG, 1, tags[tag]) for tag in sorted(tags))
    head = struct.pack("<2sHIH", b"II", 42, 8, len(tags)) + b"".join(entries) + bytes(4)
    tiff = head + payload
    if compression == GROUP4:
        # What a film is read back by; libtiff decodes it for Pillow too, only at a byte a pixel.
        stored = np.zeros((rows, (width + 7) // 8), np.uint8)
        is_whole = read_first_strip(tiff, stored)
        if is_whole is not None:
            if not is_whole:
                raise BrokenFilm("cannot be decoded by libtiff")
            stored[:, -1] &= pad_mask(width)
            return stored
    return _decoded_by_pillow(tiff, width, rows)


def _decoded_by_pillow(tiff: bytes, width: int, rows: int) -> UInt8Array:
    try:
        # The class itself, not Image.open: the pixel count is bounded by the caller's strips.
        with TiffImagePlugin.TiffImageFile(io.BytesIO(tiff)) as picture:
            picture.load()
            if picture.mode != "1" or picture.size != (width, rows):
                raise BrokenFilm(f"decodes to {picture.size}, not to {(width, rows)}")
            return _packed(picture)
    except (OSError, SyntaxError, ValueError) as error:
        raise BrokenFilm(str(error)) from error


def _packed(picture: Image.Image) -> UInt8Array:
    """The pixels of a picture that has a byte for each, as bits.

    Some rows at a time: a copy of all of them would be memory that the system has to clear anew for
    each strip.
    """
    width, height = picture.size
    packed = np.empty((height, (width + 7) // 8), np.uint8)
    band = max(1, _PIXELS_AT_ONCE // width)
    for top in range(0, height, band):
        foot = min(top + band, height)
        pixels = np.asarray(picture.crop((0, top, width, foot)))
        packed[top:foot] = np.packbits(pixels, axis=1)
    return packed

"""The different colors of art, each once."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, Int32Array
from filmhand.ink.art_pieces import SrgbCodes

_OF_8_BITS = 257  # times a code of 8 bits is one of 16


def distinct_codes(codes: SrgbCodes) -> tuple[Float64Array, Int32Array]:
    """The different codes of art.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes

    Returns
    -------
    distinct : (d, 3) float64, 0..1, in the order of red, green, blue
    place : (H, W) int32, which of them each pixel has
    """
    step = 1 if codes.dtype == np.uint8 else _OF_8_BITS
    if step == 1 or not (codes % step).any():
        return _distinct_of_8_bits(codes, step)
    red, green, blue = np.moveaxis(codes.astype(np.int64), -1, 0)
    packed, place = np.unique(red << 32 | green << 16 | blue, return_inverse=True)
    columns = np.stack([packed >> 32, packed >> 16 & 0xFFFF, packed & 0xFFFF], axis=1)
    return columns / np.iinfo(codes.dtype).max, place.reshape(red.shape).astype(np.int32)


def _distinct_of_8_bits(codes: SrgbCodes, step: int) -> tuple[Float64Array, Int32Array]:
    """The same, in the same order, of codes that are whole multiples of a step."""
    # 257 g has g in its lower byte.
    packed = np.zeros(codes.shape[:2], np.int32)
    for channel in range(3):
        packed <<= 8
        packed |= codes[..., channel] & 0xFF
    # Of neighbors that are alike only the first is sorted.
    flat = packed.ravel()
    first = np.ones(len(flat), np.bool_)
    np.not_equal(flat[1:], flat[:-1], out=first[1:])
    distinct, number = np.unique(flat[first], return_inverse=True)
    place = number.astype(np.int32)[np.cumsum(first, dtype=np.int32) - 1]
    columns = np.stack([distinct >> 16, distinct >> 8 & 0xFF, distinct & 0xFF], axis=1)
    return columns * step / np.iinfo(codes.dtype).max, place.reshape(packed.shape)

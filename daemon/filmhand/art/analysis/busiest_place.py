"""The place of a picture that tells most about how it will print."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray
from filmhand.art.files.gray import WHITE, Codes

# Blocks across the shorter side of the square: fewer tell little, more are only noise.
_BLOCKS = 16
# What a place without any change still counts, so that middle tones come before bare paper.
_CALM = 0.1


def busiest_place(
    coded: Codes, size: tuple[int, int], clear: BoolArray | None = None
) -> tuple[float, float]:
    """The middle of the rectangle with the most change in middle tones.

    Parameters
    ----------
    coded : (H, W) uint16 sRGB-coded gray
    size : (width, height) of the rectangle in pixels; cut to the picture
    clear : (h, w) bool over the picture, at any size: where nothing will print, so where nothing is
        busy

    Returns
    -------
    (x, y) as shares 0..1 of the picture's width and height; its middle where all places are alike
    """
    height, width = coded.shape
    across, down = (
        max(1, min(side, most)) for side, most in zip(size, (width, height), strict=True)
    )
    block = max(1, min(across, down) // _BLOCKS)
    rows, columns = height // block, width // block
    tone = np.empty((rows, columns))
    for row in range(rows):  # one row of blocks at a time, for the means are taken in floats
        band = coded[row * block : (row + 1) * block, : columns * block]
        tone[row] = 1 - band.reshape(block, columns, block).mean(axis=(0, 2)) / WHITE
    change = np.zeros_like(tone)
    change[1:] += np.abs(np.diff(tone, axis=0))
    change[:, 1:] += np.abs(np.diff(tone, axis=1))
    busy = tone * (1 - tone) * (_CALM + change)
    if clear is not None:
        middles = (
            ((np.arange(count) + 0.5) * block / whole * there).astype(np.int64)
            for count, whole, there in zip(tone.shape, coded.shape, clear.shape, strict=True)
        )
        busy[clear[np.ix_(*middles)]] = 0
    sums = np.pad(busy.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    high, wide = max(1, min(rows, down // block)), max(1, min(columns, across // block))
    totals = sums[high:, wide:] - sums[:-high, wide:] - sums[high:, :-wide] + sums[:-high, :-wide]
    if np.ptp(totals) <= 1e-9 * busy.sum():
        return 0.5, 0.5
    top, left = np.unravel_index(totals.argmax(), totals.shape)
    return (float(left) + wide / 2) * block / width, (float(top) + high / 2) * block / height

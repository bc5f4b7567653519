"""Levels of a photograph: which code becomes solid and which bare film when nobody says."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Int64Array
from filmhand.art.analysis.reading_words import ReadingNote
from filmhand.art.files.gray import WHITE, Codes
from filmhand.kernels.loops import compiled

_CLIPPED = 0.1  # percent at either end
_MOST_GAIN = 2.0
_LEAST_GAIN = 1.02
_BLANK_SPAN = 0.02
IDENTITY = (0, WHITE)
_BAND = 64


def percentile_codes(coded: Codes, *, black: float, white: float) -> tuple[int, int]:
    """The codes below which ``black`` % and above which ``white`` % of the pixels lie.

    coded : (H, W) uint16; about four megapixels of it are looked at.
    """
    step = max(1, int(np.sqrt(coded.size / 4e6)))
    counts = code_counts(coded, step)
    below = np.cumsum(counts) / counts.sum()
    low = int(np.searchsorted(below, black / 100, side="right"))
    high = int(np.searchsorted(below, 1 - white / 100, side="left"))
    return min(low, WHITE), min(high, WHITE)


def code_counts(coded: Codes, step: int) -> Int64Array:
    """How often each code stands in every so many-th row and column: (65536,) int64.

    coded : (H, W) uint16
    """
    loops = compiled()
    if loops is None or not coded.flags.c_contiguous:
        return _code_counts(coded, step)
    counts = np.zeros(65536, np.int64)
    loops.count_codes(coded, coded.shape[1], step, counts)
    return counts


def _code_counts(coded: Codes, step: int) -> Int64Array:
    """What the loop in C does."""
    counts = np.zeros(65536, np.int64)
    # In bands: bincount makes eight bytes of each code.
    for top in range(0, coded.shape[0], step * _BAND):
        band = coded[top : top + step * _BAND : step, ::step]
        counts += np.bincount(band.ravel(), minlength=65536)
    return counts


def auto_levels(coded: Codes, *, drawn: bool) -> tuple[int, int]:
    """The codes (black, white) that ``endpoints: auto`` maps to solid and to clear film.

    0.1 % of the pixels may clip at either end; contrast at most doubles. Drawn art, art that is
    one flat, and art with under 2 % to gain keep (0, 65535).
    """
    if drawn:
        return IDENTITY
    black, white = percentile_codes(coded, black=_CLIPPED, white=_CLIPPED)
    span = white - black
    if span < _BLANK_SPAN * WHITE or span * _LEAST_GAIN > WHITE:
        return IDENTITY
    least = round(WHITE / _MOST_GAIN)
    if span < least:
        # Widen towards both ends by the room that each has, so that the middle stays a middle.
        extra = least - span
        black -= round(extra * black / (WHITE - span))
        white = black + least
    return black, white


def describe_levels(levels: tuple[int, int]) -> str | None:
    """A sentence for the record, or None where nothing was stretched."""
    black, white = levels
    if levels == IDENTITY:
        return None
    return ReadingNote.STRETCHED.say(
        dark=f"{100 - 100 * black / WHITE:.0f}", light=f"{100 - 100 * white / WHITE:.0f}"
    )

"""Tells computer-drawn art from scans and photographs by its exact flats."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Int64Array
from filmhand.art.files.gray import WHITE, Codes

_BANDS = 400
# Share of sampled blocks that are exactly flat. Sensors and paper grain leave next to none;
# clipped skies and blown paper leave up to a half.
_DRAWN_SHARE = 0.6
_PIXELS_OF_A_ROW = 4096


def flat_codes(coded: Codes) -> tuple[Int64Array, int]:
    """Counts of exactly flat 4 x 4 blocks by gray, and the number of blocks looked at.

    Rows are sampled, 400 bands at most, so the time does not grow with the picture.

    coded : (H, W) uint16 -> (256,) int64 counts by the upper 8 bits of the code, int.
    """
    height, width = coded.shape
    counts, total = np.zeros(256, np.int64), 0
    if height < 4 or width < 4:
        return counts, total
    tops = np.unique(np.linspace(0, height - 4, min(_BANDS, height // 4)).astype(int))
    step = max(1, width // _PIXELS_OF_A_ROW)
    for top in tops:
        band = coded[top:]
        first = band[0, : width - 3 : step]
        same = np.ones(first.shape, bool)
        for row in range(4):
            for column in range(4):
                same &= band[row, column : width - 3 + column : step] == first
        counts += np.bincount(first[same] >> 8, minlength=256)
        total += first.size
    return counts, total


def looks_drawn(coded: Codes) -> bool:
    """True for computer-drawn art: mostly exact flats, and its ink is flat too or nearly black.

    A scan whose paper was clipped to white also has flats, but only in the white: the grain of
    pencil and the blur of the lens stay in its strokes.
    """
    counts, total = flat_codes(coded)
    if not total or counts.sum() < _DRAWN_SHARE * total:
        return False
    if not _few_levels(counts, total):
        return False
    step = max(1, int(np.sqrt(coded.size / 4e6)))
    sample = coded[::step, ::step]
    middle = float(((sample > 0.1 * WHITE) & (sample < 0.9 * WHITE)).mean())
    dark = float((sample <= 0.1 * WHITE).mean())
    flat_middle = float(counts[26:230].sum()) / total
    return middle - flat_middle <= 2 * (dark + flat_middle)


def _few_levels(counts: Int64Array, total: int) -> bool:
    """True if the flats stand on few grays, as chosen colors do.

    JPEG smooths the grain of a scan to flats too, but its shaded paper spreads them over many
    grays. After JPEG a chosen gray wanders by a code or two; then pure black or white is asked
    for as well, for evenly lit paper stays on few grays.
    """
    every = counts.sum()
    if every >= 0.85 * total and np.sort(counts)[-8:].sum() >= 0.98 * every:
        return True
    common = int(np.argmax(counts))
    near = np.convolve(counts, np.ones(5, np.int64), "same")
    covered = 0
    for _ in range(8):
        peak = int(np.argmax(near))
        covered += int(near[peak])
        near[max(0, peak - 4) : peak + 5] = 0
    return covered >= 0.9 * every and not 5 < common < 250

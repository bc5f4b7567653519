"""Tells computer-drawn art from scans and photographs by its exact flats."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Int64Array, distinct
from filmhand.art.analysis.auto_levels import percentile_codes
from filmhand.art.files.gray import WHITE, Codes
from filmhand.art.raster import looked_up
from filmhand.kernels.loops import compiled
from filmhand.values import dataclass

# What is as dark as this is black, and as light as this bare film or its tint; what is nearer to
# its ground than this is not seen.
_BLACK, _LEAST_GROUND, _WHITE_GROUND, _LEAST_CONTRAST = 0.1, 0.65, 0.98, 0.012
_LEAST_ON_TINT = 0.4
_LEAST_FLAT = 0.002  # share of the art that a flat ink has
_DARKEST = 0.1  # percent of the pixels, so that a few stray ones are not taken for the ink
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
    tops = distinct(np.linspace(0, height - 4, min(_BANDS, height // 4)).astype(int))
    step = max(1, width // _PIXELS_OF_A_ROW)
    total = len(tops) * len(range(0, width - 3, step))
    loops = compiled()
    if loops is None or not coded.flags.c_contiguous:
        return _flat_codes(coded, tops, step), total
    loops.count_flats(coded, width, tops, step, counts)
    return counts, total


def _flat_codes(coded: Codes, tops: Int64Array, step: int) -> Int64Array:
    """What the loop in C counts."""
    counts, width = np.zeros(256, np.int64), coded.shape[1]
    for top in tops:
        band = coded[top:]
        first = band[0, : width - 3 : step]
        same = np.ones(first.shape, bool)
        for row in range(4):
            for column in range(4):
                same &= band[row, column : width - 3 + column : step] == first
        counts += np.bincount(first[same] >> 8, minlength=256)
    return counts


@dataclass(frozen=True, slots=True)
class PaleInk:
    """The darkest ink of drawn art where it is no black, and the ground that it lies on.

    ink, ground : uint16 codes
    """

    ink: int
    ground: int

    @property
    def tone(self) -> float:
        """Tone 0..1 of the ink."""
        return 1 - self.ink / WHITE

    def brought_up(self, coded: Codes) -> Codes:
        """The art with this ink as black and its ground as white; what is darker is black too."""
        codes = np.arange(WHITE + 1)
        share = np.clip((codes - self.ink) / (self.ground - self.ink), 0, 1)
        return looked_up(np.round(share * WHITE).astype(np.uint16), coded)


def find_pale_ink(coded: Codes) -> PaleInk | None:
    """The darkest ink of drawn art; None where that is black, or where nothing is to be seen."""
    ink, ground = percentile_codes(coded, black=_DARKEST, white=_DARKEST)
    if ground < _LEAST_GROUND * WHITE or ground > _WHITE_GROUND * WHITE:
        ground = WHITE
    if ink < _BLACK * WHITE or ground - ink < _LEAST_CONTRAST * WHITE:
        return None
    if ground < WHITE and ground - ink < _LEAST_ON_TINT * WHITE:
        return None  # two pale colors, and none of them is bare
    return PaleInk(ink, ground)


def flat_inks(coded: Codes) -> list[tuple[float, float]]:
    """Tone and share, both 0..1, of each flat ink of drawn art beside its ground, dark ones first.

    Grays that lie next to one another are one ink.
    """
    counts, total = flat_codes(coded)
    shares = counts / max(1, total)
    inks: list[tuple[float, float]] = []
    code = 0
    while code < len(shares):
        if shares[code] < _LEAST_FLAT:
            code += 1
            continue
        stop = code
        while stop < len(shares) and shares[stop] >= _LEAST_FLAT:
            stop += 1
        peak = code + int(np.argmax(shares[code:stop]))
        inks.append((1 - peak / 255, float(shares[code:stop].sum())))
        code = stop
    return inks[:-1]  # the lightest is the ground


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

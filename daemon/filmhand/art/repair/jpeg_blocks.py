"""The squares of strongly compressed JPEG, smoothed before they are screened.

JPEG codes squares of 8 x 8 pixels for themselves (ITU-T T.81, 4.3), so that strong compression
leaves steps between them. They are taken out by coding the picture again with its own tables, but
with the squares laid elsewhere, and averaging over several such layings: A. Nosratinia,
"Enhancement of JPEG-compressed images by re-application of JPEG", Journal of VLSI Signal
Processing 27 (2001) 69-79. What the tables keep, edges above all, goes through unharmed. Where a
picture is flat, only the means of the squares are left, and what their rounding did is smoothed as
well.

The limits were set on open pictures compressed on purpose (the tests hold them); they have no
other source.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float32Array, Float64Array, distinct
from filmhand.art.files.gray import WHITE, Codes
from filmhand.art.raster import in_threads, local_maximum, median_of, sums_down
from filmhand.values import dataclass

SIDE = 8
_BANDS, _BAND_ROWS = 96, 9
_MOST_COLUMNS = 4096
_LARGEST_STEP = 12 * 257  # more than this between two pixels is an edge of the picture
_LEAST_STEP = 14  # of the table's lowest frequencies, in codes of 8 bits
_BLOCKY = 1.3
# Layings of the squares, spread over the 64 that there are; none of them is the file's own.
_LAYINGS = ((1, 4), (2, 1), (3, 6), (4, 3), (5, 7), (6, 2), (7, 5), (4, 0), (0, 4))
_STRIP, _HALO = 24, 4 * SIDE  # squares high, and pixels around them
_FLAT, _LIVELY = 1.6, 2.4  # change within 17 pixels, in steps of the mean


@dataclass(frozen=True, slots=True)
class JpegBlocks:
    """Squares that show.

    Attributes
    ----------
    blockiness : mean step between squares over the mean step within them
    down, across : row and column, 0 .. 7, at which the first whole square begins
    """

    blockiness: float
    down: int
    across: int


def find_blocks(coded: Codes, table: tuple[int, ...]) -> JpegBlocks | None:
    """The squares of a JPEG, or None where they do not show.

    coded : (H, W) uint16 sRGB-coded gray, as decoded or turned since, but not resampled.
    table : 64 steps of the file's table for lightness, row by row.
    """
    if np.mean([table[i] for i in (1, 2, 8, 9, 16)]) < _LEAST_STEP or min(coded.shape) < 4 * SIDE:
        return None
    rows, columns = _steps(coded), _steps(coded.T)
    across, down = int(np.argmax(rows)), int(np.argmax(columns))
    excess = [
        float(steps.max() / max(1.0, median_of(np.delete(steps, np.argmax(steps)))))
        for steps in (rows, columns)
    ]
    blockiness = min(excess)
    if blockiness < _BLOCKY:
        return None
    return JpegBlocks(blockiness, (down + 1) % SIDE, (across + 1) % SIDE)


def _steps(coded: Codes) -> Float64Array:
    """(8,) the mean step from column 8 k + i to the next, by i, over bands of rows."""
    height, width = coded.shape
    rows = distinct(np.linspace(0, height - 1, _BANDS).astype(int))
    # Whole squares from the middle of wide art are enough.
    first = max(0, (width - _MOST_COLUMNS) // 2) // SIDE * SIDE
    band = coded[rows, first : first + _MOST_COLUMNS].astype(np.int32)
    change = np.abs(np.diff(band, axis=1))
    steps = np.zeros(SIDE)
    for i in range(SIDE):
        part = change[:, i::SIDE]
        small = part[part <= _LARGEST_STEP]
        steps[i] = float(small.mean()) if small.size else 0.0
    return steps


def without_blocks(coded: Codes, table: tuple[int, ...], blocks: JpegBlocks) -> Codes:
    """The picture with its squares smoothed, strip by strip.

    coded : (H, W) uint16, left alone -> (H, W) uint16
    """
    height, width = coded.shape
    out = np.empty_like(coded)
    steps = np.array(table, np.float32).reshape(SIDE, SIDE) * np.float32(257)
    mean_step = float(steps[0, 0]) / SIDE
    # The mean of a square is not rounded again: in flats the squares differ by one step of it.
    steps[0, 0] = 1
    # Rows and columns beyond the edges are those at the edges; the strips begin on whole squares.
    left = (SIDE - blocks.across) % SIDE + _HALO
    whole = -(-(left + width) // SIDE) * SIDE + _HALO
    columns = np.arange(-left, whole - left).clip(0, width - 1)
    high = SIDE * _STRIP

    def strip(first: int) -> None:
        rows = np.arange(first - _HALO, first + high + _HALO).clip(0, height - 1)
        picture = _averaged(coded[rows][:, columns].astype(np.float32), steps)
        smooth = _flats_smoothed(picture, mean_step)[_HALO - SIDE :, left - SIDE :]
        a, b = max(0, first), min(height, first + high)
        out[a:b] = np.clip(np.rint(smooth[a - first : b - first, :width]), 0, WHITE)

    in_threads(strip, range(-((SIDE - blocks.down) % SIDE), height, high))
    return out


def _averaged(picture: Float32Array, steps: Float32Array) -> Float32Array:
    """The mean of the picture as it is and as coded again; a square less on all four sides."""
    height, width = (side - 2 * SIDE for side in picture.shape)
    total = picture[SIDE:-SIDE, SIDE:-SIDE].copy()
    for down, across in _LAYINGS:
        part = picture[down : down + height + SIDE, across : across + width + SIDE]
        again = _coded_again(np.ascontiguousarray(part), steps)
        total += again[SIDE - down :, SIDE - across :][:height, :width]
    total /= len(_LAYINGS) + 1
    return total


def _flats_smoothed(picture: Float32Array, step: float) -> Float32Array:
    """Where nothing changes by more than the rounding of means (``step``), that is smoothed out.

    No pixel moves by more than that rounding can have moved it, half a step.
    """
    change = local_maximum(picture, 2 * SIDE + 1) + local_maximum(-picture, 2 * SIDE + 1)
    weight = np.clip((_LIVELY * step - change) / ((_LIVELY - _FLAT) * step), 0, 1)
    if not weight.any():
        return picture
    soft = _box_mean(_box_mean(picture).T).T
    moved = np.clip(soft - picture, -step / 2, step / 2)
    found: Float32Array = (picture + weight * moved).astype(np.float32)
    return found


def _box_mean(field: Float32Array) -> Float32Array:
    """Means down columns over two squares and one pixel, edges repeated."""
    mean: Float32Array = (sums_down(field, SIDE, np.float64) / (2 * SIDE + 1)).astype(np.float32)
    return mean


def _cosines() -> Float32Array:
    """The transform of eight samples (ITU-T T.81, A.3.3) as an orthogonal matrix."""
    place = np.arange(SIDE)
    matrix = np.cos((2 * place[None, :] + 1) * place[:, None] * np.pi / 16) / 2
    matrix[0] /= np.sqrt(2)
    return matrix.astype(np.float32)


_COSINES = _cosines()


def _coded_again(picture: Float32Array, steps: Float32Array) -> Float32Array:
    """(H, W) of whole squares: each transformed, rounded to the table's steps, and back."""
    height, width = picture.shape
    squares = picture.reshape(height // SIDE, SIDE, width // SIDE, SIDE).transpose(0, 2, 1, 3)
    found = _COSINES @ squares @ _COSINES.T
    found /= steps
    np.rint(found, out=found)
    found *= steps
    back: Float32Array = (_COSINES.T @ found @ _COSINES).astype(np.float32, copy=False)
    return back.transpose(0, 2, 1, 3).reshape(height, width)

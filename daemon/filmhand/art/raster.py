"""Operations on gray pictures and masks that several steps share. Arrays in, arrays out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array, UInt16Array
from filmhand.kernels.loops import compiled
from filmhand.speaking_pool import SpeakingPool

_Item = TypeVar("_Item")
_Number = TypeVar("_Number", bound=np.generic)
_LOOKED_UP_AT_ONCE = 200_000  # pixels
_MOST_IN_TURN = 7  # numbers in a row that NumPy adds one after the other
_MANY = 20_000  # numbers of which some are found sooner by counting than by sorting


def row_strips(shape: tuple[int, ...], pixels: int, *, least: int = 1) -> Iterator[slice]:
    """The rows of an array, top to bottom: about so many pixels, at least ``least`` rows a time."""
    rows = max(least, pixels // shape[1])
    for top in range(0, shape[0], rows):
        yield slice(top, min(shape[0], top + rows))


def in_threads(function: Callable[[_Item], None], items: Iterable[_Item], threads: int = 2) -> None:
    """Calls a function with each item, so many at once: NumPy and Pillow let go of the lock."""
    with SpeakingPool(threads) as pool:
        for _ in pool.map(function, items):
            pass


def median_of(values: ArrayLike) -> float:
    """The median of numbers, of which there is one at least and none is NaN.

    NumPy's own loads its module for masked arrays, which takes longer than most medians.
    """
    flat = np.ravel(values)
    half = flat.size // 2
    first = half - 1 + flat.size % 2  # the two in the middle, or the one
    return float(_ranked(flat, list(range(first, half + 1))).mean())


def quantile_of(values: NDArray[Any], share: float) -> float:
    """The number that a share 0..1 of some numbers lies below; interpolated, in their own type.

    As ``np.quantile``, which loads the module for masked arrays. There is one number at least.
    """
    ((low, high, part),) = _around_quantiles(values, (share,))
    gap = high - low
    return float(high - gap * (1 - part) if part >= 0.5 else low + gap * part)


def quantiles_of(values: NDArray[Any], shares: tuple[float, ...]) -> Float64Array:
    """The same of several shares, interpolated as double: (shares,) float64."""
    around = _around_quantiles(values, shares)
    low, high = (np.array([one[side] for one in around]) for side in (0, 1))
    part, gap = np.array([one[2] for one in around]), high - low
    found: Float64Array = np.where(part >= 0.5, high - gap * (1 - part), low + gap * part)
    return found


def _around_quantiles(
    values: NDArray[Any], shares: tuple[float, ...]
) -> list[tuple[Any, Any, float]]:
    """For each share the numbers before and behind it, and how far it is from the one to the other.

    R. J. Hyndman and Y. Fan, Sample quantiles in statistical packages, The American Statistician 50
    (1996) 361-365, definition 7.
    """
    flat = np.ravel(values)
    places = [(flat.size - 1) * share for share in shares]
    sides = [(int(place), min(int(place) + 1, flat.size - 1)) for place in places]
    ranks = sorted({side for both in sides for side in both})
    ranked = dict(zip(ranks, _ranked(flat, ranks), strict=True))
    return [
        (ranked[low], ranked[high], place - low)
        for place, (low, high) in zip(places, sides, strict=True)
    ]


def _ranked(values: NDArray[_Number], ranks: list[int]) -> NDArray[_Number]:
    """The numbers that would stand at ascending places if all, (n,), were sorted."""
    loops = compiled()
    if loops is None or values.dtype != np.float32 or values.size < _MANY:
        return np.partition(values, ranks)[ranks]
    found = np.empty(len(ranks), values.dtype)
    loops.pick_floats(np.ascontiguousarray(values), np.array(ranks, np.int64), found)
    return found


def share_counts(shares: Float32Array, bins: int) -> Int64Array:
    """How many of some shares 0..1 lie in each of as many even bins, a power of two: exact then.

    As ``np.histogram``, which looks for the place of each among the bins' ends.
    """
    which = np.minimum((np.ravel(shares) * np.float32(bins)).astype(np.int64), bins - 1)
    return np.bincount(which, minlength=bins)


def looked_up(table: UInt16Array, coded: UInt16Array) -> UInt16Array:
    """The value that a table of 65536 has for each code, strip by strip.

    The indices that NumPy makes of the codes take eight bytes each.
    """
    out = np.empty_like(coded)
    for rows in row_strips(coded.shape, _LOOKED_UP_AT_ONCE):
        np.take(table, coded[rows], out=out[rows], mode="clip")
    return out


def smooth(field: Float32Array) -> Float32Array:
    """One pass of the 3 x 3 binomial filter, edges repeated."""
    loops = compiled()
    if loops is not None and field.dtype == np.float32:
        rows = np.ascontiguousarray(field)
        softer = np.empty_like(rows)
        loops.smooth(rows, rows.shape[1], softer)
        return softer
    return _smooth(field)


def _smooth(field: Float32Array) -> Float32Array:
    padded: Float32Array = np.pad(field, 1, mode="edge")
    rows = padded[:-2] + 2 * padded[1:-1] + padded[2:]
    both: Float32Array = (rows[:, :-2] + 2 * rows[:, 1:-1] + rows[:, 2:]) / np.float32(16)
    return both


def local_maximum(field: Float32Array, size: int) -> Float32Array:
    """Maximum over ``size`` x ``size`` windows (odd), edges repeated."""
    loops = compiled()
    if loops is not None and field.dtype == np.float32:
        rows = np.ascontiguousarray(field)
        highest = np.empty_like(rows)
        loops.local_maximum(rows, rows.shape[1], size, highest)
        return highest
    return _local_maximum(field, size)


def _local_maximum(field: Float32Array, size: int) -> Float32Array:
    return _line_maximum(_line_maximum(field, size).T, size).T


def _line_maximum(field: Float32Array, size: int) -> Float32Array:
    """Maximum over ``size`` rows about each, by doubling shifts."""
    half = size // 2
    run: Float32Array = np.pad(field, ((half, half), (0, 0)), mode="edge")
    reach = 1
    while reach < size:
        step = min(reach, size - reach)
        run = np.maximum(run[:-step], run[step:])
        reach += step
    return run


def closing(field: Float32Array, size: int) -> Float32Array:
    """Gray closing with a square: valleys narrower than ``size`` are filled, the rest is kept."""
    size |= 1
    pad = size  # so that a dip at the border is closed like one inside
    wide = np.pad(field, pad, mode="reflect" if min(field.shape) > pad else "edge")
    closed = -local_maximum(-local_maximum(wide, size), size)
    return closed[pad:-pad, pad:-pad]


def otsu(counts: Int64Array) -> int:
    """The bin that best parts a histogram in two: the last bin of the lower class.

    N. Otsu, "A threshold selection method from gray-level histograms", IEEE Transactions on
    Systems, Man, and Cybernetics 9 (1979) 62-66: the greatest variance between the classes.
    """
    share = counts / max(1, counts.sum())
    below = np.cumsum(share)
    moment = np.cumsum(share * np.arange(len(share)))
    between = (moment[-1] * below - moment) ** 2 / np.maximum(below * (1 - below), 1e-12)
    return int(np.argmax(between))


def grown(mask: BoolArray, by: int) -> BoolArray:
    """The mask grown by ``by`` pixels in all eight directions."""
    return local_maximum(mask.astype(np.float32), 2 * by + 1) > 0


def fill_gaps(field: Float32Array, gaps: BoolArray) -> Float32Array:
    """The field with its gaps filled smoothly from around (averages over ever larger blocks)."""
    weight = (~gaps).astype(np.float32)
    return _fill(field * weight, weight)


def _fill(total: Float32Array, weight: Float32Array) -> Float32Array:
    height, width = total.shape
    known = total / np.maximum(weight, 1e-6)
    if weight.min() > 0 or max(height, width) <= 2:
        return np.where(weight > 0, known, known[weight > 0].mean() if weight.any() else 0.0)
    pad = ((0, height % 2), (0, width % 2))
    coarse = _fill(block_sums(np.pad(total, pad), 2), block_sums(np.pad(weight, pad), 2))
    around = smooth(smooth(coarse.repeat(2, axis=0).repeat(2, axis=1)))[:height, :width]
    return np.where(weight > 0, known, around).astype(np.float32)


def sums_down(field: NDArray[Any], reach: int, dtype: type[_Number]) -> NDArray[_Number]:
    """Sums over the rows up to so many above and below each, edges repeated."""
    wide = np.pad(field, ((reach + 1, reach), (0, 0)), mode="edge").cumsum(axis=0, dtype=dtype)
    sums: NDArray[_Number] = wide[2 * reach + 1 :] - wide[: -2 * reach - 1]
    return sums


def sums_around(field: Float32Array | BoolArray, reach: int) -> Float64Array:
    """Sums over the square that reaches so many pixels to every side; beyond the edges lies 0."""
    sums = np.pad(field.astype(np.float64).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    (top, bottom), (left, right) = (
        (np.maximum(np.arange(n) - reach, 0), np.minimum(np.arange(n) + reach + 1, n))
        for n in field.shape
    )
    total: Float64Array = sums[bottom][:, right] - sums[top][:, right]
    total -= sums[bottom][:, left] - sums[top][:, left]
    return total


def block_sums(field: Float32Array, factor: int) -> Float32Array:
    """Sums over ``factor`` x ``factor`` blocks, (H, W) -> (H // factor, W // factor) float32.

    What does not fill a block is left out. The sums are those of NumPy's over both axes at once,
    which adds the pixels of a row of a block, and then these sums.
    """
    height, width = (side // factor for side in field.shape)
    whole = field[: height * factor, : width * factor]
    if factor > _MOST_IN_TURN or width < 2:
        sums: Float32Array = whole.reshape(height, factor, width, factor).sum(axis=(1, 3))
        return sums
    across = whole[:, 0::factor].copy()
    for column in range(1, factor):
        across += whole[:, column::factor]
    total = across[0::factor].copy()
    for row in range(1, factor):
        total += across[row::factor]
    return total


def connected_runs(mask: BoolArray) -> tuple[Int64Array, Int64Array, Int64Array, Int64Array]:
    """The runs of a mask, (H, W) bool, with the 8-connected component that each belongs to.

    Returns
    -------
    row, first, stop, label : (runs,) int64
        sorted by row and column; ``stop`` is one past the last pixel, labels count from 0
    """
    # All rows one after another, each behind a pixel that is False: so runs begin and end in turn.
    height, width = mask.shape
    pixels = np.zeros(height * (width + 1) + 1, np.bool_)
    pixels[:-1].reshape(height, width + 1)[:, 1:] = mask
    changes = np.flatnonzero(pixels[1:] != pixels[:-1])
    row, first = np.divmod(changes[0::2], width + 1)
    stop = changes[1::2] - row * (width + 1)
    joined = _joined(row, first, stop, mask.shape[1])
    return row, first, stop, np.unique(joined, return_inverse=True)[1]


def label_components(mask: BoolArray) -> tuple[Int64Array, int]:
    """Labels of the 8-connected components of a mask, from 1 (0 where it is False); how many."""
    height, width = mask.shape
    row, first, stop, label = connected_runs(mask)
    steps = np.zeros((height, width + 1), np.int64)
    np.add.at(steps, (row, first), label + 1)
    np.add.at(steps, (row, stop), -(label + 1))
    return steps.cumsum(axis=1)[:, :width], int(label.max()) + 1 if len(label) else 0


def _joined(row: Int64Array, first: Int64Array, stop: Int64Array, width: int) -> Int64Array:
    """For each run the smallest run that it hangs together with."""
    # Runs are sorted by row and column, so those that touch a run from above are a span.
    wide = width + 2
    begins, ends = row * wide + first, row * wide + stop
    low = np.searchsorted(ends, begins - wide, side="left")
    high = np.searchsorted(begins, ends - wide, side="right")
    many = np.maximum(high - low, 0)
    lower = np.repeat(np.arange(len(row)), many)
    upper = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many) + np.repeat(low, many)
    root = np.arange(len(row))
    while True:
        least = np.minimum(root[lower], root[upper])
        before = root.copy()
        np.minimum.at(root, root[lower], least)
        np.minimum.at(root, root[upper], least)
        while True:
            further = root[root]
            if np.array_equal(further, root):
                break
            root = further
        if np.array_equal(before, root):
            return root

"""Line work inside a picture: lettering, rules and logos, whose edges should not break into dots.

Around such edges nearly everything is either solid or bare, and there is something of both; in
photographs most of the same neighborhood lies between. The shares were set by looking at lettering
over photographs and at open test pictures (the tests hold them); they have no other source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, UInt16Array
from filmhand.art.files.gray import Codes
from filmhand.art.raster import in_threads, row_strips, sums_down
from filmhand.kernels.loops import compiled
from filmhand.values import dataclass

SOLID_TONE, CLEAR_TONE = 0.92, 0.07
_LEAST_OF_EACH, _LEAST_OF_BOTH = 0.08, 0.65
_LARGEST_BLOCK = 12
_BAND = 64  # rows of blocks at a time
# Counts of both kinds share one number, so that the picture is looked up and summed once.
_ONE_CLEAR = 256


@dataclass(frozen=True, slots=True)
class LineWork:
    """Where a picture is line work, in blocks of its pixels.

    Attributes
    ----------
    blocks : (h, w) bool
    size : (rows, columns) of pixels a block
    """

    blocks: BoolArray
    size: tuple[int, int]

    @property
    def share(self) -> float:
        """Share of the picture, 0..1."""
        return float(self.blocks.mean())


def find_line_work(
    coded: Codes,
    *,
    solid: BoolArray,
    clear: BoolArray,
    reach: tuple[float, float],
    threads: int = 1,
) -> LineWork | None:
    """The blocks of a picture whose surroundings are line work; None where there are none.

    Parameters
    ----------
    coded : (H, W) uint16
    solid, clear : (65536,) bool, which codes print solid or nearly, and which stay clear or nearly
    reach : rows and columns of pixels around an edge that count as its surroundings
    threads : how many bands are looked at at once
    """
    height, width = (
        min(whole, int(min(_LARGEST_BLOCK, max(1, side / 1.5))))
        for whole, side in zip(coded.shape, reach, strict=True)
    )
    rows, columns = coded.shape[0] // height, coded.shape[1] // width
    kind = (solid + _ONE_CLEAR * clear.astype(np.uint16)).astype(np.uint16)
    around = [max(1, int(reach[0] / height)), max(1, int(reach[1] / width))]
    pixels = height * width * (2 * around[0] + 1) * (2 * around[1] + 1)
    found = np.zeros((rows, columns), np.bool_)

    def look(some: slice) -> None:
        # A band is counted with as many rows around it as its sums reach, so that no more than a
        # few bands are in memory at once.
        first, stop = max(0, some.start - around[0]), min(rows, some.stop + around[0])
        band = coded[first * height : stop * height]
        counts = block_counts(band, kind, size=(height, width))
        inside = slice(some.start - first, some.stop - first)
        of_solid = _sum_around(counts % _ONE_CLEAR, around, inside)
        of_clear = _sum_around(counts // _ONE_CLEAR, around, inside)
        found[some] = np.minimum(of_solid, of_clear) >= _LEAST_OF_EACH * pixels
        of_solid += of_clear
        found[some] &= of_solid >= _LEAST_OF_BOTH * pixels

    in_threads(look, row_strips((rows, 1), _BAND), threads)
    return LineWork(found, (height, width)) if found.any() else None


def block_counts(coded: Codes, kind: UInt16Array, *, size: tuple[int, int]) -> UInt16Array:
    """The sums of what a table of 65536 has for each code, over whole blocks of pixels.

    They must not pass 65535.

    coded : (H, W) uint16 -> (H // rows of a block, W // its columns) uint16
    """
    height, width = size
    columns = coded.shape[1] // width
    loops = compiled()
    if loops is None:
        return _block_counts(coded[:, : columns * width], kind, size)
    counts = np.empty((coded.shape[0] // height, columns), np.uint16)
    rows = np.ascontiguousarray(coded)
    loops.sum_blocks(rows, coded.shape[1], kind, height, width, columns, counts)
    return counts


def _block_counts(coded: Codes, kind: UInt16Array, size: tuple[int, int]) -> UInt16Array:
    """What the loop in C does."""
    height, width = size
    band = kind[coded]
    counts = np.zeros((coded.shape[0] // height, coded.shape[1] // width), np.uint16)
    for row in range(height):
        for column in range(width):
            counts += band[row::height, column::width][: len(counts)]
    return counts


def _sum_around(counts: UInt16Array, reach: list[int], rows: slice) -> NDArray[np.int32]:
    """The sums over 2 reach + 1 blocks each way, of some of the rows; edges repeated."""
    return sums_down(sums_down(counts, reach[0], np.int32)[rows].T, reach[1], np.int32).T

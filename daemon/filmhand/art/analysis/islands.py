"""Small islands of ink far from everything else: dust, specks, strays of a cut-out.

An island is small itself, far from all that is not small, and has little beside it. So the dot of
an i, a full stop and a caption of small letters stay: they have their word around them.

How small and how far is common practice, no source.
"""

from __future__ import annotations

import numpy as np

from filmhand.arrays import BoolArray, Float32Array, Int64Array, UInt16Array
from filmhand.art.raster import label_components, row_strips, sums_around
from filmhand.values import dataclass

_BLOCKS = 800  # along the longer side, about
_STRIP_PIXELS = 400_000


@dataclass(frozen=True, slots=True)
class InkIslands:
    """What to clear, in blocks of the picture.

    Attributes
    ----------
    blocks : (h, w) bool
    size : pixels of a block, down and across alike
    places : (column, row) of each island's middle, in pixels of the picture
    """

    blocks: BoolArray
    size: int
    places: tuple[tuple[int, int], ...]

    def clear(self, picture: UInt16Array, clear: int) -> None:
        """Put the code ``clear`` where the islands are, in place."""
        for row, column in zip(*np.nonzero(self.blocks), strict=True):
            top, left = row * self.size, column * self.size
            picture[top : top + self.size, left : left + self.size] = clear


def block_size(shape: tuple[int, ...]) -> int:
    """Pixels of a block for a picture of this shape."""
    return max(1, max(shape) // _BLOCKS)


def ink_of_blocks(picture: UInt16Array, tone: Float32Array, size: int) -> Float32Array:
    """Mean tone of each block; blocks at the right and lower edge may be smaller.

    picture : (H, W) uint16
    tone : (65536,) float32, the tone 0..1 of each code; 0 is bare
    -> (ceil(H / size), ceil(W / size)) float32, above 0 wherever a single pixel is
    """
    height, width = picture.shape
    down, across = -(-height // size), -(-width // size)
    ink = np.empty((down, across), np.float32)
    lefts = np.arange(0, width, size)
    for rows in row_strips((down, width * size), _STRIP_PIXELS):
        strip = np.take(tone, picture[rows.start * size : rows.stop * size])
        tops = np.arange(0, len(strip), size)
        ink[rows] = np.add.reduceat(np.add.reduceat(strip, lefts, axis=1), tops, axis=0)
    ink /= size * size
    return ink


def find_islands(ink: Float32Array, size: int, *, least: float, far: int) -> InkIslands:
    """The islands of a picture.

    Parameters
    ----------
    ink : (h, w) float32 of :func:`ink_of_blocks`, 0 where a block is bare
    size : pixels of a block
    least : ink, in blocks' worth of solid, up to which a component is small, and up to which all
        that lies around it is little
    far : blocks that an island is away from everything larger
    """
    labels, count = label_components(ink > 0)
    amounts = np.bincount(labels.ravel(), weights=ink.ravel(), minlength=count + 1)
    # Ink counts by its extent as well: a faint wide haze is no speck.
    extents = np.bincount(labels.ravel(), minlength=count + 1)
    small = (amounts <= least) & (extents <= max(9.0, 4 * least))
    small[0] = False
    near_large = sums_around((labels > 0) & ~small[labels], far) > 0
    crowded = sums_around(ink, far) > least + 1e-4
    kept = np.zeros(count + 1, np.bool_)
    kept[labels[near_large | crowded]] = True
    gone = small & ~kept
    blocks = gone[labels]
    places = tuple(
        (round((x + 0.5) * size), round((y + 0.5) * size))
        for x, y in _middles(labels, np.flatnonzero(gone))
    )
    return InkIslands(blocks, size, places)


def _middles(labels: Int64Array, which: Int64Array) -> list[tuple[float, float]]:
    if not which.size:
        return []
    rows, columns = np.nonzero(labels)
    of = labels[rows, columns]
    length = int(labels.max()) + 1
    number = np.maximum(np.bincount(of, minlength=length), 1)
    x = np.bincount(of, weights=columns, minlength=length) / number
    y = np.bincount(of, weights=rows, minlength=length) / number
    return [(float(x[i]), float(y[i])) for i in which]

"""Soft edges of drawings, with of each ink what the flats to either side have, and no other ink.

Between black and beige lies brown. A table of mixtures prints the smoothed pixels of such an edge
with whatever ink is brown: dashes along the outlines, on the film of an ink that has no part in
them. Here such pixels get blends of the inks of the two flats.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

import numpy as np

from filmhand.arrays import BoolArray, Float64Array, UInt16Array
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.edge_sides import WAYS, Places, either_side, part_of_blend
from filmhand.ink.wide_places import EVEN, even_places

SOFT_REACH = 2
"""Pixels to either side within which a soft edge has its two flats."""
CONTEXT = SOFT_REACH + 1
"""Rows of art above and below a part that decide about its pixels."""
_FAR = range(1, SOFT_REACH + 1)
_STEPS = sorted(((before, after) for before in _FAR for after in _FAR), key=sum)


class _Edge(NamedTuple):
    """Pixels of soft edges, as rows and columns.

    one, other : of each, the places of the flats to either side
    part : (m,) what the other has of it, 0..1
    """

    pixels: Places
    one: Places
    other: Places
    part: Float64Array


def blend_soft_edges(planes: UInt16Array, codes: SrgbCodes) -> None:
    """Give the pixels of soft edges blends of what the flats to either side have, in place.

    An edge is what lies, within :data:`SOFT_REACH`, between two places that are even over two by
    two pixels, and whose codes are a blend of theirs.

    Parameters
    ----------
    planes : (n, H, W) uint16, the coverage of each ink
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the same pixels; of a part of the art,
        :data:`CONTEXT` rows at the inner ends are context
    """
    for edge in _edges(codes):
        first, second = (planes[:, *place].astype(np.float64) for place in (edge.one, edge.other))
        planes[:, *edge.pixels] = np.rint(first + edge.part * (second - first)).astype(np.uint16)


def soft_edges(codes: SrgbCodes) -> BoolArray:
    """(H, W) which pixels are of soft edges; parameters are as for :func:`blend_soft_edges`."""
    found = np.zeros(codes.shape[:2], np.bool_)
    for edge in _edges(codes):
        found[edge.pixels] = True
    return found


def _edges(codes: SrgbCodes) -> Iterator[_Edge]:
    """The pixels of soft edges, each once, those nearest to their flats first."""
    largest = float(np.iinfo(codes.dtype).max)
    even = even_places(codes, EVEN * largest)
    y, x = (place.astype(np.int64) for place in np.nonzero(~even))
    for steps, way in product(_STEPS, WAYS):
        at, one, other = either_side((y, x), even.shape, steps, way)
        between = even[one] & even[other]
        at, one, other = at[between], _of(one, between), _of(other, between)
        part, fits = part_of_blend(*(codes[of] / largest for of in ((y[at], x[at]), one, other)))
        at = at[fits]
        yield _Edge((y[at], x[at]), _of(one, fits), _of(other, fits), part[fits])
        y, x = np.delete(y, at), np.delete(x, at)


def _of(places: Places, which: BoolArray) -> Places:
    return places[0][which], places[1][which]

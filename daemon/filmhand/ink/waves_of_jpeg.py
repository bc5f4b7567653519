"""What JPEG leaves around the edges of drawings, given to the flats that it is of.

After JPEG a drawing has waves in the blocks of its edges, and edges whose color is softer than
their light. A table of mixtures prints all that with whatever ink comes near. Here each such pixel
gets the inks of one of the flats around it, or a blend of those of two.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.ink.art_pieces import SrgbCodes
from filmhand.ink.wide_places import EVEN, bits_around, even_places, places_of
from filmhand.values import dataclass

WAVES_REACH = 7
"""Rows of art above and below a part that decide about its pixels: a block of JPEG has eight."""
_WIDE, _SAME = 3, 2 / 255  # pixels of a flat each way, and how even they are, of codes 0..1
_ROWS_LOOKED_AT = 500
_LEAST_FLAT = 0.001  # of the art; what is rarer is no flat that others belong to
_MOST_FLATS = 30
# Of codes 0..1 with half of what is color: within what a pixel is a flat's in any case, or where no
# blend comes near, and within what it is a blend.
_SURELY, _PERHAPS, _BLENDED = 16 / 255, 32 / 255, 40 / 255
# From red, green and blue to luma and half of the differences of color (ITU-T T.871).
_LUMA = np.array([0.299, 0.587, 0.114])
_SEEN = np.stack(
    [_LUMA, 0.25 * (np.eye(3)[0] - _LUMA) / 0.701, 0.25 * (np.eye(3)[2] - _LUMA) / 0.886]
)


@dataclass(frozen=True, slots=True, eq=False)
class Flats:
    """The wide flats of a drawing.

    Attributes
    ----------
    codes : (k, 3) uint8 or uint16, sRGB, the most common first, no two next to each other
    inks : (n, k) uint16, the coverage of each ink
    """

    codes: SrgbCodes
    inks: UInt16Array


def common_flats(codes: SrgbCodes) -> SrgbCodes:
    """(k, 3) the codes of the wide flats of (H, W, 3) sRGB codes, the most common first."""
    largest = np.iinfo(codes.dtype).max
    if min(codes.shape[:2]) < _WIDE:
        return codes[:0, 0]
    rows = np.arange(0, len(codes) - _WIDE + 1, max(1, len(codes) // _ROWS_LOOKED_AT))
    bands = np.stack([codes[rows + k] for k in range(_WIDE)])
    windows = sliding_window_view(np.stack([bands.max(axis=0), bands.min(axis=0)]), _WIDE, axis=2)
    spread = windows[0].max(axis=-1) - windows[1].min(axis=-1)
    flat = bands[0, :, : spread.shape[1]][(spread <= _SAME * largest).all(axis=-1)]
    found, counts = np.unique(flat, axis=0, return_counts=True)
    wide = np.flatnonzero(counts >= _LEAST_FLAT * spread[..., 0].size)
    kept: list[int] = []
    for place in wide[np.argsort(-counts[wide], kind="stable")]:
        apart = np.abs(found[kept].astype(np.int64) - found[place]).max(axis=1)
        if len(kept) < _MOST_FLATS and (apart > EVEN * largest).all():
            kept.append(int(place))
    common: SrgbCodes = found[kept]
    return common


def calm_edges(planes: UInt16Array, codes: SrgbCodes, flats: Flats) -> None:
    """Give uneven pixels the inks of the flats around them that they are of, in place.

    Parameters
    ----------
    planes : (n, H, W) uint16, the coverage of each ink
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the same pixels; of a part of the art,
        :data:`WAVES_REACH` rows at the inner ends are context
    flats : of the whole art
    """
    largest = float(np.iinfo(codes.dtype).max)
    y, x = np.nonzero(~even_places(codes, EVEN * largest))
    around = _flats_around(codes, flats.codes)[y, x]
    seen, of_flats = (part / largest @ _SEEN.T for part in (codes[y, x], flats.codes))
    for bits in np.unique(around):
        here = np.flatnonzero(around == bits)
        present = [k for k in range(len(of_flats)) if bits >> k & 1]
        if present:
            found = _shares(seen[here], of_flats[present])
            kept = here[found[:, 0] >= 0]
            inks = found[found[:, 0] >= 0] @ flats.inks[:, present].T
            planes[:, y[kept], x[kept]] = np.rint(inks.T).astype(np.uint16)


def _shares(seen: Float64Array, flats: Float64Array) -> Float64Array:
    """(m, k) the share that each flat has of a pixel; -1 where they tell nothing of it."""
    apart = np.sqrt(((seen[:, None] - flats) ** 2).sum(axis=-1))
    shares: Float64Array = np.eye(len(flats))[apart.argmin(axis=1)]
    alone = apart.min(axis=1)
    least = np.where(alone <= _SURELY, -1, _BLENDED)  # what a blend has to come nearer than
    mixed = np.zeros(len(seen), np.bool_)
    for one, other in combinations(range(len(flats)), 2):
        way = flats[other] - flats[one]
        part = np.clip((seen - flats[one]) @ way / (way @ way), 0, 1)
        off = np.sqrt(((flats[one] + part[:, None] * way - seen) ** 2).sum(axis=-1))
        nearer = off < least
        shares[nearer], least[nearer], mixed[nearer] = 0, off[nearer], True
        shares[nearer, one], shares[nearer, other] = 1 - part[nearer], part[nearer]
    shares[~mixed & (alone > _PERHAPS)] = -1
    return shares


def _flats_around(codes: SrgbCodes, flats: SrgbCodes) -> NDArray[np.uint32]:
    """(H, W) bit k set where the flat k is near."""
    largest = float(np.iinfo(codes.dtype).max)
    bits = np.zeros(codes.shape[:2], np.uint32)
    for k, flat in enumerate(flats.astype(np.int32)):
        alike = (np.abs(codes.astype(np.int32) - flat) <= _SURELY * largest).all(axis=-1)
        bits |= places_of(alike, 2).astype(np.uint32) << np.uint32(k)
    return bits_around(bits, WAVES_REACH - 1)

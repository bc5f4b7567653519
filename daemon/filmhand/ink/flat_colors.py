"""Art of flat colors to the share of each pixel that each ink has.

A pixel of a flat color is wholly the ink's that is nearest by CIEDE2000, or bare cloth. Where flats
meet, drawings have pixels between their colors; those are shared as the flats within two pixels
blend to their color, so that no gap and no double shows: the shares of a pixel add up to 1, the
cloth's among them. A color between an ink and the cloth is a tint of the ink, wherever it is. What
is none of these goes to what is nearest, and is told.

A blend may look like an ink that has no part in it: at the edge of red on white like pink. Within
two pixels of an edge a pixel is therefore taken for a blend of the flats there, wherever that comes
nearer to its color than the ink does.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from filmhand.arrays import BoolArray, Float32Array, Float64Array, Int64Array, UInt16Array
from filmhand.ink.blends import MOST_COLORS, blend_shares
from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference, nearest_color
from filmhand.values import dataclass

SrgbCodes = NDArray[np.uint8] | NDArray[np.uint16]
_Labels = NDArray[np.int8]
FLAT_TOLERANCE = 5.0
"""CIEDE2000 within which a color is an ink's: seen at once side by side, taken for the same apart
(common practice, no source)."""
EDGE_REACH = 3
"""Rows above and below that the shares of a row depend on."""
_SOFT = 2  # pixels to either side within which an edge has its two flats
_OF_8_BITS = 257  # times a code of 8 bits is one of 16
_WHOLE = 1 / 32  # a share this near to nothing or all is taken for that, as noise would be dots
_SAME = 0.5  # CIEDE2000 that nobody sees
MOST_COLORS_TOLD = 8
"""Unreached colors that are named."""


@dataclass(frozen=True, slots=True, eq=False)
class FlatColors:
    """What a pixel can be.

    Attributes
    ----------
    palette : (n + 1, 3) float64, L*, a*, b* of the inks and, last, of the cloth
    found : (n + 1, 3) float64, sRGB codes 0..1 that the art has for each; where it has none, those
        of the palette
    tolerance : CIEDE2000 within which a color is an ink's
    in_light : whether the art's edges are blends of light, else of codes
    """

    palette: Float64Array
    found: Float64Array
    tolerance: float
    in_light: bool = False

    @property
    def cloth(self) -> int:
        """The place of the cloth in the palette."""
        return len(self.palette) - 1


@dataclass(frozen=True, slots=True, eq=False)
class UnreachedColor:
    """A color of the art that no ink comes near.

    Attributes
    ----------
    color : (3,) float64, L*, a*, b*
    nearest : place in the palette of the ink that it was given to
    difference : CIEDE2000 to it
    pixels : how many have the color
    """

    color: Float64Array
    nearest: int
    difference: float
    pixels: int


@dataclass(frozen=True, slots=True, eq=False)
class FlatShares:
    """How the pixels of flat art are shared.

    Attributes
    ----------
    shares : (H, W, n + 1) float32, 0..1, by ink and last for the cloth; those of a pixel add up
        to 1
    unreached_pixels : how many pixels no ink, edge or tint comes near
    unreached : their most frequent colors, eight at most
    """

    shares: Float32Array
    unreached_pixels: int
    unreached: tuple[UnreachedColor, ...]


def flat_colors(
    codes: SrgbCodes, inks: Float64Array, cloth: Float64Array, *, tolerance: float = FLAT_TOLERANCE
) -> FlatColors:
    """The inks and the cloth, and the very codes that art has for each.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the art, or of a part of it
    inks : (n, 3) float64, L*, a*, b*; at most 15
    cloth : (3,) float64, L*, a*, b*

    Raises
    ------
    ValueError
        For more inks.
    """
    palette = np.concatenate([inks, cloth[None]])
    if len(palette) > MOST_COLORS:
        raise ValueError(f"{len(inks)} inks are more than {MOST_COLORS - 1}")
    distinct, place = _distinct(codes)
    labels = _labels(distinct, palette, tolerance)[place]
    found, flat = lab_to_srgb(palette), _in_flat(labels)
    for k in range(len(palette)):
        # A mean would be of nothing that is there. In a gradient all codes are as frequent, and
        # the ink's own is its end.
        counts = np.bincount(place[(labels == k) & flat], minlength=len(distinct))
        if counts.any():
            frequent = distinct[counts * 2 >= counts.max()]
            apart = color_difference(srgb_to_lab(frequent), palette[k])
            found[k] = frequent[apart.argmin()]
    colors = FlatColors(palette, found, tolerance)
    return replace(colors, in_light=_blends_light(codes, colors))


def share_flats(
    codes: SrgbCodes, colors: FlatColors, *, counted: slice = slice(None)
) -> FlatShares:
    """The share of each pixel that each ink has.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes; of a part of the art, :data:`EDGE_REACH` rows at
        the inner ends are context, whose shares may differ from those of the whole
    colors : of the whole art, from :func:`flat_colors`
    counted : the rows whose unreached pixels are told
    """
    labels, edges = _told_apart(codes, colors)
    shares = np.zeros((*labels.shape, len(colors.palette)), np.float32)
    whole = ~edges.asked
    shares[whole, labels[whole]] = 1
    found, difference = _shared(edges, colors)
    shares[edges.asked] = found[edges.kind]
    inside = np.zeros_like(edges.asked)
    inside[counted] = True
    pixels = np.bincount(edges.kind[inside[edges.asked]], minlength=len(edges.pixels))
    missed = (difference > colors.tolerance) & (pixels > 0)
    told = _told(edges.codes[missed], pixels[missed], colors)
    return FlatShares(shares, int(pixels[missed].sum()), told)


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """The pixels that are not simply in a flat, by kind: of one color between the same flats.

    Attributes
    ----------
    asked : (H, W) bool, which pixels these are
    kind : (number of these) int64, the kind of each
    pixels : (m,) int64, how many are of each kind
    codes : (m, 3) float64, 0..1, the color of each kind
    firm, loose : (m,) uint16, the flats nearby and, with them, single pixels that look like a flat
    """

    asked: BoolArray
    kind: Int64Array
    pixels: Int64Array
    codes: Float64Array
    firm: UInt16Array
    loose: UInt16Array


def _told_apart(codes: SrgbCodes, colors: FlatColors) -> tuple[_Labels, _Edges]:
    """(H, W) the place of each pixel in the palette, or -1, and what is to be looked at closer."""
    distinct, place = _distinct(codes)
    labels = _labels(distinct, colors.palette, colors.tolerance)[place]
    bits = np.where(labels >= 0, np.left_shift(1, np.maximum(labels, 0)), 0).astype(np.uint16)
    firm = _around(np.where(_in_flat(labels), bits, 0).astype(np.uint16), _SOFT)
    soft = np.bitwise_count(firm) > 1
    loose = np.where(soft, _around(bits, _SOFT), 0)
    asked = soft | (labels < 0)
    key = place[asked] << 32 | np.where(soft, firm, 0)[asked].astype(np.int64) << 16 | loose[asked]
    kinds, kind, pixels = np.unique(key, return_inverse=True, return_counts=True)
    sets = [(kinds >> shift & 0xFFFF).astype(np.uint16) for shift in (16, 0)]
    return labels, _Edges(asked, kind, pixels, distinct[kinds >> 32], *sets)


def _blends_light(codes: SrgbCodes, colors: FlatColors) -> bool:
    """Whether the edges between flats come nearer to blends of light than to those of codes."""
    _, edges = _told_apart(codes, colors)
    between = edges.firm > 0
    kinds, sets, pixels = edges.codes[between], edges.firm[between], edges.pixels[between]
    off = []
    for in_light in (False, True):
        _, difference = blend_shares(kinds, colors.found, sets, of=2, in_light=in_light)
        off.append(np.minimum(difference, colors.tolerance) @ pixels)
    # Between grays both are the same, and by the code is how tone goes.
    return bool(off[1] < 0.8 * off[0])


def _distinct(codes: SrgbCodes) -> tuple[Float64Array, Int64Array]:
    """(d, 3) the distinct codes, 0..1, and (H, W) the place of each pixel's among them."""
    step = 1 if codes.dtype == np.uint8 else _OF_8_BITS
    if step == 1 or not (codes % step).any():
        return _distinct_of_8_bits(codes, step)
    red, green, blue = np.moveaxis(codes.astype(np.int64), -1, 0)
    packed, place = np.unique(red << 32 | green << 16 | blue, return_inverse=True)
    columns = np.stack([packed >> 32, packed >> 16 & 0xFFFF, packed & 0xFFFF], axis=1)
    return columns / np.iinfo(codes.dtype).max, place.reshape(red.shape)


def _distinct_of_8_bits(codes: SrgbCodes, step: int) -> tuple[Float64Array, Int64Array]:
    """The same, in the same order, of codes that are whole multiples of a step, without sorting."""
    packed = np.zeros(codes.shape[:2], np.int32)
    for channel in range(3):
        packed <<= 8
        packed |= codes[..., channel] // step
    there = np.zeros(2**24, np.bool_)
    there[packed] = True
    distinct = np.flatnonzero(there)
    number = np.zeros(2**24, np.int32)
    number[distinct] = np.arange(len(distinct))
    columns = np.stack([distinct >> 16, distinct >> 8 & 0xFF, distinct & 0xFF], axis=1)
    return columns * step / np.iinfo(codes.dtype).max, number[packed].astype(np.int64)


def _labels(distinct: Float64Array, palette: Float64Array, tolerance: float) -> _Labels:
    """(d,) the place in the palette of the color that is near enough, or -1."""
    nearest, difference = nearest_color(srgb_to_lab(distinct), palette)
    return np.where(difference <= tolerance, nearest, -1).astype(np.int8)


def _in_flat(labels: _Labels) -> BoolArray:
    """(H, W) whether a pixel has a label and is one of two by two pixels of that."""
    padded = np.pad(labels, 1, constant_values=-1)
    blocks = sliding_window_view(padded, (2, 2))
    same = (blocks == blocks[..., :1, :1]).all(axis=(2, 3)) & (blocks[..., 0, 0] >= 0)
    of_block: BoolArray = same[:-1, :-1] | same[1:, :-1] | same[:-1, 1:] | same[1:, 1:]
    return of_block


def _around(bits: UInt16Array, reach: int) -> UInt16Array:
    """(H, W) all bits that are set within so many pixels across and down."""
    for axis in (0, 1):
        width = [(reach, reach) if one == axis else (0, 0) for one in (0, 1)]
        windows = sliding_window_view(np.pad(bits, width), 2 * reach + 1, axis=axis)
        bits = np.bitwise_or.reduce(windows, axis=-1)
    return bits


def _shared(edges: _Edges, colors: FlatColors) -> tuple[Float64Array, Float64Array]:
    """(m, n + 1) the shares of each kind of pixel, and (m,) how far they are off."""
    codes, firm, loose = edges.codes, edges.firm, edges.loose
    shares = np.zeros((len(codes), len(colors.palette)))
    difference = np.full(len(codes), np.inf)
    tints = [np.full_like(firm, 1 << k | 1 << colors.cloth) for k in range(colors.cloth)]
    for stage in ([(firm, 2)], [(loose, 2)], [(loose, 3)], [(tint, 2) for tint in tints]):
        asked = np.flatnonzero(difference > colors.tolerance)
        for sets, of in stage:
            found, off = blend_shares(
                codes[asked], colors.found, sets[asked], of=of, in_light=colors.in_light
            )
            better = off < difference[asked]
            shares[asked[better]], difference[asked[better]] = found[better], off[better]
    shares = np.where(shares < _WHOLE, 0, shares)
    shares /= np.maximum(shares.sum(axis=1, keepdims=True), _WHOLE)

    # A line of one pixel, and what no blend comes near, are whole.
    lab = srgb_to_lab(codes)
    nearest, apart = nearest_color(lab, colors.palette)
    itself = color_difference(lab, srgb_to_lab(colors.found)[nearest])
    whole = (itself <= np.minimum(difference, colors.tolerance)) | (itself <= _SAME)
    whole |= (difference > colors.tolerance) & (firm == 0)
    shares[whole] = np.eye(len(colors.palette))[nearest[whole]]
    return shares, np.where(whole, np.minimum(apart, itself), difference)


def _told(
    codes: Float64Array, pixels: Int64Array, colors: FlatColors
) -> tuple[UnreachedColor, ...]:
    """The most frequent of the colors, each with the ink that it is nearest to."""
    distinct, place = np.unique(codes, axis=0, return_inverse=True)
    counts = np.bincount(place.ravel(), weights=pixels, minlength=len(distinct)).astype(np.int64)
    order = np.argsort(-counts, kind="stable")[:MOST_COLORS_TOLD]
    lab = srgb_to_lab(distinct[order])
    nearest, difference = nearest_color(lab, colors.palette)
    return tuple(
        UnreachedColor(lab[i], int(nearest[i]), float(difference[i]), int(counts[order[i]]))
        for i in range(len(order))
    )

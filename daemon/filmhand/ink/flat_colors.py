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

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import (
    BoolArray,
    Float32Array,
    Float64Array,
    Int32Array,
    Int64Array,
    UInt16Array,
)
from filmhand.ink.art_pieces import SrgbCodes, art_pieces
from filmhand.ink.blends import LEAST_SHARE, MOST_COLORS, blend_shares
from filmhand.ink.cielab import lab_to_srgb, srgb_to_lab
from filmhand.ink.color_difference import color_difference, nearest_color
from filmhand.ink.distinct_codes import distinct_codes
from filmhand.ink.edge_pairs import share_pairs
from filmhand.ink.fading import InksThatFade, share_fades
from filmhand.ink.wide_places import EVEN, bits_around, even_places, places_of
from filmhand.tone import FULL
from filmhand.values import dataclass

_Labels = NDArray[np.int8]
FLAT_TOLERANCE = 5.0
"""CIEDE2000 within which a color is an ink's: seen at once side by side, taken for the same apart
(common practice, no source)."""
EDGE_REACH = 3
"""Rows above and below that the shares of a row depend on."""
COUNTED_REACH = 8
"""Rows above and below that decide whether no ink comes near a pixel."""
_SOFT = 2  # pixels to either side within which an edge has its two flats
_SAME = 0.5  # CIEDE2000 that nobody sees
# Off the inks is what is so many pixels wide and high; else what is even and off by 12, or off by
# 25. Of a logo in three inks of 360 pixels a side, saved as JPEG of quality 30, 7.2 % were beyond
# the tolerance, 2.2 % beyond 12, and 0.2 % count; of a noisy scan 4.6, 0.1 and 0.01 %
# (tests/unit/pipeline/separation/test_chosen_inks.py draws such).
_WIDE = 6
_FAR, _VERY_FAR = 12.0, 25.0
_BESIDE_FADE = 0.5  # times what fades have of an ink, its flats tell the very code
MOST_COLORS_TOLD = 8
"""Unreached colors that are named."""


@dataclass(frozen=True, slots=True, eq=False)
class KnownPlaces:
    """Colors whose places in the palette were worked out.

    Attributes
    ----------
    keys : (d,) int64, of the colors, rising
    places : (d,) int8, -1 where none is near enough
    """

    keys: Int64Array
    places: _Labels

    def of(self, keys: Int64Array) -> tuple[_Labels, BoolArray]:
        """(m,) the places of colors, and of which they are known."""
        at = np.minimum(np.searchsorted(self.keys, keys), max(0, len(self.keys) - 1))
        if not len(self.keys):
            return np.full(len(keys), -1, np.int8), np.zeros(len(keys), np.bool_)
        return self.places[at], self.keys[at] == keys

    def with_more(self, keys: Int64Array, places: _Labels) -> KnownPlaces:
        """The same with colors that are not among them."""
        at = np.searchsorted(self.keys, keys)
        return KnownPlaces(np.insert(self.keys, at, keys), np.insert(self.places, at, places))


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
    fine : whether a line of one pixel is too thin to be printed
    known : the places of colors that were looked up before
    """

    palette: Float64Array
    found: Float64Array
    tolerance: float
    in_light: bool = False
    fine: bool = False
    known: KnownPlaces | None = None

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
    unreached_pixels : how many pixels no ink, edge or tint comes near, but for what compression and
        noise leave
    unreached : their most frequent colors, eight at most
    """

    shares: Float32Array
    unreached_pixels: int
    unreached: tuple[UnreachedColor, ...]


def flat_colors(
    codes: SrgbCodes,
    inks: Float64Array,
    cloth: Float64Array,
    *,
    tolerance: float = FLAT_TOLERANCE,
    fading: Callable[[slice, slice], InksThatFade] | None = None,
    fine: bool = False,
) -> FlatColors:
    """The inks and the cloth, and the very codes that art has for each.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes of the art, or of a part of it
    inks : (n, 3) float64, L*, a*, b*; at most 15
    cloth : (3,) float64, L*, a*, b*
    fading : gives where inks fade to the cloth, in some rows and columns, where that is known: the
        art's own codes are taken from elsewhere
    fine : whether a line of one pixel is too thin to be printed

    Raises
    ------
    ValueError
        For more inks.
    """
    palette = np.concatenate([inks, cloth[None]])
    if len(palette) > MOST_COLORS:
        raise ValueError(f"{len(inks)} inks are more than {MOST_COLORS - 1}")
    colors = FlatColors(palette, lab_to_srgb(palette), tolerance, fine=fine)
    known, counts, faded = _counted(codes, colors, fading)
    # The keys are the codes themselves.
    distinct = np.stack([known.keys >> 32, known.keys >> 16 & FULL, known.keys & FULL], axis=1)
    for k in range(len(palette)):
        # A mean would be of nothing that is there. In a gradient all codes are as frequent, and
        # the ink's own is its end.
        own = np.where(known.places == k, counts, 0)
        # What is left beside a fade is of the fade, which may end before the ink's own color.
        if own.any() and own.sum() >= _BESIDE_FADE * faded[known.places == k].sum():
            frequent = distinct[own * 2 >= own.max()] / FULL
            apart = color_difference(srgb_to_lab(frequent), palette[k])
            colors.found[k] = frequent[apart.argmin()]
    colors = replace(colors, known=known)
    return replace(colors, in_light=_blends_light(codes, colors))


def _counted(
    codes: SrgbCodes, colors: FlatColors, fading: Callable[[slice, slice], InksThatFade] | None
) -> tuple[KnownPlaces, Int64Array, Int64Array]:
    """The places of all colors of the art, and how often each is in a flat and in a fade."""
    known = KnownPlaces(np.empty(0, np.int64), np.empty(0, np.int8))
    found: list[tuple[Int64Array, Int64Array]] = []
    for piece in art_pieces(codes, EDGE_REACH):
        part = codes[piece.around]
        distinct, place = distinct_codes(part[:1, :1] if piece.plain else part)
        own = _keys(distinct)
        labels = _places(own, distinct, replace(colors, known=known))
        fresh = ~known.of(own)[1]
        if fresh.any():
            known = known.with_more(own[fresh], labels[fresh])
        counted = np.zeros((2, len(distinct)), np.int64)
        if piece.plain:
            counted[0] = piece.pixels
        else:
            flat = _in_flat(labels[place])[piece.own]
            fades = np.zeros_like(flat)
            if fading is not None:
                fades = flat & (fading(piece.rows, piece.columns) >= 0)
            for number, counts in enumerate((flat & ~fades, fades)):
                counted[number] = np.bincount(place[piece.own][counts], minlength=len(distinct))
        found.append((own, counted))
    total = np.zeros((2, len(known.keys)), np.int64)
    for own, counted in found:
        total[:, np.searchsorted(known.keys, own)] += counted
    return known, total[0], total[1]


def _keys(distinct: Float64Array) -> Int64Array:
    """(d,) int64, colors of 16 bits as one number each, rising as they do."""
    red, green, blue = np.rint(distinct.T * FULL).astype(np.int64)
    keys: Int64Array = red << 32 | green << 16 | blue
    return keys


def _places(keys: Int64Array, distinct: Float64Array, colors: FlatColors) -> _Labels:
    """(d,) the place in the palette of the color that is near enough, or -1."""
    if colors.known is None:
        return _labels(distinct, colors.palette, colors.tolerance)
    places, there = colors.known.of(keys)
    if not there.all():
        new = _labels(distinct[~there], colors.palette, colors.tolerance)
        places = places.copy()
        places[~there] = new
    return places


def place_of_color(codes: SrgbCodes, colors: FlatColors) -> int:
    """The place in the palette of the (3,) codes of one color, or -1 where none is near enough."""
    distinct, _ = distinct_codes(codes[None, None])
    return int(_places(_keys(distinct), distinct, colors)[0])


def share_flats(
    codes: SrgbCodes,
    colors: FlatColors,
    *,
    counted: slice | tuple[slice, slice] = slice(None),
    fading: InksThatFade | None = None,
) -> FlatShares:
    """The share of each pixel that each ink has.

    Parameters
    ----------
    codes : (H, W, 3) uint8 or uint16, sRGB codes; of a part of the art, :data:`EDGE_REACH` rows and
        columns at the inner ends are context, whose shares may differ from those of the whole
    colors : of the whole art, from :func:`flat_colors`
    counted : the rows, or rows and columns, whose unreached pixels are told
    fading : (H, W) int8, where inks fade to the cloth, if anywhere: there no color counts as an
        ink for being near to it
    """
    found_codes = distinct_codes(codes)
    labels, edges = _told_apart(found_codes, colors)
    shares = np.zeros((*labels.shape, len(colors.palette)), np.float32)
    whole = ~edges.asked
    shares[whole, labels[whole]] = 1
    found, difference = _shared(edges, colors)
    shares[edges.asked] = found[edges.kind]
    share_pairs(
        shares,
        codes,
        found_codes,
        np.where(_in_flat(labels), labels, -1).astype(np.int8),
        labels,
        edges.asked,
        found=colors.found,
        in_light=colors.in_light,
        fine=colors.fine,
    )
    if fading is not None and (fading >= 0).any():
        share_fades(shares, fading, *found_codes, colors)
    inside = np.zeros_like(edges.asked)
    inside[counted] = _off_the_inks(codes, edges, difference, colors.tolerance)[counted]
    pixels = np.bincount(edges.kind[inside[edges.asked]], minlength=len(edges.pixels))
    missed = pixels > 0
    told = _told(edges.codes[missed], pixels[missed], colors)
    return FlatShares(shares, int(pixels[missed].sum()), told)


def _off_the_inks(
    codes: SrgbCodes, edges: _Edges, difference: Float64Array, tolerance: float
) -> BoolArray:
    """(H, W) which pixels no ink, edge or tint comes near.

    difference : (m,) how far each kind of pixel is off

    What compression and scanners leave beside edges and in flats is narrow, uneven and not very far
    off: no color that anybody drew.
    """
    off = np.zeros(edges.asked.shape)
    off[edges.asked] = difference[edges.kind]
    height, width = edges.asked.shape
    missed: BoolArray = places_of(off > tolerance, min(_WIDE, height, width))
    missed |= off > max(_VERY_FAR, tolerance)
    far = (off > max(_FAR, tolerance)) & ~missed
    if far.any():
        missed |= far & even_places(codes, EVEN * float(np.iinfo(codes.dtype).max))
    return missed


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


def _told_apart(
    codes: tuple[Float64Array, Int32Array], colors: FlatColors
) -> tuple[_Labels, _Edges]:
    """(H, W) the place of each pixel in the palette, or -1, and what is to be looked at closer.

    codes : the distinct ones, and which each pixel has
    """
    distinct, place = codes
    labels = _places(_keys(distinct), distinct, colors)[place]
    bits = np.where(labels >= 0, np.left_shift(1, np.maximum(labels, 0)), 0).astype(np.uint16)
    firm = bits_around(np.where(_in_flat(labels), bits, 0).astype(np.uint16), _SOFT)
    soft = np.bitwise_count(firm) > 1
    loose = np.where(soft, bits_around(bits, _SOFT), 0)
    asked = soft | (labels < 0)
    key = (
        place[asked].astype(np.int64) << 32
        | np.where(soft, firm, 0)[asked].astype(np.int64) << 16
        | loose[asked]
    )
    kinds, kind, pixels = np.unique(key, return_inverse=True, return_counts=True)
    sets = [(kinds >> shift & 0xFFFF).astype(np.uint16) for shift in (16, 0)]
    return labels, _Edges(asked, kind, pixels, distinct[kinds >> 32], *sets)


def _blends_light(codes: SrgbCodes, colors: FlatColors) -> bool:
    """Whether the edges between flats come nearer to blends of light than to those of codes."""
    off = np.zeros(2)
    for piece in art_pieces(codes, EDGE_REACH):
        if piece.plain:
            continue
        _, edges = _told_apart(distinct_codes(codes[piece.around]), colors)
        inside = np.zeros_like(edges.asked)
        inside[piece.own] = True
        pixels = np.bincount(edges.kind[inside[edges.asked]], minlength=len(edges.pixels))
        between = (edges.firm > 0) & (pixels > 0)
        kinds, sets = edges.codes[between], edges.firm[between]
        for number, in_light in enumerate((False, True)):
            _, difference = blend_shares(kinds, colors.found, sets, of=2, in_light=in_light)
            off[number] += np.minimum(difference, colors.tolerance) @ pixels[between]
    # Between grays both are the same, and by the code is how tone goes.
    return bool(off[1] < 0.8 * off[0])


def _labels(distinct: Float64Array, palette: Float64Array, tolerance: float) -> _Labels:
    """(d,) the place in the palette of the color that is near enough, or -1."""
    nearest, difference = nearest_color(srgb_to_lab(distinct), palette)
    return np.where(difference <= tolerance, nearest, -1).astype(np.int8)


def _in_flat(labels: _Labels) -> BoolArray:
    """(H, W) whether a pixel has a label and is one of two by two pixels of that."""
    across = (labels[:, 1:] == labels[:, :-1]) & (labels[:, 1:] >= 0)
    block = across[1:] & across[:-1] & (labels[1:, 1:] == labels[:-1, 1:])
    flat = np.zeros(labels.shape, np.bool_)
    for rows in (slice(None, -1), slice(1, None)):
        for columns in (slice(None, -1), slice(1, None)):
            flat[rows, columns] |= block
    return flat


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
    shares = np.where(shares < LEAST_SHARE, 0, shares)
    shares /= np.maximum(shares.sum(axis=1, keepdims=True), LEAST_SHARE)

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

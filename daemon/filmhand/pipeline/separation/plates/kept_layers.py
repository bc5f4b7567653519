"""A drawn layer that is looked at twice: which colors it has, and what they are of its ink.

It is drawn once and packed meanwhile: where each strip is opaque at all, and the pixels there. That
is little, as most of a layer is bare or even.
"""

from __future__ import annotations

import zlib

import numpy as np

from filmhand.arrays import Float64Array, Int64Array, UInt16Array, UInt32Array
from filmhand.art.opened_art import DrawnColors
from filmhand.ink.tints import PlateOfInk, codes_of_kinds
from filmhand.values import dataclass

_LEVEL = 1  # of packing: fast
_SAMPLES = 60_000  # pixels of a strip whose colors are looked at
# Pixels as whole numbers, of which red is the lowest byte.
_PIXEL = "<u4"
_OPACITY = 24  # bits below it
_COLOR = 2**_OPACITY - 1
_FULL_OPACITY = 255


@dataclass(frozen=True, slots=True, eq=False)
class LayerColors:
    """The colors of a layer.

    Attributes
    ----------
    codes : (m, 3) float64, sRGB codes 0..1, each once
    counts : (m,) how often each was met among those that were looked at
    is_all_over : whether it has a color everywhere
    """

    codes: Float64Array
    counts: Int64Array
    is_all_over: bool


class KeptLayer:
    """A layer as it was drawn.

    Parameters
    ----------
    drawn : what draws it
    """

    def __init__(self, drawn: DrawnColors) -> None:
        """Draws it."""
        self.shape = drawn.shape
        self.most_opaque = 0
        self._opaque = 0
        self._strips: list[tuple[int, bytes, bytes]] = []
        self._samples: list[UInt32Array] = []
        for pixels in drawn.strips:
            flat = np.ascontiguousarray(pixels).view(_PIXEL).reshape(-1)
            there = flat > _COLOR
            seen = flat[there]
            if not len(seen):
                self._strips.append((len(pixels), b"", b""))
                continue
            packed = [zlib.compress(one.tobytes(), _LEVEL) for one in (np.packbits(there), seen)]
            self._strips.append((len(pixels), packed[0], packed[1]))
            self._opaque += int(np.count_nonzero(seen >= _FULL_OPACITY << _OPACITY))
            self.most_opaque = max(self.most_opaque, int(seen.max()) >> _OPACITY)
            self._samples.append(seen[:: -(-len(seen) // _SAMPLES)].copy())

    def colors(self) -> LayerColors:
        """Its colors, of what is at least half as opaque as its most opaque: others are coarse."""
        samples = np.concatenate(self._samples)
        plain = samples[samples >> _OPACITY >= self.most_opaque // 2]
        kinds, counts = np.unique((plain if len(plain) else samples) & _COLOR, return_counts=True)
        everywhere = self._opaque == self.shape[0] * self.shape[1]
        return LayerColors(codes_of_kinds(kinds), counts, everywhere)

    def tones_into(self, made: UInt16Array, plate: PlateOfInk) -> None:
        """Write its tones as an ink, 65535 for a solid, to (H, W) uint16 that is zero."""
        top = 0
        for rows, packed, pixels in self._strips:
            target = made[top : top + rows]
            top += rows
            if not packed:
                continue
            bits = np.frombuffer(zlib.decompress(packed), np.uint8)
            there = np.unpackbits(bits, count=target.size).view(bool)
            seen = np.frombuffer(zlib.decompress(pixels), _PIXEL)
            tones, opacity = plate.tones(seen & _COLOR), seen >> _OPACITY
            if opacity.min() < _FULL_OPACITY:
                half = np.uint32(_FULL_OPACITY // 2)
                tones = ((tones * opacity + half) // _FULL_OPACITY).astype(np.uint16)
            target[there.reshape(target.shape)] = tones

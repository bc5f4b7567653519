"""The layers of a layered working file, as its section of layers describes them.

Layout by the format's published specification: a record for each layer, from the lowest on, then
their pixels in the same order. A group is a record as well, above its layers; a record without a
name that people see lies below them.
"""

from __future__ import annotations

import struct
from typing import BinaryIO

from filmhand.art.formats.channel_names import plain_name
from filmhand.art.formats.layered import LayeredFile
from filmhand.values import dataclass

OPACITY, MASK = -1, -2
"""Numbers of the channels that are no colors."""
_REAL_MASK = -3
_MOST_LAYERS, _MOST_CHANNELS, _MOST_BLOCKS = 1000, 60, 200
_MOST_BYTES = 2**25  # of records, which stand before all pixels
_HIDDEN, _MASK_OFF = 2, 2
_GROUP_STARTS, _GROUP_ENDS = 3, (1, 2)
# What makes a layer other than its pixels show it: effects, masks of paths, fills and adjustments.
_BEYOND_PIXELS = frozenset(
    b"lfx2 lrFX lmfx vmsk vsms SoCo GdFl PtFl levl curv hue2 brit blnc nvrt post thrs selc mixr "
    b"grdm phfl blwh vibA expA clrL CgEd".split()
)
_PLAIN_BLENDS = (b"norm", b"pass")
# Blocks whose length has eight bytes in the large variant.
_LONG_BLOCKS = frozenset(
    b"LMsk Lr16 Lr32 Layr Mt16 Mt32 Mtrn Alph FMsk lnk2 FEid FXid PxSD".split()
)


@dataclass(frozen=True, slots=True)
class Area:
    """Rows and columns of the picture, the last ones not among them; may lie beyond its edges."""

    top: int = 0
    left: int = 0
    bottom: int = 0
    right: int = 0

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns, none where it is turned inside out."""
        return max(0, self.bottom - self.top), max(0, self.right - self.left)


@dataclass(frozen=True, slots=True)
class StoredLayer:
    """A layer, or a group of layers.

    Attributes
    ----------
    name : as people gave it
    is_visible : whether it is shown
    opacity : 0..1
    area : of its pixels
    channels : by number, where each begins and how many bytes it has
    mask, mask_outside : the area of its mask and the mask's value beyond, 0..1; None without
    is_plain : whether its pixels, with mask and opacity, are all that it shows
    is_blended : whether it is laid over others in another way than covering them
    members : of a group its layers, from the lowest on; None for a layer
    """

    name: str
    is_visible: bool
    opacity: float
    area: Area
    channels: dict[int, tuple[int, int]]
    mask: Area | None = None
    mask_outside: float = 0.0
    is_plain: bool = True
    is_blended: bool = False
    members: tuple[StoredLayer, ...] | None = None


def read_layers(file: BinaryIO, found: LayeredFile) -> tuple[StoredLayer, ...]:
    """The layers that stand in no group, from the lowest on; none where it has none.

    Raises
    ------
    ValueError, struct.error
        Where the section contradicts itself.
    """
    at, length = found.layers
    file.seek(at)
    reader = _Reader(file.read(min(length, _MOST_BYTES)), at, found.version)
    return reader.tree() if length else ()


class _Reader:
    """Goes through the section of layers."""

    def __init__(self, data: bytes, start: int, version: int) -> None:
        self._data, self._start = data, start
        self._large = version == 2
        self._at = 0

    def tree(self) -> tuple[StoredLayer, ...]:
        length = self._number(8 if self._large else 4)
        if not length:
            self._find_words()
        if self._at + 2 > len(self._data):
            return ()
        open_groups: list[list[StoredLayer]] = [[]]
        for layer, kind in self._records():
            if kind == _GROUP_STARTS:
                open_groups.append([])
            elif kind in _GROUP_ENDS and len(open_groups) > 1:
                members = tuple(open_groups.pop())
                open_groups[-1].append(_group(layer, members))
            else:
                open_groups[-1].append(layer)
        if len(open_groups) > 1:
            raise ValueError("a group of layers has no end")
        return tuple(open_groups[0])

    def _take(self, count: int) -> bytes:
        if not 0 <= count <= len(self._data) - self._at:
            raise ValueError("the section of layers breaks off")
        self._at += count
        return self._data[self._at - count : self._at]

    def _number(self, count: int) -> int:
        return int.from_bytes(self._take(count), "big")

    def _find_words(self) -> None:
        """Go to the layers of a picture of sixteen bits a color, which stand in a block."""
        self._take(self._number(4))
        for key, at, length in self._blocks(len(self._data), pad=4):
            if key == b"Lr16":
                self._at = at
                return
            self._at = at + length
        self._at = len(self._data)

    def _records(self) -> list[tuple[StoredLayer, int]]:
        count = abs(int.from_bytes(self._take(2), "big", signed=True))
        if count > _MOST_LAYERS:
            raise ValueError("more layers than anybody has")
        heads = [self._record() for _ in range(count)]
        made, at = [], self._start + self._at
        for layer, kind, lengths in heads:
            channels = {}
            for number, length in lengths:
                channels[number] = at, length
                at += length
            made.append((_with_channels(layer, channels), kind))
        return made

    def _record(self) -> tuple[StoredLayer, int, list[tuple[int, int]]]:
        area = Area(*struct.unpack(">4i", self._take(16)))
        count = self._number(2)
        if count > _MOST_CHANNELS:
            raise ValueError("more channels than anybody has")
        length_bytes = 8 if self._large else 4
        lengths = [
            (int.from_bytes(self._take(2), "big", signed=True), self._number(length_bytes))
            for _ in range(count)
        ]
        signature, blend, opacity, clipping, flags = struct.unpack(">4s4sBBBx", self._take(12))
        if signature != b"8BIM":
            raise ValueError("a layer does not begin where it should")
        stop = self._number(4) + self._at
        mask, outside = self._mask(stop)
        self._take(self._number(4))
        short = self._take(self._number(1))
        self._take(-(1 + len(short)) % 4)
        name, kind, fill, plain = short.decode("utf-8", "replace"), 0, 255, not clipping
        for key, at, length in self._blocks(stop, pad=2):
            data = self._data[at : at + length]
            if key == b"luni":
                signs = int.from_bytes(data[:4], "big")
                name = data[4 : 4 + 2 * signs].decode("utf-16-be", "replace")
            elif key in (b"lsct", b"lsdk"):
                kind = int.from_bytes(data[:4], "big")
            elif key == b"iOpa":
                fill = data[0]
            plain &= key not in _BEYOND_PIXELS
        self._at = stop
        plain &= all(number != _REAL_MASK for number, _ in lengths)
        layer = StoredLayer(
            plain_name(name.rstrip("\0")),
            not flags & _HIDDEN,
            opacity * fill / 255**2,
            area,
            {},
            mask,
            outside,
            plain,
            blend not in _PLAIN_BLENDS,
        )
        return layer, kind, lengths

    def _mask(self, stop: int) -> tuple[Area | None, float]:
        length = self._number(4)
        end = self._at + length
        if end > stop:
            raise ValueError("a mask is longer than its layer")
        if length < 18:
            self._at = end
            return None, 0.0
        area = Area(*struct.unpack(">4i", self._take(16)))
        outside, flags = self._take(2)
        self._at = end
        return (None if flags & _MASK_OFF else area), outside / 255

    def _blocks(self, stop: int, *, pad: int) -> list[tuple[bytes, int, int]]:
        """The key of each block up to a place, where its data begin, and how long they are."""
        found: list[tuple[bytes, int, int]] = []
        at = self._at
        while at + 12 <= stop and len(found) < _MOST_BLOCKS:
            signature, key = self._data[at : at + 4], self._data[at + 4 : at + 8]
            if signature not in (b"8BIM", b"8B64"):
                break
            count = 8 if self._large and key in _LONG_BLOCKS else 4
            length = int.from_bytes(self._data[at + 8 : at + 8 + count], "big")
            at += 8 + count
            found.append((key, at, length))
            at += length + -length % pad
        return found


def _with_channels(layer: StoredLayer, channels: dict[int, tuple[int, int]]) -> StoredLayer:
    layer.channels.update(channels)
    return layer


def _group(layer: StoredLayer, members: tuple[StoredLayer, ...]) -> StoredLayer:
    # Layers in a group show what they are alone only where all of them cover.
    plain = layer.is_plain and all(
        not one.is_visible or (one.is_plain and not one.is_blended) for one in members
    )
    return StoredLayer(
        layer.name,
        layer.is_visible,
        layer.opacity,
        layer.area,
        layer.channels,
        layer.mask,
        layer.mask_outside,
        plain,
        layer.is_blended,
        members,
    )

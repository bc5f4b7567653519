"""Layered working files (first bytes 8BPS), as far as their flattened picture is concerned.

The layout is that of the format's published specification: header, color mode data, image
resources, layers and masks, and last the flattened picture, plane by plane, plain or packed.
A file that lies about itself comes out as not whole.
"""

from __future__ import annotations

import struct
from dataclasses import field
from enum import IntEnum
from typing import BinaryIO

from filmhand.art.files.file_words import FileRefusal
from filmhand.values import dataclass


class ColorMode(IntEnum):
    """The modes of color that are read, as the header numbers them."""

    BITMAP = 0
    GRAY = 1
    INDEXED = 2
    RGB = 3
    CMYK = 4
    SPOTS = 7
    DUOTONE = 8
    LAB = 9


class Packing(IntEnum):
    """How the flattened picture is packed."""

    PLAIN = 0
    ROWS = 1
    ZIP = 2
    ZIP_DIFFERENCES = 3


_BITS: dict[int, tuple[int, ...]] = {
    ColorMode.BITMAP: (1,),
    ColorMode.GRAY: (8, 16, 32),
    ColorMode.INDEXED: (8,),
    ColorMode.RGB: (8, 16, 32),
    ColorMode.CMYK: (8, 16),
    ColorMode.DUOTONE: (8, 16, 32),
    ColorMode.LAB: (8, 16),
    ColorMode.SPOTS: (8, 16),
}
_HEADER_BYTES = 26
# The image resource that tells whether a flattened picture was saved at all.
_VERSION_INFO = 1057
_MOST_RESOURCES = 2000
_MOST_ROWS = 57 * 300_000


@dataclass(frozen=True, slots=True)
class LayeredFile:
    """What the sections before the flattened picture say.

    flattened : False where the file says that its flattened picture is an empty stand-in
    see_through : the first channel beyond the colors is the picture's opacity
    whole : the flattened picture ends within the file
    packing, at : how the flattened picture is packed, and where it begins
    palette : where the color mode data lie, and how long they are
    layers : the same of the section that has the layers
    resources : the same of each image resource, by its number
    """

    version: int
    width: int
    height: int
    bits: int
    mode: int
    flattened: bool
    see_through: bool
    whole: bool
    channels: int = 0
    packing: int = Packing.PLAIN
    at: int = 0
    palette: tuple[int, int] = (0, 0)
    layers: tuple[int, int] = (0, 0)
    resources: dict[int, tuple[int, int]] = field(default_factory=dict)


def read_layered(file: BinaryIO, size: int) -> LayeredFile | None:
    """The answer for an open file of ``size`` bytes; None where its sections break off."""
    file.seek(0)
    head = file.read(_HEADER_BYTES)
    if len(head) < _HEADER_BYTES:
        return None
    version, channels, height, width, bits, mode = struct.unpack(">4xH6xHIIHH", head)
    at = _HEADER_BYTES
    sections: list[tuple[int, int]] = []
    # The third section's length has eight bytes in the large variant.
    for length_bytes in (4, 4, 8 if version == 2 else 4):
        length = _whole(_at(file, at, length_bytes))
        sections.append((at + length_bytes, length))
        at += length_bytes + length
        if at + 2 > size:
            return None
    packing, at = _whole(_at(file, at, 2)), at + 2
    end, rows = at, channels * height
    if packing == Packing.PLAIN:
        end += rows * ((width * bits + 7) // 8)
    elif packing == Packing.ROWS and rows <= _MOST_ROWS:
        end += table_bytes(rows, version) + sum(row_lengths(file, at, rows, version))
    resources = image_resources(file, *sections[1])
    return LayeredFile(
        version,
        width,
        height,
        bits,
        mode,
        flattened=_is_flattened(file, resources),
        see_through=_counts_opacity(file, *sections[2], large=version == 2),
        whole=end <= size,
        channels=channels,
        packing=packing,
        at=at,
        palette=sections[0],
        layers=sections[2],
        resources=resources,
    )


def check_layered(found: LayeredFile, *, name: str) -> None:
    """Raises Refused (not-art) where there is no flattened picture that can be read here."""
    if not found.flattened:
        raise FileRefusal.NOT_FLATTENED.refused(name=name)
    if found.mode not in _BITS:
        raise FileRefusal.UNREAD_LAYERED_COLORS.refused(name=name)
    if found.bits not in _BITS[found.mode]:
        raise FileRefusal.UNREAD_LAYERED_BITS.refused(name=name, bits=found.bits)


def _whole(data: bytes) -> int:
    return int.from_bytes(data, "big")


def _at(file: BinaryIO, offset: int, length: int) -> bytes:
    file.seek(offset)
    return file.read(length)


def image_resources(file: BinaryIO, start: int, length: int) -> dict[int, tuple[int, int]]:
    """Where the data of each image resource lie and how long they are, by its number."""
    found: dict[int, tuple[int, int]] = {}
    at, end = start, start + length
    for _ in range(_MOST_RESOURCES):
        if at + 12 > end:
            break
        head = _at(file, at, 7)
        if head[:1] != b"8" and head[:4] != b"MeSa":
            break
        name = head[6] + 1
        at += 6 + name + name % 2
        count = _whole(_at(file, at, 4))
        found.setdefault(_whole(head[4:6]), (at + 4, count))
        at += 4 + count + count % 2
    return found


def _is_flattened(file: BinaryIO, resources: dict[int, tuple[int, int]]) -> bool:
    """What resource 1057 says: four bytes of version, then one for "there is a flat picture"."""
    at, _ = resources.get(_VERSION_INFO, (0, 0))
    return not at or _at(file, at + 4, 1) != b"\0"


def _counts_opacity(file: BinaryIO, start: int, length: int, *, large: bool) -> bool:
    """True where the number of layers is written negative, which says just that."""
    inner = 8 if large else 4
    if length < inner + 2:
        return False
    count = int.from_bytes(_at(file, start + inner, 2), "big", signed=True)
    return count < 0


def _each(version: int) -> int:
    """The bytes that tell the length of a packed row."""
    return 4 if version == 2 else 2


def row_lengths(file: BinaryIO, start: int, rows: int, version: int) -> list[int]:
    """How long packed rows are; a table of their lengths goes before them."""
    each = _each(version)
    table = _at(file, start, rows * each)
    return [_whole(table[i : i + each]) for i in range(0, len(table), each)]


def table_bytes(rows: int, version: int) -> int:
    """How long that table is."""
    return rows * _each(version)

"""Layered working files (first bytes 8BPS), as far as their flattened picture is concerned.

The layout is that of the format's published specification: header, color mode data, image
resources, layers and masks, and last the flattened picture, row by row, plain or packed. Reads
some kilobytes; a file that lies about itself comes out as not whole.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

from filmhand.errors import Reason, Refused

_HEADER_BYTES = 26
# Image resource 1057 tells whether a flattened picture was saved at all.
_VERSION_INFO = 1057
_MOST_RESOURCES = 2000
_MOST_ROWS = 57 * 300_000
# Modes of color in the header.
_GRAY, _INDEXED, _RGB, _CMYK, _DUOTONE, _LAB = 1, 2, 3, 4, 8, 9
_READ = frozenset({_GRAY, _INDEXED, _RGB, _CMYK, _DUOTONE, _LAB})
_DO = "Flatten it, save a copy as TIFF or PNG, and drop that."


@dataclass(frozen=True, slots=True)
class LayeredFile:
    """What the sections before the flattened picture say.

    flattened : False where the file says that its flattened picture is an empty stand-in
    see_through : the first channel beyond the colors is the picture's opacity
    whole : the flattened picture ends within the file
    """

    version: int
    width: int
    height: int
    bits: int
    mode: int
    flattened: bool
    see_through: bool
    whole: bool


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
    packing, end = _whole(_at(file, at, 2)), at + 2
    rows = channels * height
    if packing == 0:
        end += rows * ((width * bits + 7) // 8)
    elif packing == 1 and rows <= _MOST_ROWS:
        end += _packed_bytes(file, end, rows, each=4 if version == 2 else 2)
    return LayeredFile(
        version,
        width,
        height,
        bits,
        mode,
        flattened=_is_flattened(file, *sections[1]),
        see_through=_counts_opacity(file, *sections[2], large=version == 2),
        whole=end <= size,
    )


def check_layered(found: LayeredFile, *, name: str) -> None:
    """Raises Refused (not-art) where there is no flattened picture that can be read here."""
    if not found.flattened:
        raise Refused(
            Reason.NOT_ART,
            f"“{name}” is a layered working file that was saved without its flattened picture.",
            "Save it again with the flattened picture included, or flatten it and save a copy as "
            "TIFF or PNG.",
        )
    if found.version != 1:
        raise Refused(Reason.NOT_ART, f"“{name}” is a layered working file of the large kind.", _DO)
    if found.bits != 8 or found.mode not in _READ:
        raise Refused(
            Reason.NOT_ART,
            f"“{name}” is a layered working file with {found.bits} bits a color or a kind of "
            "colors that is not read here.",
            _DO,
        )


def _whole(data: bytes) -> int:
    return int.from_bytes(data, "big")


def _at(file: BinaryIO, offset: int, length: int) -> bytes:
    file.seek(offset)
    return file.read(length)


def _is_flattened(file: BinaryIO, start: int, length: int) -> bool:
    """What resource 1057 says: four bytes of version, then one for "there is a flat picture"."""
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
        if _whole(head[4:6]) == _VERSION_INFO:
            return _at(file, at + 8, 1) != b"\0"
        at += 4 + count + count % 2
    return True


def _counts_opacity(file: BinaryIO, start: int, length: int, *, large: bool) -> bool:
    """True where the number of layers is written negative, which says just that."""
    inner = 8 if large else 4
    if length < inner + 2:
        return False
    count = int.from_bytes(_at(file, start + inner, 2), "big", signed=True)
    return count < 0


def _packed_bytes(file: BinaryIO, start: int, rows: int, *, each: int) -> int:
    """How long packed rows are; they come with a table of their lengths, so many bytes each."""
    table = _at(file, start, rows * each)
    lengths = sum(_whole(table[i : i + each]) for i in range(0, len(table), each))
    return rows * each + lengths

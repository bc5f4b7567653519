"""The directories of a TIFF file, read without decoding any picture (TIFF 6.0; BigTIFF).

A file from a stranger may lie: offsets may point outside, directories may form a ring, counts
may be absurd. The walk reads little, is bounded, and reports a fault instead of raising.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import BinaryIO

# Tags of TIFF 6.0, section 8 and appendix A; DNGVersion and the color filter array photometric
# mark a camera's raw file (TIFF/EP, ISO 12234-2).
NEW_SUBFILE_TYPE, WIDTH, LENGTH, BITS_PER_SAMPLE = 254, 256, 257, 258
COMPRESSION, PHOTOMETRIC, ORIENTATION = 259, 262, 274
STRIP_OFFSETS, STRIP_BYTE_COUNTS, TILE_OFFSETS, TILE_BYTE_COUNTS = 273, 279, 324, 325
SAMPLES_PER_PIXEL, SAMPLE_FORMAT, DNG_VERSION, SUB_IFDS = 277, 339, 50706, 330
EXTRA_SAMPLES = 338
_WANTED = frozenset(
    {
        NEW_SUBFILE_TYPE,
        WIDTH,
        LENGTH,
        BITS_PER_SAMPLE,
        COMPRESSION,
        PHOTOMETRIC,
        ORIENTATION,
        STRIP_OFFSETS,
        STRIP_BYTE_COUNTS,
        TILE_OFFSETS,
        TILE_BYTE_COUNTS,
        SAMPLES_PER_PIXEL,
        SAMPLE_FORMAT,
        DNG_VERSION,
        SUB_IFDS,
        EXTRA_SAMPLES,
    }
)
_TYPE_FORMATS = {1: "B", 3: "H", 4: "I", 6: "b", 8: "h", 9: "i", 13: "I", 16: "Q", 18: "Q"}
_MOST_VALUES = 1_000_000


@dataclass(slots=True)
class Directory:
    """One image file directory: the wanted tags with whole numbers as values."""

    tags: dict[int, tuple[int, ...]] = field(default_factory=dict)

    def one(self, tag: int, default: int) -> int:
        """The first value of a tag, or the default."""
        return (self.tags.get(tag) or (default,))[0]

    @property
    def is_page(self) -> bool:
        """False for a reduced copy or a mask of another page (NewSubfileType bits 0 and 2)."""
        return not self.one(NEW_SUBFILE_TYPE, 0) & 0b101

    @property
    def is_raw(self) -> bool:
        """True if this directory belongs to a camera's raw file."""
        return DNG_VERSION in self.tags or self.one(PHOTOMETRIC, 0) in (32803, 34892)

    def data_end(self) -> int:
        """The byte just behind the last strip or tile; 0 if the directory does not say."""
        for offsets, counts in (
            (STRIP_OFFSETS, STRIP_BYTE_COUNTS),
            (TILE_OFFSETS, TILE_BYTE_COUNTS),
        ):
            where, how_many = self.tags.get(offsets, ()), self.tags.get(counts, ())
            if where and len(where) == len(how_many):
                return max(a + b for a, b in zip(where, how_many, strict=True))
            if where:
                return max(where)
        return 0

    def data_start(self) -> int:
        """The first byte of the first strip or tile; 0 if the directory does not say."""
        return min(self.tags.get(STRIP_OFFSETS) or self.tags.get(TILE_OFFSETS) or (0,))


@dataclass(slots=True)
class Structure:
    """All directories of a file's main chain and, if the chain breaks, the reason in words."""

    directories: list[Directory] = field(default_factory=list)
    fault: str | None = None

    @property
    def pages(self) -> list[int]:
        """Positions in the chain of the directories that are pages, not thumbnails or masks."""
        pages = [i for i, one in enumerate(self.directories) if one.is_page]
        return pages or list(range(min(1, len(self.directories))))

    @property
    def is_raw(self) -> bool:
        """True if the file is a camera's raw file in TIFF clothing."""
        if any(one.is_raw for one in self.directories):
            return True
        first = self.directories[:1]
        return any(not one.is_page and SUB_IFDS in one.tags for one in first)


def read_structure(file: BinaryIO, size: int, *, most: int = 1000) -> Structure:
    """The directories of an open TIFF file of ``size`` bytes, at most ``most`` of them.

    Never raises for odd content; the first thing wrong ends the walk and becomes ``fault``.
    """
    structure = Structure()
    file.seek(0)
    head = file.read(16)
    order = "<" if head[:2] == b"II" else ">"
    big = len(head) >= 4 and struct.unpack(order + "H", head[2:4])[0] == 43
    if len(head) < (16 if big else 8):
        structure.fault = "the file breaks off in its header"
        return structure
    offset = struct.unpack_from(order + ("Q" if big else "I"), head, 8 if big else 4)[0]
    seen: set[int] = set()
    while offset and len(structure.directories) < most:
        if offset in seen:
            structure.fault = "its pages point back at each other"
            break
        seen.add(offset)
        found = _read_directory(file, size, offset=offset, order=order, big=big)
        if found is None:
            structure.fault = "a page's description lies outside the file"
            break
        directory, offset = found
        if not (directory.one(WIDTH, 0) and directory.one(LENGTH, 0)):
            structure.fault = "a page has no size"
            break
        structure.directories.append(directory)
    if not structure.directories and structure.fault is None:
        structure.fault = "it describes no page"
    return structure


def _read_directory(
    file: BinaryIO, size: int, *, offset: int, order: str, big: bool
) -> tuple[Directory, int] | None:
    count_format, entry_bytes, next_format = ("Q", 20, "Q") if big else ("H", 12, "I")
    count_bytes, next_bytes = struct.calcsize(count_format), struct.calcsize(next_format)
    if offset + count_bytes > size:
        return None
    file.seek(offset)
    count = struct.unpack(order + count_format, file.read(count_bytes))[0]
    if count > 65535 or offset + count_bytes + count * entry_bytes + next_bytes > size:
        return None
    entries = file.read(count * entry_bytes + next_bytes)
    if len(entries) < count * entry_bytes + next_bytes:
        return None
    directory = Directory()
    for i in range(count):
        entry = entries[i * entry_bytes : (i + 1) * entry_bytes]
        tag, kind = struct.unpack_from(order + "HH", entry)
        if tag in _WANTED and kind in _TYPE_FORMATS:
            values = _read_values(file, size, entry=entry, order=order, big=big)
            if values is None:
                return None
            if values:  # a tag that is there without a value counts as missing
                directory.tags[tag] = values
    return directory, struct.unpack_from(order + next_format, entries, count * entry_bytes)[0]


def _read_values(
    file: BinaryIO, size: int, *, entry: bytes, order: str, big: bool
) -> tuple[int, ...] | None:
    kind = struct.unpack_from(order + "H", entry, 2)[0]
    number = struct.unpack_from(order + ("Q" if big else "I"), entry, 4)[0]
    if number > _MOST_VALUES:
        return None
    layout = f"{order}{number}{_TYPE_FORMATS[kind]}"
    inline = entry[12:] if big else entry[8:]
    length = struct.calcsize(layout)
    if length > len(inline):
        offset = struct.unpack(order + ("Q" if big else "I"), inline)[0]
        if offset + length > size:
            return None
        file.seek(offset)
        inline = file.read(length)
        if len(inline) < length:
            return None
    return struct.unpack_from(layout, inline)

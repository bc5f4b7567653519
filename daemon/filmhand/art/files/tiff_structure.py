"""The directories of a TIFF file, read without decoding any picture (TIFF 6.0; BigTIFF).

A file from a stranger may lie: offsets may point outside, directories may form a ring, counts
may be absurd. The walk reads little, is bounded, and reports a fault instead of raising.
"""

from __future__ import annotations

import struct
from dataclasses import field
from enum import IntEnum
from typing import BinaryIO

from filmhand.art.files.file_words import DamageWord
from filmhand.values import dataclass


class Tag(IntEnum):
    """The tags that are read: those of TIFF 6.0, section 8 and appendix A, and of its supplements.

    The image resources and layers are those of layered working files, which TIFFs may hold as well.
    DNGVersion and the color filter array photometric mark a camera's raw file (TIFF/EP, ISO
    12234-2).
    """

    NEW_SUBFILE_TYPE = 254
    WIDTH = 256
    LENGTH = 257
    BITS_PER_SAMPLE = 258
    COMPRESSION = 259
    PHOTOMETRIC = 262
    STRIP_OFFSETS = 273
    ORIENTATION = 274
    SAMPLES_PER_PIXEL = 277
    STRIP_BYTE_COUNTS = 279
    PLANAR = 284
    PAGE_NAME = 285
    TILE_OFFSETS = 324
    TILE_BYTE_COUNTS = 325
    SUB_IFDS = 330
    INK_SET = 332
    INK_NAMES = 333
    EXTRA_SAMPLES = 338
    SAMPLE_FORMAT = 339
    IMAGE_RESOURCES = 34377
    LAYERS = 37724
    DNG_VERSION = 50706


# Their bytes are only read when they are asked for.
_TEXTS = frozenset({Tag.PAGE_NAME, Tag.INK_NAMES, Tag.IMAGE_RESOURCES, Tag.LAYERS})
_WANTED = frozenset(Tag) - _TEXTS
_SEPARATED, _NO_PROCESS_INKS = 5, 2
_PLACES = ((Tag.STRIP_OFFSETS, Tag.STRIP_BYTE_COUNTS), (Tag.TILE_OFFSETS, Tag.TILE_BYTE_COUNTS))
_TYPE_FORMATS = {1: "B", 3: "H", 4: "I", 6: "b", 8: "h", 9: "i", 13: "I", 16: "Q", 18: "Q"}
_BYTE_TYPES = (1, 2, 7)
_MOST_VALUES = 1_000_000


@dataclass(slots=True)
class Directory:
    """One image file directory: the wanted tags with whole numbers as values.

    ``texts`` has the place in the file and the length in bytes of those that are texts.
    """

    tags: dict[int, tuple[int, ...]] = field(default_factory=dict)
    texts: dict[int, tuple[int, int]] = field(default_factory=dict)

    def one(self, tag: int, default: int) -> int:
        """The first value of a tag, or the default."""
        return (self.tags.get(tag) or (default,))[0]

    @property
    def bits(self) -> int:
        """The most bits that a sample has."""
        return max(self.tags.get(Tag.BITS_PER_SAMPLE, (1,)))

    @property
    def is_page(self) -> bool:
        """False for a reduced copy or a mask of another page (NewSubfileType bits 0 and 2)."""
        return not self.one(Tag.NEW_SUBFILE_TYPE, 0) & 0b101

    @property
    def has_own_inks(self) -> bool:
        """True if its planes are inks other than cyan, magenta, yellow and black (section 16)."""
        separated = self.one(Tag.PHOTOMETRIC, 1) == _SEPARATED
        return separated and self.one(Tag.INK_SET, 1) == _NO_PROCESS_INKS

    @property
    def is_raw(self) -> bool:
        """True if this directory belongs to a camera's raw file."""
        return Tag.DNG_VERSION in self.tags or self.one(Tag.PHOTOMETRIC, 0) in (32803, 34892)

    def data_end(self) -> int:
        """The byte just behind the last strip or tile; 0 if the directory does not say."""
        for offsets, counts in _PLACES:
            where, how_many = self.tags.get(offsets, ()), self.tags.get(counts, ())
            if where and len(where) == len(how_many):
                most = self._plain_bytes()
                return max(a + min(b, most) for a, b in zip(where, how_many, strict=True))
            if where:
                return max(where)
        return 0

    def _plain_bytes(self) -> int:
        """The bytes of the whole page, which none of its parts exceeds unless it is packed.

        Some writers count more; decoders read what there is.
        """
        if self.one(Tag.COMPRESSION, 1) != 1 or Tag.TILE_OFFSETS in self.tags:
            return 1 << 62
        row_bits = self.one(Tag.WIDTH, 0) * self.bits * self.one(Tag.SAMPLES_PER_PIXEL, 1)
        return (row_bits + 7) // 8 * self.one(Tag.LENGTH, 0)

    def data_start(self) -> int:
        """The first byte of the first strip or tile; 0 if the directory does not say."""
        return min(self.tags.get(Tag.STRIP_OFFSETS) or self.tags.get(Tag.TILE_OFFSETS) or (0,))


@dataclass(slots=True)
class Structure:
    """All directories of a file's main chain and, if the chain breaks, the reason."""

    directories: list[Directory] = field(default_factory=list)
    fault: DamageWord | None = None

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
        return any(not one.is_page and Tag.SUB_IFDS in one.tags for one in first)


class _Outside(Exception):
    """A part of the file lies beyond its end."""


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads numbers of a file of ``size`` bytes, in its byte order."""

    file: BinaryIO
    size: int
    order: str
    big: bool

    @property
    def offset(self) -> str:
        """The layout of an offset, long in BigTIFF."""
        return "Q" if self.big else "I"

    def take(self, offset: int, layout: str) -> tuple[int, ...]:
        """The numbers of a layout at an offset; raises _Outside where they are not all there."""
        return struct.unpack(self.order + layout, self.part(offset, self.length(layout)))

    def length(self, layout: str) -> int:
        return struct.calcsize(self.order + layout)

    def part(self, offset: int, length: int) -> bytes:
        if offset + length > self.size:
            raise _Outside
        self.file.seek(offset)
        data = self.file.read(length)
        if len(data) < length:
            raise _Outside
        return data


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
        structure.fault = DamageWord.HEADER_BREAKS_OFF
        return structure
    reader = _Reader(file, size, order, big)
    (offset,) = struct.unpack_from(order + reader.offset, head, 8 if big else 4)
    seen: set[int] = set()
    while offset and len(structure.directories) < most:
        if offset in seen:
            structure.fault = DamageWord.PAGES_IN_A_RING
            break
        seen.add(offset)
        try:
            directory, offset = _read_directory(reader, offset)
        except _Outside:
            structure.fault = DamageWord.DESCRIPTION_OUTSIDE
            break
        if not (directory.one(Tag.WIDTH, 0) and directory.one(Tag.LENGTH, 0)):
            structure.fault = DamageWord.PAGE_WITHOUT_SIZE
            break
        structure.directories.append(directory)
    if not structure.directories and structure.fault is None:
        structure.fault = DamageWord.NO_PAGE
    return structure


def _read_directory(reader: _Reader, offset: int) -> tuple[Directory, int]:
    """A directory, and where the next one is."""
    count_format, entry_format = ("Q", "HHQ8s") if reader.big else ("H", "HHI4s")
    (count,) = reader.take(offset, count_format)
    if count > 65535:
        raise _Outside
    offset += reader.length(count_format)
    each = reader.length(entry_format)
    entries = reader.part(offset, count * each)
    directory = Directory()
    for place, (tag, kind, number, inline) in enumerate(
        struct.iter_unpack(reader.order + entry_format, entries)
    ):
        if tag in _TEXTS and kind in _BYTE_TYPES:
            at = offset + (place + 1) * each - len(inline)
            if number > len(inline):
                (at,) = struct.unpack(reader.order + reader.offset, inline)
            if at + number <= reader.size:
                directory.texts[tag] = at, number
        if tag in _WANTED and kind in _TYPE_FORMATS:
            values = _read_values(reader, kind, number, inline)
            if values:  # a tag that is there without a value counts as missing
                directory.tags[tag] = values
    (following,) = reader.take(offset + len(entries), reader.offset)
    return directory, following


def _read_values(reader: _Reader, kind: int, number: int, inline: bytes) -> tuple[int, ...]:
    if number > _MOST_VALUES:
        raise _Outside
    layout = f"{number}{_TYPE_FORMATS[kind]}"
    if reader.length(layout) <= len(inline):
        return struct.unpack_from(reader.order + layout, inline)
    (offset,) = struct.unpack(reader.order + reader.offset, inline)
    return reader.take(offset, layout)

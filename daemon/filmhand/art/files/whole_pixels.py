"""Files whose pixels the base reader has no word for: they are decoded to an array at once."""

from __future__ import annotations

import os

from filmhand.art.files import extras
from filmhand.art.files.decode import (
    ExaminedFile,
    check_pixels,
    damaged,
    guarded,
    unread_kind,
    unread_tiff,
)
from filmhand.art.files.file_types import FileType
from filmhand.art.files.file_words import DamageWord, FileNote
from filmhand.art.files.orientation import turned_upright
from filmhand.art.files.tiff_structure import Directory, Tag
from filmhand.art.formats import codecs
from filmhand.art.formats.decoded_pixels import DecodedPixels
from filmhand.art.formats.flattened import read_flattened
from filmhand.art.formats.jpeg_markers import frame_of
from filmhand.art.formats.jpeg_xl import jpeg_xl_head
from filmhand.art.formats.netpbm import netpbm_head
from filmhand.art.formats.netpbm_pixels import read_netpbm
from filmhand.errors import Refused
from filmhand.profile.model import Limits

_HEAD_BYTES = 65_536
# Ways of packing a TIFF (tag 259) that the base reader, and that for deep color, unpack.
_BASE_PACKINGS = frozenset(
    {1, 2, 3, 4, 5, 6, 7, 8, 32771, 32773, 32809, 32946, 34676, 34677, 34925, 50000}
)
_DEEP_PACKINGS = frozenset({1, 5, 8, 32773, 32946})
_LAB = (8, 9)


def decoded_whole(art: ExaminedFile, *, page: int, limits: Limits) -> DecodedPixels | None:
    """The pixels of a page, as they are stored; None where another reader is to decode them.

    Raises
    ------
    Refused
        not-art, damaged, or too-big; the size is checked from the head first
    """
    with guarded(art.name, limits):
        if art.kind is FileType.LAYERED and art.layered:
            check_pixels(art.layered.width, art.layered.height, name=art.name, limits=limits)
            with art.path.open("rb") as file:
                return read_flattened(file, art.layered)
        if art.kind is FileType.NETPBM:
            return _netpbm(art, limits)
        if art.kind is FileType.JPEG_XL:
            return _jpeg_xl(art, limits)
        if art.kind is FileType.JPEG_2000:
            return _jpeg_2000(art, limits)
        if art.kind is FileType.JPEG:
            return _unusual_jpeg(art, limits)
        directory = art.directory(page)
        return _unusual_tiff(art, directory, page, limits) if directory else None


def _netpbm(art: ExaminedFile, limits: Limits) -> DecodedPixels:
    head = netpbm_head(art.head)
    if head is None:
        raise damaged(art.name, DamageWord.BAD_BEGINNING)
    check_pixels(head.width, head.height, name=art.name, limits=limits)
    return read_netpbm(art.path.read_bytes())


def _jpeg_xl(art: ExaminedFile, limits: Limits) -> DecodedPixels:
    with art.path.open("rb") as file:
        head = jpeg_xl_head(file, os.fstat(file.fileno()).st_size)
    if head is None:
        raise damaged(art.name, DamageWord.BAD_BEGINNING)
    check_pixels(head.width, head.height, name=art.name, limits=limits)
    made = codecs.decode_jpeg_xl(art.path.read_bytes(), name=art.name)
    if not head.is_srgb:
        made.notes.append(FileNote.WIDER_COLORS_PERHAPS.say())
    return made


def _jpeg_2000(art: ExaminedFile, limits: Limits) -> DecodedPixels | None:
    """Deep color only: what the base reader would cut to eight bits.

    The first segment gives the size and the bits of each channel (ISO/IEC 15444-1, A.5.1).
    """
    with art.path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    at = head.find(b"\xff\x4f\xff\x51")
    if at < 0 or len(head) < at + 44:
        return None
    right, low, left, top = (
        int.from_bytes(head[at + k : at + k + 4], "big") for k in (8, 12, 16, 20)
    )
    check_pixels(right - left, low - top, name=art.name, limits=limits)
    channels = int.from_bytes(head[at + 40 : at + 42], "big")
    bits = (head[at + 42] & 127) + 1
    if channels < 2 or bits <= 8 or "imagecodecs" not in extras.installed():
        return None
    made = codecs.decode_jpeg_2000(art.path.read_bytes(), name=art.name)
    codecs.fill(made, bits)
    return made


def _unusual_jpeg(art: ExaminedFile, limits: Limits) -> DecodedPixels | None:
    with art.path.open("rb") as file:
        frame = frame_of(file, os.fstat(file.fileno()).st_size)
    if frame is None or frame.is_usual:
        return None
    check_pixels(frame.width, frame.height, name=art.name, limits=limits)
    if frame.channels == 4:
        raise unread_kind(art)
    made = codecs.decode_unusual_jpeg(art.path.read_bytes(), name=art.name)
    codecs.fill(made, frame.bits)
    return made


def _unusual_tiff(
    art: ExaminedFile, directory: Directory, page: int, limits: Limits
) -> DecodedPixels | None:
    if not _is_unusual(directory):
        return None
    width, height = directory.one(Tag.WIDTH, 0), directory.one(Tag.LENGTH, 0)
    check_pixels(width, height, name=art.name, limits=limits)
    try:
        made = codecs.decode_unusual_tiff(art.path, art.pages[page], directory, name=art.name)
    except Refused:
        if _may_be_read_plain(directory):
            return None
        raise
    if made is None:
        raise unread_tiff(art.name)
    return made


def _is_unusual(directory: Directory) -> bool:
    """Whether neither the base reader nor the one for deep color reads such pixels rightly."""
    packing, bits = directory.one(Tag.COMPRESSION, 1), directory.bits
    samples = directory.one(Tag.SAMPLES_PER_PIXEL, 1)
    photometric = directory.one(Tag.PHOTOMETRIC, 1)
    if packing not in _BASE_PACKINGS or directory.has_own_inks:
        return True
    fractions = directory.one(Tag.SAMPLE_FORMAT, 1) == 3
    if photometric in _LAB:
        return bits != 8 or photometric == _LAB[1] or samples != 3
    if samples == 1:
        return fractions and bits != 32
    deep = bits > 8
    planes = directory.one(Tag.PLANAR, 1) == 2
    strange = bits not in (16, 32) or packing not in _DEEP_PACKINGS
    strange = strange or (planes and Tag.TILE_OFFSETS in directory.tags)
    gray = photometric in (0, 1)
    return (deep and strange) or (gray and not deep and (planes or samples > 2))


def _may_be_read_plain(directory: Directory) -> bool:
    """Without the libraries the base reader cuts such color to eight bits, with a note."""
    known = directory.one(Tag.COMPRESSION, 1) in _BASE_PACKINGS and not directory.has_own_inks
    return known and directory.bits == 16


def turned(made: DecodedPixels, orientation: int) -> DecodedPixels:
    """The same with its pixels upright."""
    made.pixels = turned_upright(made.pixels, orientation)
    return made

"""The chunks of a PNG file with their check sums (W3C PNG, third edition, 5.3 and 5.4)."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from typing import BinaryIO

from filmhand.values import dataclass

_MOST_CHUNKS = 1_000_000
_BLOCK = 1 << 20
_START = 8
_OF_FRAMES = frozenset({b"acTL", b"fcTL", b"fdAT"})


@dataclass(frozen=True, slots=True)
class PngChunk:
    """One chunk: its name, where it begins, how long its data are, and whether its sum is right."""

    name: bytes
    at: int
    length: int
    is_right: bool

    @property
    def end(self) -> int:
        """The byte behind it."""
        return self.at + 12 + self.length

    @property
    def is_needed(self) -> bool:
        """Whether a decoder needs it for the picture: its name begins with a capital letter."""
        return not self.name[0] & 32


def png_chunks(file: BinaryIO, size: int) -> Iterator[PngChunk]:
    """The chunks up to the last, or to where they break off."""
    at = _START
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        head = file.read(8)
        length = int.from_bytes(head[:4], "big")
        if len(head) < 8 or at + 12 + length > size:
            return
        total, left = zlib.crc32(head[4:]), length
        while left:
            block = file.read(min(left, _BLOCK))
            total, left = zlib.crc32(block, total), left - len(block)
        chunk = PngChunk(head[4:], at, length, total == int.from_bytes(file.read(4), "big"))
        yield chunk
        if chunk.name == b"IEND":
            return
        at = chunk.end


def is_moving(chunks: list[PngChunk]) -> bool:
    """Whether further frames follow the picture (W3C PNG, third edition, 11.3.6)."""
    return any(one.name in _OF_FRAMES for one in chunks)


def still_and_sound(file: BinaryIO, chunks: list[PngChunk]) -> bytes:
    """The file as its first picture alone, without broken chunks that a decoder can do without."""
    file.seek(0)
    data = file.read()
    kept = [data[:_START]]
    kept += [
        data[one.at : one.end]
        for one in chunks
        if (one.is_right or one.is_needed) and one.name not in _OF_FRAMES
    ]
    return b"".join(kept)


def _unpacked_pieces(file: BinaryIO, chunks: list[PngChunk]) -> Iterator[tuple[PngChunk, int]]:
    """Each part of the picture with the bytes that it unpacks to; zlib.error where it is broken.

    The end of the packed picture holds it against a sum of its own (RFC 1950, 2.2); one that has
    no end raises zlib.error, too.
    """
    unpacker = zlib.decompressobj()
    for chunk in chunks:
        if chunk.name != b"IDAT":
            continue
        file.seek(chunk.at + 8)
        left, made = chunk.length, 0
        while left:
            block = file.read(min(left, _BLOCK))
            left -= len(block)
            while block:
                made += len(unpacker.decompress(block, 8 * _BLOCK))
                block = unpacker.unconsumed_tail
        yield chunk, made
    if not unpacker.eof:
        raise zlib.error


def is_picture_right(file: BinaryIO, chunks: list[PngChunk]) -> bool:
    """Whether the packed picture agrees with its own sum, whatever those of its chunks say."""
    try:
        for _ in _unpacked_pieces(file, chunks):
            pass
    except zlib.error:
        return False
    return True


def rows_before_damage(file: BinaryIO, chunks: list[PngChunk], row_bytes: int) -> int | None:
    """How many whole rows come before the first part of the picture whose sum is wrong."""
    first = next((one for one in chunks if one.name == b"IDAT" and not one.is_right), None)
    if first is None:
        return None
    before = 0
    try:
        for chunk, made in _unpacked_pieces(file, chunks):
            if chunk is first:
                break
            before += made
    except zlib.error:
        pass  # that part cannot be unpacked at all
    return before // row_bytes

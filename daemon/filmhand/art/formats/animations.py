"""Animations that break off: what of them is there, so that their first frame can be used."""

from __future__ import annotations

from typing import BinaryIO

from filmhand.values import dataclass

_MOST_BLOCKS = 1_000_000
_MOST_CHUNKS = 100_000
_IMAGE, _EXTENSION, _TRAILER = 0x2C, 0x21, 0x3B


@dataclass(frozen=True, slots=True)
class FramesThere:
    """How many frames are there whole, and whether the end of the file is."""

    whole: int
    ended: bool


def gif_frames(file: BinaryIO, size: int) -> FramesThere:
    """The blocks of a GIF (GIF89a, section 12 on) up to its trailer or to where they break off.

    A frame counts when something follows it that can: then its last block was no zero of a hole.
    """
    file.seek(0)
    head = file.read(13)
    whole = pending = 0
    if len(head) < 13:
        return FramesThere(0, False)
    at = 13 + _table_bytes(head[10])
    for _ in range(_MOST_BLOCKS):
        file.seek(at)
        introducer = file.read(1)
        if introducer and introducer[0] not in (_IMAGE, _EXTENSION, _TRAILER):
            return FramesThere(whole, False)
        whole, pending = whole + pending, 0
        if not introducer or introducer[0] == _TRAILER:
            return FramesThere(whole, bool(introducer))
        if introducer[0] == _IMAGE:
            descriptor = file.read(9)
            if len(descriptor) < 9:
                return FramesThere(whole, False)
            at += 11 + _table_bytes(descriptor[8])
            pending = 1
        else:
            at += 2
        ended = _behind_blocks(file, at, size)
        if ended is None:
            return FramesThere(whole, False)
        at = ended
    return FramesThere(whole, False)


def _table_bytes(flags: int) -> int:
    return 3 << (flags & 7) + 1 if flags & 0x80 else 0


def _behind_blocks(file: BinaryIO, at: int, size: int) -> int | None:
    """The place behind sub-blocks, which a length of zero ends; None where they break off."""
    file.seek(at)
    while length := file.read(1):
        if length[0] == 0:
            return file.tell()
        file.seek(length[0], 1)
        if file.tell() > size:
            return None
    return None


def webp_frames(file: BinaryIO, size: int) -> tuple[FramesThere, int]:
    """The frames of a WebP animation (RFC 9649, 2.7.1), and the byte behind the last whole one."""
    file.seek(0)
    head = file.read(12)
    said = 8 + int.from_bytes(head[4:8], "little")
    at, whole, behind = 12, 0, 0
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        chunk = file.read(8)
        length = int.from_bytes(chunk[4:8], "little")
        if len(chunk) < 8 or at + 8 + length > size:
            break
        at += 8 + length + length % 2
        if chunk[:4] == b"ANMF":
            whole, behind = whole + 1, min(at, size)
    return FramesThere(whole, said <= size), behind


def webp_first_frames(file: BinaryIO, behind: int) -> bytes:
    """The file up to ``behind``, as a whole one: its length is put right."""
    file.seek(0)
    data = file.read(behind)
    return data[:4] + (len(data) - 8).to_bytes(4, "little") + data[8:]

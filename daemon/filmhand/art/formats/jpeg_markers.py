"""The markers of a JPEG file (ITU-T T.81, annex B), read as the common decoders read them.

Bytes between segments that are no marker are passed over, as those decoders do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

from filmhand.values import dataclass

_MOST_SEGMENTS = 10_000
_MOST_JUNK = 1 << 20
_SCAN = 0xDA
_END = 0xD9
# Frames: all of C0 to CF but the tables C4, C8 and CC; F7 is that of JPEG-LS (ITU-T T.87).
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC} | {0xF7}
_USUAL = frozenset({0xC0, 0xC1, 0xC2, 0xC9, 0xCA})


@dataclass(frozen=True, slots=True)
class JpegFrame:
    """How the picture is coded: the marker of its frame, bits a color, and size in pixels."""

    marker: int
    bits: int
    width: int
    height: int
    channels: int
    blocks: tuple[int, ...] = ()

    @property
    def kept_bytes(self) -> float:
        """Bytes a pixel of all coefficients, two each: kept where they come in several scans.

        ``blocks`` says how many of each channel a group of blocks has (B.2.2).
        """
        if self.marker not in (0xC2, 0xCA) or not any(self.blocks):  # none is damage
            return 0.0
        return 2 * sum(self.blocks) / max(self.blocks)

    @property
    def is_usual(self) -> bool:
        """Whether the base reader decodes it: 8 bits, Huffman or arithmetic codes, with loss."""
        return self.bits == 8 and self.marker in _USUAL


def segments(file: BinaryIO, size: int) -> Iterator[tuple[int, int]]:
    """Marker and place of each segment up to the first scan, and of that."""
    at = 2
    for _ in range(_MOST_SEGMENTS):
        at = _next_marker(file, at)
        file.seek(at)
        segment = file.read(4)
        if len(segment) < 4 or at >= size:
            return
        marker = segment[1]
        yield marker, at
        if marker in (_SCAN, _END):
            return
        # Those without a length: 01 and the restart marks.
        alone = marker == 0x01 or 0xD0 <= marker <= 0xD8
        at += 2 if alone else 2 + int.from_bytes(segment[2:], "big")


def _next_marker(file: BinaryIO, at: int) -> int:
    """Where the next FF lies that no 00 and no other FF follows; where it was looked for else."""
    file.seek(at)
    found = file.read(2)
    if len(found) == 2 and found[0] == 0xFF and found[1] not in (0, 0xFF):
        return at
    data = found + file.read(_MOST_JUNK)
    place = 0
    while (place := data.find(b"\xff", place)) >= 0 and place + 1 < len(data):
        if data[place + 1] not in (0, 0xFF):
            return at + place
        place += 1
    return at + len(data)


def start_of_scan(file: BinaryIO, size: int) -> int | None:
    """Where the first scan begins; segment lengths are followed, so thumbnails don't count."""
    return next((at for marker, at in segments(file, size) if marker == _SCAN), None)


def frame_of(file: BinaryIO, size: int) -> JpegFrame | None:
    """How the picture is coded; None where no frame comes before the first scan."""
    for marker, at in segments(file, size):
        if marker in _FRAMES:
            file.seek(at + 4)
            fields = file.read(6)
            if len(fields) < 6:
                return None
            factors = file.read(3 * fields[5])[1::3]
            blocks = tuple((factor >> 4) * (factor & 15) for factor in factors)
            height, width = int.from_bytes(fields[1:3], "big"), int.from_bytes(fields[3:5], "big")
            return JpegFrame(marker, fields[0], width, height, fields[5], blocks)
    return None

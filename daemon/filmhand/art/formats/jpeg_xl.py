"""What the head of a JPEG XL file says (ISO/IEC 18181-1, A to D; its boxes: 18181-2)."""

from __future__ import annotations

from typing import BinaryIO

from filmhand.values import dataclass

_RATIOS = ((1, 1), (12, 10), (4, 3), (3, 2), (16, 9), (5, 4), (2, 1))
_MOST_BOXES = 1000
_HEAD_BYTES = 64
_GRAY, _D65, _SRGB_PRIMARIES = 1, 1, 1  # color space, white point and primaries
_SIZE_BITS = ((1, 9), (1, 13), (1, 18), (1, 30))
_ENUM_BITS = ((0, 0), (1, 0), (2, 4), (18, 6))


@dataclass(frozen=True, slots=True)
class JpegXlHead:
    """Size in pixels, and whether its colors are surely those of sRGB (gray counts)."""

    width: int
    height: int
    is_srgb: bool


class _Bits:
    """Bits from the lowest of each byte on."""

    def __init__(self, data: bytes) -> None:
        self._value = int.from_bytes(data, "little")
        self._left = 8 * len(data)

    def take(self, count: int) -> int:
        if count > self._left:
            raise EOFError
        taken = self._value & ((1 << count) - 1)
        self._value >>= count
        self._left -= count
        return taken

    def choice(self, choices: tuple[tuple[int, int], ...]) -> int:
        """A number in one of four ways: what is added, and how many bits follow."""
        add, count = choices[self.take(2)]
        return add + self.take(count)


def jpeg_xl_head(file: BinaryIO, size: int) -> JpegXlHead | None:
    """The head of an open file of ``size`` bytes; None where it breaks off."""
    start = _codestream_at(file, size)
    if start is None:
        return None
    file.seek(start)
    data = file.read(_HEAD_BYTES)
    if data[:2] != b"\xff\x0a":
        return None
    bits = _Bits(data[2:])
    try:
        width, height = _size(bits)
        return JpegXlHead(width, height, _is_srgb(bits))
    except EOFError:
        return None


def _codestream_at(file: BinaryIO, size: int) -> int | None:
    file.seek(0)
    if file.read(2) == b"\xff\x0a":
        return 0
    at = 0
    for _ in range(_MOST_BOXES):
        file.seek(at)
        head = file.read(16)
        if len(head) < 8:
            return None
        length, inner = int.from_bytes(head[:4], "big"), 8
        if length == 1:
            length, inner = int.from_bytes(head[8:16], "big"), 16
        if head[4:8] == b"jxlc":
            return at + inner
        if head[4:8] == b"jxlp":  # parts, each with its number before it
            return at + inner + 4
        if length < inner or at + length > size:
            return None
        at += length
    return None


def _size(bits: _Bits) -> tuple[int, int]:
    small = bits.take(1)

    def side() -> int:
        return 8 * (1 + bits.take(5)) if small else bits.choice(_SIZE_BITS)

    height = side()
    ratio = bits.take(3)
    if not ratio:
        return side(), height
    across, down = _RATIOS[ratio - 1]
    return height * across // down, height


def _is_srgb(bits: _Bits) -> bool:
    """Reads on as far as to the colors; whatever is unusual before them counts as not sure."""
    if bits.take(1):  # all as it is by default
        return True
    if bits.take(1) and (bits.take(3), bits.take(3))[1]:
        return False  # turned (which does not matter), then another size, a preview, animation
    if bits.take(1):  # fractions
        bits.choice(((32, 0), (16, 0), (24, 0), (1, 6)))
        bits.take(4)
    else:
        bits.choice(((8, 0), (10, 0), (12, 0), (1, 6)))
    bits.take(1)
    channels = bits.choice(((0, 0), (1, 0), (2, 4), (1, 12)))
    if not all(bits.take(1) for _ in range(channels)):  # one that is not plain opacity
        return False
    bits.take(1)
    return bool(bits.take(1)) or _names_srgb(bits)


def _names_srgb(bits: _Bits) -> bool:
    """Whether colors that are described are those of sRGB, and not by a profile of their own."""
    if bits.take(1):
        return False
    if bits.choice(_ENUM_BITS) == _GRAY:
        return True
    white = bits.choice(_ENUM_BITS)
    return white == _D65 and bits.choice(_ENUM_BITS) == _SRGB_PRIMARIES

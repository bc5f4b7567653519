"""CCITT Group 4 (ITU-T T.6) strip by strip, and strips joined into one stream.

T.6 codes each row from the row above it alone. The code of a strip therefore differs from the
code of the same rows inside a longer picture in its first row only, which in a strip is coded
from an imaginary white row. Exchange that one row's code and the strips of a sheet, put end to
end at bit level, are the T.6 code of the whole sheet.

Coding and decoding themselves are libtiff's, through Pillow.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Self

import numpy as np
from PIL import Image, TiffImagePlugin

from filmhand.arrays import UInt8Array
from filmhand.film.formats import BrokenFilm
from filmhand.film.tiff_strip import decode_strip

GROUP4 = 4
"""Value of TIFF tag 259."""


@dataclass(frozen=True, slots=True)
class BitString:
    """A run of bits: the `length` low bits of `value`, the first bit the most significant."""

    value: int = 0
    length: int = 0

    def __add__(self, other: BitString) -> BitString:
        return BitString(self.value << other.length | other.value, self.length + other.length)

    def part(self, start: int, stop: int) -> BitString:
        """The bits from `start` up to but not including `stop`."""
        length = stop - start
        return BitString(self.value >> self.length - stop & (1 << length) - 1, length)

    def to_bytes(self) -> bytes:
        """The bits, filled up with zeros to whole bytes."""
        pad = -self.length % 8
        return (self.value << pad).to_bytes((self.length + pad) // 8, "big")

    @classmethod
    def from_bytes(cls, data: bytes) -> Self:
        """All bits of `data`."""
        return cls(int.from_bytes(data, "big"), len(data) * 8)


# End of facsimile block: EOL twice (ITU-T T.6, 2.4.1.1).
END_OF_BLOCK = BitString(0x001001, 24)


# Codes of ITU-T T.6, table 1 (horizontal mode), and ITU-T T.4, table 2 (short runs).
_HORIZONTAL = "001"
_WHITE_RUNS = {0: "00110101", 1: "000111", 2: "0111", 3: "1000"}
_BLACK_RUNS = {0: "0000110111", 1: "010", 2: "11", 3: "10"}


def encode_group4(rows: UInt8Array, *, width: int) -> BitString:
    """The T.6 code of rows, the first coded from a white row, without the end-of-block code.

    Parameters
    ----------
    rows : (n, ceil(width / 8)) uint8
        Packed most significant bit first, 1 = ink (black in T.6).
    width : int
        Pixels across.
    """
    # Pillow takes a 1 for white and stores it as it is, so ink must look white to it. Were it
    # asked for MinIsWhite it would turn the picture over pixel by pixel, which is slow.
    picture = Image.frombytes("1", (width, len(rows)), rows.tobytes())
    file = io.BytesIO()
    picture.save(file, "TIFF", compression="group4", tiffinfo={278: len(rows)})
    return from_strip(_only_strip(file.getvalue()))


def from_strip(payload: bytes) -> BitString:
    """The code in a strip's bytes, without the end-of-block code and the filling after it.

    Raises
    ------
    BrokenFilm
        If the bytes do not end in the end-of-block code and at most seven zeros.
    """
    value = int.from_bytes(payload, "big")
    filling = (value & -value).bit_length() - 1
    bits = BitString(value >> filling, len(payload) * 8 - filling) if value else BitString()
    ends = bits.value & 0xFFFFFF == END_OF_BLOCK.value
    if not ends or filling > 7 or bits.length < END_OF_BLOCK.length:
        raise BrokenFilm("does not end in the end-of-block code of T.6")
    return bits.part(0, bits.length - END_OF_BLOCK.length)


def to_strip(code: BitString) -> bytes:
    """A strip's bytes: the code, the end-of-block code, zeros up to a whole byte."""
    return (code + END_OF_BLOCK).to_bytes()


def continued(
    code: BitString, rows: UInt8Array, *, width: int, before: UInt8Array | None
) -> BitString:
    """The code of a strip's rows when they follow the row `before` (None: the sheet's top).

    Parameters
    ----------
    code : BitString
        What :func:`encode_group4` gives for `rows`.
    rows : (n, ceil(width / 8)) uint8
    width : int
    before : (1, ceil(width / 8)) uint8 or None
    """
    if before is None:
        return code
    alone = encode_group4(rows[:1], width=width).length
    both = encode_group4(np.concatenate([before, rows[:1]]), width=width)
    first = both.part(encode_group4(before, width=width).length, both.length)
    return first + code.part(alone, code.length)


def decode_group4(
    code: BitString, n: int, *, width: int, before: UInt8Array | None = None
) -> UInt8Array:
    """The n rows that a code gives after the row `before` (None: after a white row).

    Raises
    ------
    BrokenFilm
        If it cannot be decoded or the row `before` does not come out whole.
    """
    lead = 0 if before is None else 1
    start = BitString() if before is None else encode_group4(before, width=width)
    rows = decode_strip(to_strip(start + code), width=width, rows=lead + n, compression=GROUP4)
    if before is not None and not np.array_equal(rows[:1], before):
        raise BrokenFilm("the row above the strip does not decode")
    return rows[lead:]


def is_code_of(
    code: BitString, rows: UInt8Array, *, width: int, before: UInt8Array | None = None
) -> bool:
    """Whether a code decodes to exactly these rows and ends exactly where they end.

    A decoder alone does not tell how many bits it took. So rows of a fixed, irregular pattern
    are coded behind the code and decoded with it: they come out right only if the decoder
    reached them at their first bit.
    """
    pattern, pattern_code = _pattern(width)
    try:
        decoded = decode_group4(
            code + pattern_code, len(rows) + len(pattern), width=width, before=before
        )
    except BrokenFilm:
        return False
    return np.array_equal(decoded[: len(rows)], rows) and np.array_equal(
        decoded[len(rows) :], pattern
    )


@lru_cache(maxsize=4)
def _pattern(width: int) -> tuple[UInt8Array, BitString]:
    """Rows of short irregular runs, and their code, the same after whatever row.

    Only the horizontal mode is used, which does not look at the row above (T.6, 2.2.3).
    """
    rows, code = [], []
    state = 1
    count = 1 if width >= 256 else 16
    for left in reversed(range(count)):
        row: list[int] = []
        while len(row) < width:
            # A linear congruence (Knuth's MMIX constants), its high bits.
            state = (state * 6364136223846793005 + 1442695040888963407) % 2**64
            # The last row begins with ink: a decoder that gives up leaves blank rows.
            white = 0 if not left and not row else (state >> 40) % 4
            white = min(white, width - len(row))
            black = min(1 + (state >> 50) % 3, width - len(row) - white)
            row += [0] * white + [1] * black
            code.append(_HORIZONTAL + _WHITE_RUNS[white] + _BLACK_RUNS[black])
        rows.append(row)
    joined = "".join(code)
    return np.packbits(np.array(rows, np.uint8), axis=1), BitString(int(joined, 2), len(joined))


def _only_strip(tiff: bytes) -> bytes:
    """The bytes of the first and only strip of a TIFF that libtiff wrote."""
    with TiffImagePlugin.TiffImageFile(io.BytesIO(tiff)) as picture:
        (start,), (count,) = picture.tag_v2[273], picture.tag_v2[279]
    return tiff[start : start + count]

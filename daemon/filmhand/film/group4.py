"""CCITT Group 4 (ITU-T T.6) strip by strip, and strips joined into one stream.

T.6 codes each row from the row above it alone. The code of a strip therefore differs from the
code of the same rows inside a longer picture in its first row only, which in a strip is coded
from an imaginary white row. Exchange that one row's code and the strips of a sheet, put end to
end at bit level, are the T.6 code of the whole sheet.

Coding is done by a loop in C, or by libtiff through Pillow where that was not built; both give the
same code. Decoding is always libtiff's, so that no fault of the loop's can hide.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import Self

import numpy as np
from PIL import Image, TiffImagePlugin

from filmhand.arrays import UInt8Array
from filmhand.film.bits import pad_mask
from filmhand.film.formats import BrokenFilm
from filmhand.film.tiff_strip import GROUP4, decode_strip
from filmhand.kernels.loops import compiled
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class BitString:
    """A run of bits: the first `length` bits of `data`, filled up with zeros to whole bytes."""

    data: bytes = b""
    length: int = 0

    def __add__(self, other: BitString) -> BitString:
        whole, over = divmod(self.length, 8)
        length = self.length + other.length
        if not over:
            return BitString(self.data + other.data, length)
        theirs = np.frombuffer(other.data, np.uint8)
        moved = np.zeros(len(theirs) + 1, np.uint8)
        moved[:-1] = theirs >> over
        moved[1:] |= theirs << 8 - over
        moved[0] |= self.data[whole]
        return BitString(self.data[:whole] + moved.tobytes()[: -(-length // 8) - whole], length)

    def part(self, start: int, stop: int) -> BitString:
        """The bits from `start` up to but not including `stop`."""
        first, skipped = divmod(start, 8)
        length = stop - start
        data = np.frombuffer(self.data[first : -(-stop // 8)], np.uint8)
        moved = data << skipped
        if skipped:
            moved[:-1] |= data[1:] >> 8 - skipped
        moved = moved[: -(-length // 8)]
        if length % 8:
            moved[-1] &= pad_mask(length)
        return BitString(moved.tobytes(), length)

    @classmethod
    def from_bytes(cls, data: bytes) -> Self:
        """All bits of `data`."""
        return cls(data, len(data) * 8)

    @classmethod
    def from_number(cls, value: int, length: int) -> Self:
        """The `length` low bits of a number from 0 to 2^length - 1, the most significant first."""
        pad = -length % 8
        return cls((value << pad).to_bytes((length + pad) // 8, "big"), length)


# End of facsimile block: EOL twice (ITU-T T.6, 2.4.1.1).
END_OF_BLOCK = BitString.from_number(0x001001, 24)


# Codes of ITU-T T.6, table 1 (horizontal mode), and ITU-T T.4, table 2 (short runs).
_HORIZONTAL = "001"
_WHITE_RUNS = {0: "00110101", 1: "000111", 2: "0111", 3: "1000"}
_BLACK_RUNS = {0: "0000110111", 1: "010", 2: "11", 3: "10"}


def encode_group4(rows: UInt8Array, *, width: int, before: UInt8Array | None = None) -> BitString:
    """The T.6 code of rows, without the end-of-block code.

    Parameters
    ----------
    rows : (n, ceil(width / 8)) uint8
        Packed most significant bit first, 1 = ink (black in T.6), pad bits 0.
    width : int
        Pixels across.
    before : (1, ceil(width / 8)) uint8 or None
        The row from which the first one is coded; None for a white one.
    """
    loops = compiled()
    if loops is None:
        return _encode_by_libtiff(rows, width=width, before=before)
    # The most that it can take, as group4.c tells; what is not written to costs no memory.
    code = np.empty(len(rows) * (7 * width + 64) // 8 + 1, np.uint8)
    length = loops.encode_group4(np.ascontiguousarray(rows), width, before, code)
    return BitString(code[: -(-length // 8)].tobytes(), length)


def _encode_by_libtiff(
    rows: UInt8Array, *, width: int, before: UInt8Array | None = None
) -> BitString:
    """The same without the loop in C."""
    if before is not None:
        both = _encode_by_libtiff(np.concatenate([before, rows]), width=width)
        return both.part(_encode_by_libtiff(before, width=width).length, both.length)
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
    # The end-of-block code ends in a 1, so the last byte holds it and nothing but filling after it.
    last = payload[-1] if payload else 0
    length = len(payload) * 8 - ((last & -last).bit_length() - 1)
    code = length - END_OF_BLOCK.length
    bits = BitString.from_bytes(payload)
    if not last or code < 0 or bits.part(code, length) != END_OF_BLOCK:
        raise BrokenFilm("does not end in the end-of-block code of T.6")
    return bits.part(0, code)


def to_strip(code: BitString) -> bytes:
    """A strip's bytes: the code, the end-of-block code, zeros up to a whole byte."""
    return (code + END_OF_BLOCK).data


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
    first = encode_group4(rows[:1], width=width, before=before)
    return first + code.part(alone, code.length)


def decode_group4(
    code: BitString, n: int, *, width: int, before: UInt8Array | None = None
) -> UInt8Array:
    """The n rows that a code gives after the row `before` (None: after a white row).

    A decoder alone does not tell how many bits it took. So rows of a fixed, irregular pattern
    are coded behind the code and decoded with it: they come out right only if the decoder
    reached them at their first bit.

    Raises
    ------
    BrokenFilm
        If it cannot be decoded, does not end exactly where the rows end, or the row `before` does
        not come out whole.
    """
    lead = 0 if before is None else 1
    start = BitString() if before is None else encode_group4(before, width=width)
    pattern, pattern_code = _pattern(width)
    decoded = decode_strip(
        to_strip(start + code + pattern_code),
        width=width,
        rows=lead + n + len(pattern),
        compression=GROUP4,
    )
    if before is not None and not np.array_equal(decoded[:1], before):
        raise BrokenFilm("the row above the strip does not decode")
    if not np.array_equal(decoded[lead + n :], pattern):
        raise BrokenFilm("has a strip that does not end where its rows end")
    return decoded[lead : lead + n]


def is_code_of(
    code: BitString, rows: UInt8Array, *, width: int, before: UInt8Array | None = None
) -> bool:
    """Whether a code decodes to exactly these rows and ends exactly where they end."""
    try:
        decoded = decode_group4(code, len(rows), width=width, before=before)
    except BrokenFilm:
        return False
    return np.array_equal(decoded, rows)


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
    return (
        np.packbits(np.array(rows, np.uint8), axis=1),
        BitString.from_number(int(joined, 2), len(joined)),
    )


def _only_strip(tiff: bytes) -> bytes:
    """The bytes of the first and only strip of a TIFF that libtiff wrote."""
    with TiffImagePlugin.TiffImageFile(io.BytesIO(tiff)) as picture:
        (start,), (count,) = picture.tag_v2[273], picture.tag_v2[279]
    return tiff[start : start + count]

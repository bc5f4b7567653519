from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from filmhand.film import group4
from filmhand.film.formats import BrokenFilm
from filmhand.film.group4 import BitString

SIZES = st.tuples(st.integers(1, 90), st.integers(1, 12), st.integers(0, 2**32 - 1))


def random_rows(width: int, height: int, seed: int) -> NDArray[np.uint8]:
    """Rows whose neighbors resemble one another, so that every mode of T.6 is met."""
    chance = np.random.default_rng(seed)
    pixels = chance.random((height, width)) < chance.random()
    for y in range(1, height):
        same = chance.random(width) < 0.8
        pixels[y, same] = pixels[y - 1, same]
    return np.packbits(pixels, axis=1)


@given(st.binary(max_size=9), st.binary(max_size=9), st.data())
def test_bit_strings_join_and_part(one: bytes, two: bytes, data: st.DataObject) -> None:
    both = BitString.from_bytes(one) + BitString.from_bytes(two)
    assert both.data == one + two
    start, stop = sorted(data.draw(st.tuples(*[st.integers(0, both.length)] * 2)))
    value = int.from_bytes(both.data) >> both.length - stop & (1 << stop - start) - 1
    assert both.part(start, stop) == BitString.from_number(value, stop - start)
    assert both.part(0, start) + both.part(start, stop) + both.part(stop, both.length) == both


def test_a_bit_string_is_filled_up_with_zeros() -> None:
    assert BitString.from_number(0b101, 3) == BitString(b"\xa0", 3)
    assert BitString.from_bytes(b"\xff").part(1, 6) == BitString(b"\xf8", 5)


@given(SIZES)
def test_decoding_gives_the_rows_again(size: tuple[int, int, int]) -> None:
    width, height, seed = size
    rows = random_rows(width, height, seed)
    code = group4.encode_group4(rows, width=width)
    assert np.array_equal(group4.decode_group4(code, height, width=width), rows)
    assert group4.is_code_of(code, rows, width=width)
    assert group4.from_strip(group4.to_strip(code)) == code


@given(SIZES, st.data())
def test_strips_put_end_to_end_are_the_code_of_the_whole(
    size: tuple[int, int, int], data: st.DataObject
) -> None:
    width, height, seed = size
    rows = random_rows(width, height, seed)
    cuts = [0, *sorted(data.draw(st.sets(st.integers(1, height), max_size=4)) | {height})]
    joined = BitString()
    for top, bottom in pairwise(cuts):
        strip, before = rows[top:bottom], rows[top - 1 : top] if top else None
        code = group4.encode_group4(strip, width=width)
        piece = group4.continued(code, strip, width=width, before=before)
        assert group4.is_code_of(piece, strip, width=width, before=before)
        joined += piece
    assert joined == group4.encode_group4(rows, width=width)


@given(SIZES, st.integers(1, 3), st.booleans())
def test_a_code_that_is_cut_or_too_long_is_noticed(
    size: tuple[int, int, int], by: int, longer: bool
) -> None:
    width, height, seed = size
    rows = random_rows(width, height, seed)
    code = group4.encode_group4(rows, width=width)
    if longer:
        wrong = code + BitString.from_number((1 << by) - 1, by)
    else:
        wrong = code.part(0, max(0, code.length - by))
    assert not group4.is_code_of(wrong, rows, width=width)
    with pytest.raises(BrokenFilm):
        group4.decode_group4(wrong, height, width=width)


def test_a_code_of_blank_rows_that_is_one_row_short_is_noticed() -> None:
    # A blank row after a blank row is the single bit 1: nothing but the count tells.
    rows = np.zeros((40, 100), np.uint8)
    assert group4.encode_group4(rows, width=800) == BitString.from_number(2**40 - 1, 40)
    assert not group4.is_code_of(BitString.from_number(2**39 - 1, 39), rows, width=800)


@pytest.mark.parametrize(
    "payload",
    [b"", b"\0\0\0", b"\x12\x34\x56", group4.to_strip(BitString.from_number(1, 1)) + b"\0"],
)
def test_a_strip_without_its_proper_end_is_broken(payload: bytes) -> None:
    with pytest.raises(BrokenFilm, match="end-of-block"):
        group4.from_strip(payload)


def test_known_code_words() -> None:
    # ITU-T T.4 table 2 and T.6 table 1: horizontal mode 001, white 3 = 1000, black 2 = 11;
    # then V0 = 1 at the end of the line. Eight pixels: 00011000.
    code = group4.encode_group4(np.array([[0b00011000]], np.uint8), width=8)
    # a1 = 3 lies over three pixels before b1 = 8, so horizontal; then V0 at the right edge.
    assert code == BitString.from_number(0b001_1000_11_1, 10)


@pytest.mark.parametrize(
    ("width", "height"),
    [
        (2048, 256),
        (5000, 300),  # packed again in three bands of 2^19 pixels, the last one lower
        (1_048_584, 3),  # a row that is longer than a band
    ],
)
def test_a_code_of_more_than_64_kib_is_whole(width: int, height: int) -> None:
    # libtiff tells the length of a strip in two bytes or in four (TIFF 6.0, StripByteCounts).
    rows = np.random.default_rng(5).integers(0, 256, (height, width // 8), np.uint8)
    code = group4.encode_group4(rows, width=width)
    assert code.length > 8 * 65536
    assert np.array_equal(group4.decode_group4(code, height, width=width), rows)

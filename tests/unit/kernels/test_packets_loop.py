"""The loops for lines of PWG Raster give what NumPy and Python give, and refuse damaged packets."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.film import pwg
from filmhand.film.bits import BitSheet
from filmhand.film.formats import BrokenFilm, Format
from filmhand.film.write import verify_film, write_films
from filmhand.kernels.loops import compiled
from filmhand.units import Resolution

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")

RUNS = st.lists(st.tuples(st.integers(0, 3), st.integers(1, 140)), min_size=1, max_size=12)


def must_be_as_without(rows):
    packed = pwg.encode_lines(rows)
    assert packed == pwg._encode_by_numpy(rows)
    height, row_bytes = rows.shape
    head = pwg.PwgHead(8 * row_bytes, height, Resolution(600, 600), row_bytes)
    lines = list(pwg.decode_lines(io.BytesIO(packed), head))
    assert b"".join(line * count for count, line in lines) == rows.tobytes()
    at = 0
    for count, line in lines:
        assert packed[at] == count - 1
        found, at = pwg._decode_packets(packed, at + 1, row_bytes)
        assert found == line
    assert at == len(packed)


@settings(max_examples=200)
@given(RUNS, st.lists(st.integers(1, 5), min_size=1, max_size=6), st.integers(0, 255))
def test_lines_of_runs(runs, repeats, other):
    line = np.concatenate([np.full(length, byte, np.uint8) for byte, length in runs])
    lines = [line ^ np.uint8(other if k % 2 else 0) for k in range(len(repeats))]
    must_be_as_without(np.repeat(np.stack(lines), repeats, axis=0))


@settings(max_examples=200)
@given(st.integers(1, 400), st.integers(1, 4), st.floats(0, 1), st.integers(0, 2**32 - 1))
def test_lines_of_short_runs(row_bytes, height, share, seed):
    chance = np.random.default_rng(seed)
    rows = chance.integers(0, 256, (height, row_bytes), np.uint8)
    rows[chance.random((height, row_bytes)) < share] = 0
    must_be_as_without(rows)


@pytest.mark.parametrize("height", [1, 255, 256])
def test_alike_lines(height):
    must_be_as_without(np.full((height, 3), 7, np.uint8))


def test_more_than_256_alike_lines_are_said_in_two():
    packed = np.empty(3 * 300, np.uint8)
    length = compiled().pack_lines(np.zeros((300, 1), np.uint8), 1, packed)
    assert packed[:length].tolist() == [255, 0, 0, 43, 0, 0]


@settings(max_examples=300)
@given(st.binary(max_size=12), st.integers(0, 3), st.integers(1, 9))
def test_damaged_packets_are_told_from_sound_ones(data, start, row_bytes):
    line = bytearray(row_bytes)
    end = compiled().unpack_line(data, start, line)
    try:
        assert (bytes(line), end) == pwg._decode_packets(data, min(start, len(data)), row_bytes)
    except BrokenFilm:
        assert end == -1


def test_rows_that_are_not_whole_or_have_no_room_are_no_rows():
    rows, packed = np.zeros((2, 3), np.uint8), np.empty(14, np.uint8)
    assert compiled().pack_lines(rows, 3, packed) == 5
    for wrong in [(rows, 4, packed), (rows, 0, packed), (rows, 3, packed[:13])]:
        with pytest.raises(ValueError, match="not whole, or the room"):
            compiled().pack_lines(*wrong)
    assert compiled().unpack_line(b"\0\7", -1, bytearray(1)) == -1


def test_whole_films_have_the_same_bytes_without_the_loops(tmp_path, without_loops):
    chance = np.random.default_rng(9)
    pixels = np.repeat(chance.random((230, 90)) < chance.random((230, 1)), 17, axis=1)
    paths = [tmp_path / name for name in ("compiled.pwg", "plain.pwg")]
    dpi = Resolution(300, 300)
    with BitSheet.create(tmp_path / "bits", width=1_530, height=690) as sheet:
        sheet.write(0, np.packbits(np.repeat(pixels, 3, axis=0), axis=1))
        write_films(sheet, {Format.PWG: paths[0]}, dpi=dpi)
        verify_film(paths[0], sheet, format=Format.PWG, dpi=dpi)
        without_loops()
        write_films(sheet, {Format.PWG: paths[1]}, dpi=dpi)
        verify_film(paths[0], sheet, format=Format.PWG, dpi=dpi)
    assert paths[0].read_bytes() == paths[1].read_bytes()

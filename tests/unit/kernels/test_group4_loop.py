"""The loop that codes Group 4 gives what libtiff gives, bit by bit, and refuses what is no row."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.film import group4
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import write_films
from filmhand.kernels.loops import compiled
from filmhand.units import Resolution

pytestmark = pytest.mark.skipif(compiled() is None, reason="the loops in C were not built")


def must_be_as_libtiffs(pixels, before=None):
    """pixels : (n, width) bool; before : (width,) bool or None"""
    rows = np.packbits(pixels, axis=1)
    above = None if before is None else np.packbits(before)[None]
    width = pixels.shape[1]
    found = group4.encode_group4(rows, width=width, before=above)
    assert found == group4._encode_by_libtiff(rows, width=width, before=above)
    assert group4.is_code_of(found, rows, width=width, before=above)


def near_rows(chance, width, height):
    """Rows of runs of some length, each like that above it, moved, thinned or new."""
    length = int(chance.integers(1, 40))
    share = chance.random()
    rows = np.empty((height, width), np.bool_)
    for y in range(height):
        runs = chance.random(-(-width // length)) < share
        rows[y] = np.repeat(runs, length)[:width]
        if y and (kind := chance.integers(4)):
            moved = np.roll(rows[y - 1], chance.integers(-4, 5))
            like = chance.random(width) < (0.7, 0.95, 1)[kind - 1]
            rows[y, like] = moved[like]
    return rows


@settings(max_examples=300)
@given(st.integers(1, 300), st.integers(1, 12), st.booleans(), st.integers(0, 2**32 - 1))
def test_rows_of_all_kinds(width, height, first, seed):
    rows = near_rows(np.random.default_rng(seed), width, height + 1)
    must_be_as_libtiffs(rows[1:], None if first else rows[0])


@pytest.mark.parametrize("width", [4_001, 20_000, 65_537])
def test_wide_rows(width):
    chance = np.random.default_rng(width)
    must_be_as_libtiffs(near_rows(chance, width, 4), near_rows(chance, width, 1)[0])


@pytest.mark.parametrize("width", [1, 7, 8, 63, 64, 65, 127, 128, 129, 192])
@pytest.mark.parametrize(("above", "below"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_blank_and_solid_rows_of_whole_and_broken_words(width, above, below):
    rows = np.full((3, width), bool(below))
    must_be_as_libtiffs(rows, np.full(width, bool(above)))
    must_be_as_libtiffs(rows)


@pytest.mark.parametrize("period", range(1, 12))
def test_stripes_and_checks(period):
    across = np.arange(200) // period % 2 == 0
    must_be_as_libtiffs(np.stack([across, ~across, across, np.roll(across, 3), ~across]))


@pytest.mark.parametrize("color", [False, True])
def test_every_length_of_run_to_twice_the_longest_make_up_code(color):
    # ITU-T T.4: 2560 is the longest make-up code, and is repeated for what is longer.
    lengths = np.array(
        [*range(700), *range(2500, 2700), *range(5100, 5260), 7679, 7680, 7743, 7744]
    )
    for lengths_of_some in np.array_split(lengths, 8):
        rows = np.full((2 * len(lengths_of_some), 8000), not color)
        for k, length in enumerate(lengths_of_some):
            rows[2 * k, 100 : 100 + length] = color
            rows[2 * k, 100 + length + 1 + k % 7] = color
        must_be_as_libtiffs(rows)


def test_rows_that_take_the_most_bits_find_room():
    # Each change lies three pixels from that above it: seven bits a pixel, the most that there are.
    alternating = np.arange(3_000) % 2 == 0
    must_be_as_libtiffs(np.stack([np.roll(alternating, 3 * k) for k in range(6)]))
    above = np.zeros(3_000, np.bool_)
    above[3:] = alternating[:-3]
    must_be_as_libtiffs(alternating[None] & (np.arange(3_000) < 2_990), above)


def test_what_stands_in_pad_bits_is_not_coded():
    clean, dirty = np.array([[0b10100000]], np.uint8), np.array([[0b10111111]], np.uint8)
    code = group4.encode_group4(clean, width=3, before=clean)
    assert code == group4.encode_group4(dirty, width=3, before=dirty)


def test_rows_that_are_not_whole_or_have_no_room_are_no_rows():
    loops = compiled()
    rows, code = np.zeros((2, 3), np.uint8), np.empty(60, np.uint8)
    assert loops.encode_group4(rows, 24, None, code) == 2
    for wrong in [
        (rows, 25, None, code),
        (rows, 24, rows, code),
        (rows, 24, None, code[:50]),
        (rows, 0, None, code),
        (rows, -8, None, code),
        (rows[:, :2], 16, None, code),
    ]:
        with pytest.raises((ValueError, BufferError)):
            loops.encode_group4(*wrong)


def test_whole_films_have_the_same_bytes_without_the_loop(tmp_path, without_loops):
    chance = np.random.default_rng(8)
    pixels = near_rows(chance, 1_337, 700)
    kinds = {kind: tmp_path / f"film{kind.suffix}" for kind in (Format.TIFF, Format.PDF)}
    found = []
    with BitSheet.create(tmp_path / "bits", width=1_337, height=700) as sheet:
        sheet.write(0, np.packbits(pixels, axis=1))
        for threads in (1, 3):
            write_films(sheet, kinds, dpi=Resolution(300, 300), threads=threads)
            found.append([path.read_bytes() for path in kinds.values()])
        without_loops()
        write_films(sheet, kinds, dpi=Resolution(300, 300))
        found.append([path.read_bytes() for path in kinds.values()])
    assert b"CCITTFaxDecode" in found[0][1]
    assert found[0] == found[1] == found[2]

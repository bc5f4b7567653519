"""Pieces of a zlib stream, whatever chunks it comes in; and that it ends where they do."""

from __future__ import annotations

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.film.deflate import inflate_exactly
from filmhand.film.formats import BrokenFilm

TEXT = bytes(range(256)) * 3
CODE = zlib.compress(TEXT)


def inflated(chunks, sizes):
    return list(inflate_exactly(chunks, sizes))


@given(st.data())
def test_pieces_are_the_text_in_whatever_chunks_its_code_comes(data):
    cuts = sorted(data.draw(st.lists(st.integers(0, len(CODE)), max_size=6)))
    ends = sorted(data.draw(st.lists(st.integers(0, len(TEXT)), max_size=6)))
    chunks = [CODE[a:b] for a, b in zip([0, *cuts], [*cuts, len(CODE)], strict=True)]
    pieces = [TEXT[a:b] for a, b in zip([0, *ends], [*ends, len(TEXT)], strict=True)]
    assert inflated(chunks, [len(piece) for piece in pieces]) == pieces


@pytest.mark.parametrize(
    ("chunks", "length", "says"),
    [
        ([CODE], len(TEXT) + 1, "too early"),
        ([CODE, b"x"], len(TEXT) + 1, "too early"),
        ([CODE[:-5]], len(TEXT), "no end"),
        ([CODE[:-1]], len(TEXT), "no end"),  # of the checksum (RFC 1950, 2.2)
        ([], 0, "no end"),
        ([CODE[:40]], len(TEXT), "too early"),
        ([CODE], len(TEXT) - 1, "goes on after its last row"),
        ([CODE + b"x"], len(TEXT), "bytes after its end"),
        ([CODE, b"", b"x"], len(TEXT), "bytes after its end"),
        ([CODE[:-1] + bytes([CODE[-1] ^ 1])], len(TEXT), "check"),
        ([b"\0" + CODE[1:]], len(TEXT), "header"),
    ],
)
def test_a_stream_that_does_not_end_with_its_last_piece_is_broken(chunks, length, says):
    with pytest.raises(BrokenFilm, match=says):
        inflated(chunks, [length])


def test_empty_chunks_and_pieces_change_nothing():
    assert inflated([b"", CODE[:9], b"", CODE[9:], b""], [0, len(TEXT), 0]) == [b"", TEXT, b""]

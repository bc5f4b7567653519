"""A TIFF that leaves out what TIFF 6.0 has a default for, and what is at the edge of the file."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from filmhand.errors import Reason, Refused
from filmhand.film import read
from filmhand.film.read import read_film
from filmhand.units import Resolution

# Three rows of ten pixels, 1 = ink.
INK = np.array([[0b10100000, 0b01000000], [0b01111111, 0b11000000], [0b00000001, 0]], np.uint8)
STORED = INK.tobytes()
SHORT, LONG, RATIONAL = 3, 4, 5


def tiff_of(fields, data=STORED):
    """A TIFF of these (tag, type, value), its values first, then the directory, then the data.

    The tag StripOffsets gets where the data lies, which is up to the end of the file.
    """
    fields = sorted([*fields, (273, LONG, None)])
    values = b"".join(struct.pack("<II", *value) for _, kind, value in fields if kind == RATIONAL)
    place = 8 + len(values)
    data_at = place + 2 + 12 * len(fields) + 4
    entries, at = b"", 8
    for tag, kind, value in fields:
        if kind == RATIONAL:
            entries += struct.pack("<HHII", tag, kind, 1, at)
            at += 8
        else:
            entries += struct.pack("<HHII", tag, kind, 1, data_at if value is None else value)
    head = struct.pack("<2sHI", b"II", 42, place)
    return head + values + struct.pack("<H", len(fields)) + entries + bytes(4) + data


LEAST = [(256, SHORT, 10), (257, SHORT, 3), (262, SHORT, 0), (279, LONG, 6)]
DENSITY = [(282, RATIONAL, (600, 1)), (283, RATIONAL, (300, 1))]


def film(tmp_path, fields, data=STORED):
    path = tmp_path / "film.tif"
    path.write_bytes(tiff_of(fields, data))
    return path


def seen(path):
    sheet, dpi = read_film(path, path.parent)
    with sheet:
        return sheet.read(0, sheet.height).tolist(), sheet.width, dpi


@pytest.mark.parametrize("whole", [False, True], ids=["by strips", "whole"])
@pytest.mark.parametrize(
    "said",
    [
        [],
        [(258, SHORT, 1)],
        [(259, SHORT, 1)],
        [(266, SHORT, 1)],
        [(274, SHORT, 1)],
        [(277, SHORT, 1)],
        [(278, SHORT, 3)],
        [(278, LONG, 2**32 - 1)],
        [(296, SHORT, 2)],
    ],
    ids=str,
)
def test_what_is_left_out_is_as_if_its_default_were_said(said, whole, tmp_path, monkeypatch):
    """TIFF 6.0: one bit, no compression, upright, one strip, resolution per inch."""
    if whole:
        monkeypatch.setattr(read, "_MOST_STRIP_PIXELS", 1)
    path = film(tmp_path, LEAST + DENSITY + said)
    assert seen(path) == (INK.tolist(), 10, Resolution(600, 300))


def test_strips_are_read_by_themselves_only_where_they_are_not_large(tmp_path, monkeypatch):
    read_whole = []
    monkeypatch.setattr(read, "_whole_rows", lambda *_: read_whole.append(1) or iter(()))
    path = film(tmp_path, LEAST)
    for most, times in ((30, 0), (29, 1)):
        monkeypatch.setattr(read, "_MOST_STRIP_PIXELS", most)
        if times:
            with pytest.raises(Refused):  # nothing came
                seen(path)
        else:
            assert seen(path)[0] == INK.tolist()
        assert len(read_whole) == times


def test_stored_ones_are_white_where_min_is_black(tmp_path):
    fields = [one for one in LEAST if one[0] != 262] + [(262, SHORT, 1)]
    assert seen(film(tmp_path, fields, (~INK).tobytes()))[0] == INK.tolist()


def test_a_strip_may_end_with_its_file_and_not_beyond_it(tmp_path):
    assert seen(film(tmp_path, LEAST))[0] == INK.tolist()
    with pytest.raises(Refused) as refused:
        seen(film(tmp_path, LEAST, STORED[:-1]))
    assert refused.value.reason is Reason.DAMAGED


@pytest.mark.parametrize(
    ("across", "down", "dpi"),
    [
        ((2, 1), (2, 1), Resolution(2, 2)),
        ((1, 1), (1, 1), None),  # a bare ratio
        ((1, 1), (600, 1), None),
        ((600, 1), (1, 1), None),
        ((0, 1), (600, 1), None),
        ((99_999, 1), (99_999, 1), Resolution(99_999, 99_999)),
        ((100_000, 1), (600, 1), None),
        ((600, 1), (100_000, 1), None),
        ((5997, 10), (3004, 10), Resolution(600, 300)),
    ],
)
def test_a_resolution_is_over_1_and_under_100_000(across, down, dpi, tmp_path):
    path = film(tmp_path, [*LEAST, (282, RATIONAL, across), (283, RATIONAL, down)])
    assert seen(path)[2] == dpi


def test_a_resolution_that_is_said_of_one_side_only_is_none(tmp_path):
    for side in DENSITY:
        assert seen(film(tmp_path, [*LEAST, side]))[2] is None


def test_a_film_may_have_as_many_pixels_as_are_read(tmp_path, monkeypatch):
    path = film(tmp_path, LEAST)
    monkeypatch.setattr(read, "MOST_PIXELS", 30)
    assert seen(path)[0] == INK.tolist()


@pytest.mark.parametrize(
    ("width", "height", "bands"),
    [
        (1, 257, [(0, 256), (256, 1)]),
        (65_536, 512, [(0, 256), (256, 256)]),
        (65_537, 256, [(0, 255), (255, 1)]),  # the most rows of 2^24 pixels
        (40_000_000, 2, [(0, 1), (1, 1)]),
    ],
)
def test_bands_have_256_rows_or_16_million_pixels_but_one_row_at_least(width, height, bands):
    assert list(read._bands(width, height)) == bands


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_a_strip_of_a_row_is_read_by_itself(rows, tmp_path, monkeypatch):
    monkeypatch.setattr(read, "_whole_rows", lambda *_: pytest.fail("was read whole"))
    fields = [(256, SHORT, 10), (257, SHORT, 1), (262, SHORT, 0), (279, LONG, 2)]
    path = film(tmp_path, [*fields, (278, SHORT, rows)], STORED[:2])
    assert seen(path)[0] == INK[:1].tolist()

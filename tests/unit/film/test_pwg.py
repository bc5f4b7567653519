"""PWG Raster (PWG 5102.4): the header's fields, the names of media, lines that are damaged."""

from __future__ import annotations

import io
import re
import struct

import numpy as np
import pytest

from filmhand.film import pwg
from filmhand.film.formats import BrokenFilm
from filmhand.film.strips import FilePlan
from filmhand.units import MEDIA_NAMES, Resolution, SheetSize

DPI = Resolution(600, 300)


def plan_of(width, height, dpi=DPI):
    return FilePlan(width, height, dpi, 256, group4=True)


def name_of(plan):
    return pwg.page_header(plan)[1732:].rstrip(b"\0").decode("ascii")


def test_every_field_of_the_header_stands_where_the_standard_says():
    # PWG 5102.4-2012, table 3: offset of each field that is not 0.
    words = struct.unpack(">433I", pwg.page_header(plan_of(1203, 77))[:1732])
    named = {4 * place: value for place, value in enumerate(words) if value and place >= 3}
    assert named == {
        276: 600,
        280: 300,
        352: 144,  # 1203 pixels of 1/600 inch are 144.36 points
        356: 18,
        372: 1203,
        376: 77,
        384: 1,
        388: 1,
        392: 151,
        400: 3,
        420: 1,
        452: 1,
        456: 1,
        460: 1,
        472: 1203,
        476: 77,
        480: 0xFFFFFF,
        484: 5,
    }


@pytest.mark.parametrize("sides", list(MEDIA_NAMES))
def test_a_medium_has_the_size_that_its_name_tells(sides):
    # PWG 5101.1: class, size and dimensions, in inches or millimeters, make a name.
    name = MEDIA_NAMES[sides]
    across, down, unit = re.fullmatch(r"\w+_[^_]+_([\d.]+)x([\d.]+)(in|mm)", name).groups()
    hundredths = {"in": 2540, "mm": 100}[unit]
    assert sides == (float(across) * hundredths, float(down) * hundredths)
    dpi = Resolution(720, 360)
    assert name_of(plan_of(*SheetSize(*sides).pixels(dpi), dpi)) == name


def test_another_size_is_named_by_its_millimeters():
    # 600 pixels at 600 dpi are an inch, 77 at 300 dpi are 6.519 mm.
    assert name_of(plan_of(600, 77)) == "custom_film_25.4x6.519mm"
    assert name_of(plan_of(5100, 3300)) == "na_letter_8.5x11in"
    assert name_of(plan_of(5101, 3300)).startswith("custom_film_")
    assert name_of(plan_of(5100, 3301)).startswith("custom_film_")


@pytest.mark.parametrize(
    ("line", "coded"),
    [
        # A run from four bytes on is repeated, a shorter one is taken as it is.
        ([7, 7, 7, 7], [3, 7]),
        ([7, 7, 7, 1], [257 - 4, 7, 7, 7, 1]),
        ([7], [0, 7]),
        ([1, 2], [257 - 2, 1, 2]),
        ([7] * 4 + [1], [3, 7, 0, 1]),
        ([1] + [7] * 4, [0, 1, 3, 7]),
        ([1, 2] + [7] * 4 + [1, 2], [255, 1, 2, 3, 7, 255, 1, 2]),
        # No packet stands for more than 128 bytes.
        ([7] * 128, [127, 7]),
        ([7] * 129, [127, 7, 0, 7]),
        ([7] * 260, [127, 7, 127, 7, 3, 7]),
        (list(range(128)), [129, *range(128)]),
        (list(range(130)), [129, *range(128), 255, 128, 129]),
    ],
)
def test_a_line_in_packets(line, coded):
    assert list(pwg.encode_lines(np.array([line], np.uint8))) == [0, *coded]
    head = pwg.PwgHead(8 * len(line), 1, Resolution(600, 600), len(line))
    assert list(pwg.decode_lines(io.BytesIO(bytes([0, *coded])), head)) == [(1, bytes(line))]


def test_alike_lines_are_said_once_with_how_often_they_are_repeated():
    rows = np.array([[7], [7], [7], [1], [7], [7]], np.uint8)
    assert list(pwg.encode_lines(rows)) == [2, 0, 7, 0, 0, 1, 1, 0, 7]
    assert list(pwg.encode_lines(np.zeros((256, 1), np.uint8))) == [255, 0, 0]


@pytest.mark.parametrize(
    ("coded", "says"),
    [
        ([], "ends too early"),
        ([1, 255, 1, 2], "fewer"),
        ([0, 255, 1, 2, 0, 255, 1], "ends too early"),
        ([0], "damaged line"),
        ([0, 128, 1, 2], "damaged line"),
        ([0, 2, 9], "wrong length"),
        ([0, 0, 9, 255, 1, 2], "wrong length"),
        ([0, 255, 1, 2, 1, 1, 9], "sound"),
        ([0, 255, 1, 2, 2, 1, 9], "more lines"),
        ([2, 1, 9, 0], "more lines"),
        ([3, 1, 9], "more lines"),
    ],
)
def test_lines_that_are_damaged_more_or_fewer_than_the_header_says(coded, says):
    """Three rows of two bytes."""
    lines = pwg.decode_lines(io.BytesIO(bytes(coded)), pwg.PwgHead(16, 3, Resolution(600, 600), 2))
    if says == "sound":
        assert list(lines) == [(1, b"\1\2"), (2, b"\x09\x09")]
        return
    with pytest.raises(BrokenFilm, match="ends too early" if says == "fewer" else says):
        list(lines)


@pytest.mark.parametrize(
    ("offset", "value"),
    [(372, 1193), (376, 0), (384, 8), (388, 8), (392, 152), (400, 18), (420, 3)],
)
def test_a_page_that_is_not_in_one_bit_black_is_not_read(offset, value):
    """Width, height, bits a color and a pixel, bytes of a line, color space, colors."""
    header = bytearray(b"RaS2" + pwg.page_header(plan_of(1203, 77)))
    assert pwg.read_pwg_head(io.BytesIO(header)) == pwg.PwgHead(1203, 77, Resolution(600, 300), 151)
    struct.pack_into(">I", header, 4 + offset, value)
    with pytest.raises(BrokenFilm, match="one-bit black"):
        pwg.read_pwg_head(io.BytesIO(header))


def test_a_header_that_is_cut_or_of_another_raster_is_not_read():
    header = b"RaS2" + pwg.page_header(plan_of(1203, 77))
    assert len(header) == 4 + 1796
    for data in (header[:-1], b"RaS3" + header[4:]):
        with pytest.raises(BrokenFilm, match="no page header"):
            pwg.read_pwg_head(io.BytesIO(data))

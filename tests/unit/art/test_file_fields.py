"""Kinds of files that are told by several fields, value by value; and TIFF directories."""

from __future__ import annotations

import struct
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from filmhand.art.files.file_types import _STARTS, FileType, sniff, unpacked_head
from filmhand.art.files.orientation import (
    believed_resolution,
    orientation_of,
    own_resolution,
    turned_upright,
    upright_and_stored,
)
from filmhand.art.files.tiff_structure import Directory, Structure, Tag, read_structure

BEHIND = b"\xfe\x01\x80\xff" * 8


@pytest.mark.parametrize(
    ("start", "kind"),
    [(start, kind) for kind, starts in _STARTS.items() for start in starts],
    ids=lambda value: value if isinstance(value, FileType) else "",
)
def test_every_beginning_is_that_of_its_kind(start, kind):
    assert sniff(start + BEHIND) is kind


def pcx(version=5, packing=1, bits=8, box=(0, 0, 9, 7)):
    return struct.pack("<BBBB4H", 10, version, packing, bits, *box) + bytes(52)


def test_fields_of_a_pcx():
    # ZSoft's technical reference: versions 0, 2 to 5; run lengths or none; 1, 2, 4 or 8 bits.
    assert {n for n in range(9) if sniff(pcx(version=n)) is FileType.PCX} == {0, 2, 3, 4, 5}
    assert {n for n in range(9) if sniff(pcx(packing=n)) is FileType.PCX} == {0, 1}
    assert {n for n in range(20) if sniff(pcx(bits=n)) is FileType.PCX} == {1, 2, 4, 8}
    for box in ((9, 7, 9, 7), (0, 0, 0, 0)):
        assert sniff(pcx(box=box)) is FileType.PCX
    for box in ((10, 0, 9, 7), (0, 8, 9, 7)):
        assert sniff(pcx(box=box)) is not FileType.PCX


def dib(length=40, planes=1, bits=24):
    if length == 12:
        return struct.pack("<IHHHH", 12, 9, 7, planes, bits) + bytes(40)
    return struct.pack("<IiiHH", length, 9, 7, planes, bits) + bytes(200)


def test_fields_of_a_bitmap_without_its_first_header():
    lengths = {12, 40, 52, 56, 64, 108, 124}
    assert {n for n in range(200) if sniff(dib(length=n)) is FileType.DIB} == lengths
    for length in (12, 40):
        assert {n for n in range(5) if sniff(dib(length, planes=n)) is FileType.DIB} == {1}
        depths = {n for n in range(40) if sniff(dib(length, bits=n)) is FileType.DIB}
        assert depths == {1, 2, 4, 8, 16, 24, 32}
    bmp = b"BM" + bytes(12)
    assert {n for n in range(200) if sniff(bmp + dib(length=n)) is FileType.BMP} == lengths


def targa(packing=2, bits=24, *, has_map=0, entries=0, map_bits=0, size=(9, 7), last=0):
    return struct.pack(
        "<BBBHHBHHHHBB", 0, has_map, packing, 0, entries, map_bits, 0, 0, *size, bits, last
    ) + bytes(9)  # fmt: skip


def found(**fields):
    return sniff(targa(**fields)) is FileType.TGA


def test_fields_of_a_targa():
    # Truevision TGA 2.0: 2 and 10 color, 3 and 11 gray, 1 and 9 by a map.
    depths = {packing: {n for n in range(40) if found(packing=packing, bits=n)}
              for packing in range(16)}  # fmt: skip
    color, gray = {15, 16, 24, 32}, {1, 8, 16}
    assert {n: some for n, some in depths.items() if some} == {
        2: color, 10: color, 3: gray, 11: gray,
    }  # fmt: skip
    for packing in (1, 9):
        by_map = {"packing": packing, "bits": 8, "has_map": 1, "entries": 9, "map_bits": 24}
        assert found(**by_map)
        assert {n for n in range(40) if found(**by_map | {"map_bits": n})} == color
        assert {n for n in range(40) if found(**by_map | {"bits": n})} == {8}
        assert found(**by_map | {"entries": 256}) and found(**by_map | {"entries": 1})
        assert not found(**by_map | {"entries": 257}) and not found(**by_map | {"entries": 0})
        assert not found(**by_map | {"has_map": 0}) and not found(**by_map | {"has_map": 2})
    assert not found(size=(0, 7)) and not found(size=(9, 0)) and not found(has_map=1)
    # Up to 8 bits of opacity; the upper two bits of the last byte are none.
    assert {n for n in range(256) if found(last=n)} == {
        high | low for high in (0, 16, 32, 48) for low in range(9)
    }


def box(brands, size=None):
    return struct.pack(">I", size or 8 + len(brands)) + b"ftyp" + brands + BEHIND


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (box(b"heic\0\0\0\0"), FileType.HEIC),
        (box(b"mp42\0\0\0\0isommif1"), FileType.HEIC),
        (box(b"mif1\0\0\0\0avif"), FileType.AVIF),
        (box(b"msf1\0\0\0\0avis"), FileType.AVIF),
        (box(b"crx \0\0\0\0heic"), FileType.RAW),
        (box(b"isom\0\0\0\0mp42"), FileType.VIDEO),
        # What lies behind the box is no brand; its own first brand always is.
        (box(b"isom\0\0\0\0", size=16) + b"heic", FileType.VIDEO),
        (box(b"heic\0\0\0\0", size=0), FileType.HEIC),
        (box(b"heic", size=1), FileType.HEIC),
        (b"RIFF\0\0\0\0WEBPVP8 ", FileType.WEBP),
        (b"RIFF\0\0\0\0WAVEfmt ", FileType.SOUND),
        (b"RIFF\0\0\0\0AVI LIST", FileType.VIDEO),
        (b"II\x2a\0\x10\0\0\0CR\2\0", FileType.RAW),
        (b"II\x2b\0\x08\0\0\0", FileType.TIFF),
        (b"MM\0\x2b\0\x08\0\0", FileType.TIFF),
        (b"%" + b" " * 1018 + b"%PDF-", FileType.PDF),
        (b"%" + b" " * 1019 + b"%PDF-", FileType.TEXT),
        (b"\0\0\1\0\0\0" + bytes(20), FileType.UNKNOWN),
        (b"\0\0\1\0\0\1" + bytes(20), FileType.ICO),
        (b"text\x1b[0m\ttab\x0c", FileType.TEXT),
        (b"text\x07", FileType.UNKNOWN),
        (b"\xff\xfet\0e\0", FileType.TEXT),
        (b"P3\n# a\n# b\n4 3\n", FileType.NETPBM),
        (b"P7\nENDHDR\n", FileType.TEXT),
        (b"P8 4 3\n", FileType.TEXT),
    ],
)
def test_beginnings_that_are_nearly_another_kind(head, kind):
    assert sniff(head) is kind


def test_the_head_of_what_is_packed_and_breaks_off_is_none():
    assert unpacked_head(b"\x1f\x8b\x08broken") == b""


# What each orientation does to a picture of two rows of three (Exif 2.32, 4.6.4).
STORED = np.array([[1, 2, 3], [4, 5, 6]], np.uint16)
UPRIGHT = {
    1: [[1, 2, 3], [4, 5, 6]],
    2: [[3, 2, 1], [6, 5, 4]],
    3: [[6, 5, 4], [3, 2, 1]],
    4: [[4, 5, 6], [1, 2, 3]],
    5: [[1, 4], [2, 5], [3, 6]],
    6: [[4, 1], [5, 2], [6, 3]],
    7: [[6, 3], [5, 2], [4, 1]],
    8: [[3, 6], [2, 5], [1, 4]],
}


@pytest.mark.parametrize("orientation", UPRIGHT)
def test_pictures_are_turned_upright(orientation):
    upright, stored = upright_and_stored((3, 2), orientation)
    stored[...] = STORED
    assert upright.tolist() == UPRIGHT[orientation]
    colored = np.repeat(STORED[..., None], 3, axis=2)
    assert turned_upright(colored, orientation)[..., 1].tolist() == UPRIGHT[orientation]


@pytest.mark.parametrize(("value", "orientation"), [(0, 1), (1, 1), (8, 8), (9, 1), (65535, 1)])
def test_an_odd_orientation_counts_as_upright(value, orientation):
    assert orientation_of(None, Directory({Tag.ORIENTATION: (value,)})) == orientation
    image = Image.new("L", (2, 2))
    image.getexif()[274] = value
    assert orientation_of(image, None) == orientation


def test_without_a_word_a_picture_is_upright():
    assert orientation_of(None, None) == orientation_of(None, Directory()) == 1


@pytest.mark.parametrize(
    ("said", "believed", "noted"),
    [
        ((30, 20_000), (30, 20_000), 0),
        ((29.9, 300), None, 0),
        ((300, 29.9), None, 0),
        ((300, 20_001), None, 0),
        ((72, 72), None, 1),
        ((96.04, 96), None, 1),
        ((96.06, 96), (96.06, 96), 0),
        ((72, 96), (72, 96), 0),
        ((72, 300), (72, 300), 0),
        (None, None, 0),
        (("x", 300), None, 0),
        ((300,), None, 0),
        ((float("nan"), 300), None, 0),
    ],
)
def test_a_resolution_is_believed_unless_it_is_odd_or_a_placeholder(said, believed, noted):
    notes = []
    assert believed_resolution(said, notes) == believed
    assert len(notes) == noted


@pytest.mark.parametrize(("unit", "ppi"), [(None, 200), (2, 200), (3, 508), (1, None), (4, None)])
def test_a_resolution_in_exif_has_its_unit(unit, ppi):
    image = Image.new("L", (2, 2))
    exif = image.getexif()
    exif[282] = exif[283] = 200.0
    if unit is not None:
        exif[296] = unit
    found = own_resolution(image, [])
    assert found == (None if ppi is None else pytest.approx((ppi, ppi)))


def directory(**tags):
    return Directory({Tag[name.upper()]: value for name, value in tags.items()})


def test_where_a_directorys_data_lies():
    assert directory().data_end() == directory().data_start() == 0
    strips = directory(strip_offsets=(90, 10), strip_byte_counts=(5, 70), compression=(5,))
    assert (strips.data_start(), strips.data_end()) == (10, 95)
    tiles = directory(tile_offsets=(40, 20), tile_byte_counts=(5, 30))
    assert (tiles.data_start(), tiles.data_end()) == (20, 50)
    # Counts that are missing, or not as many: up to where the last of them begins.
    assert directory(strip_offsets=(90, 10)).data_end() == 90
    assert directory(strip_offsets=(90, 10), strip_byte_counts=(5,)).data_end() == 90
    # Plain pixels are no more than the page has: 3 rows of 10 pixels of 12 bits, 15 bytes a row.
    page = {"width": (10,), "length": (3,), "bits_per_sample": (12,)}
    assert directory(strip_offsets=(100,), strip_byte_counts=(999,), **page).data_end() == 145
    assert directory(strip_offsets=(100,), strip_byte_counts=(44,), **page).data_end() == 144
    colors = page | {"samples_per_pixel": (3,)}
    assert directory(strip_offsets=(100,), strip_byte_counts=(999,), **colors).data_end() == 235
    assert directory(tile_offsets=(100,), tile_byte_counts=(999,), **page).data_end() == 1099


def test_kinds_of_directories():
    for kind, is_page in ((0, True), (1, False), (2, True), (4, False), (5, False), (6, False)):
        assert directory(new_subfile_type=(kind,)).is_page is is_page
    assert directory().is_page
    assert directory().bits == 1 and directory(bits_per_sample=(8, 16, 8)).bits == 16
    for photometric, is_raw in ((0, False), (2, False), (32803, True), (34892, True)):
        assert directory(photometric=(photometric,)).is_raw is is_raw
    assert directory(dng_version=(1, 4, 0, 0)).is_raw
    assert directory(width=()).one(Tag.WIDTH, 7) == 7


def test_pages_and_raw_files():
    page, thumbnail = directory(), directory(new_subfile_type=(1,))
    assert Structure([thumbnail, page, page]).pages == [1, 2]
    assert Structure([thumbnail, thumbnail]).pages == [0]
    assert Structure([]).pages == []
    inside = directory(new_subfile_type=(1,), sub_ifds=(99,))
    assert Structure([inside, page]).is_raw and not Structure([page, inside]).is_raw
    assert not Structure([directory(sub_ifds=(99,)), page]).is_raw
    assert Structure([page, directory(dng_version=(1,))]).is_raw
    assert not Structure([page]).is_raw


def tiff(entries, *, following=0, big=False, order="<"):
    """A TIFF of one directory at byte 16."""
    mark = b"II" if order == "<" else b"MM"
    if big:
        head = mark + struct.pack(order + "HHHQ", 43, 8, 0, 16)
        count, tail = struct.pack(order + "Q", len(entries)), struct.pack(order + "Q", following)
        body = b"".join(struct.pack(order + "HHQ8s", *one) for one in entries)
    else:
        head = mark + struct.pack(order + "HI", 42, 16) + bytes(8)
        count, tail = struct.pack(order + "H", len(entries)), struct.pack(order + "I", following)
        body = b"".join(struct.pack(order + "HHI4s", *one) for one in entries)
    return head + count + body + tail


def structure(data):
    return read_structure(BytesIO(data), len(data))


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize(
    ("kind", "layout", "value"),
    [(1, "B", 200), (3, "H", 60_000), (4, "I", 3_000_000_000), (6, "b", -3), (8, "h", -300),
     (9, "i", -70_000), (13, "I", 70_000)],
)  # fmt: skip
def test_numbers_of_every_type_are_read(kind, layout, value, big, order):
    size = [(256, 3, 1, struct.pack(order + "H", 5)), (257, 3, 1, struct.pack(order + "H", 6))]
    data = tiff([*size, (254, kind, 1, struct.pack(order + layout, value))], big=big, order=order)
    found = structure(data)
    assert found.fault is None
    (one,) = found.directories
    assert (one.one(256, 0), one.one(257, 0), one.one(254, 0)) == (5, 6, value)
    # Cut anywhere, the description lies outside the file.
    for stop in (17, len(data) - 5, len(data) - 1):
        assert structure(data[:stop]).fault


def test_pages_without_a_size_and_rings_are_faults():
    width, height = (256, 3, 1, b"\x05\0"), (257, 3, 1, b"\x06\0")
    assert structure(tiff([width])).fault == structure(tiff([height])).fault == "a page has no size"
    ring = structure(tiff([width, height], following=16))
    assert ring.fault == "its pages point back at each other" and len(ring.directories) == 1
    assert structure(tiff([width, height], following=9999)).fault
    unknown = structure(tiff([width, height, (258, 99, 1, b"\x08\0"), (259, 3, 0, b"")]))
    assert unknown.fault is None and unknown.directories[0].one(259, 7) == 7


@pytest.mark.parametrize(("count", "fault"), [(1_000_000, None), (1_000_001, "outside")])
def test_values_are_a_million_at_most(count, fault):
    size = [(256, 3, 1, b"\x05\0"), (257, 3, 1, b"\x06\0")]
    data = tiff([*size, (273, 1, count, struct.pack("<I", 100))]) + bytes(1_100_000)
    found = structure(data)
    assert found.fault is None if fault is None else fault in found.fault

"""How long a file of each kind has to be, at the very byte, and where the end marks are sought."""

from __future__ import annotations

import gzip
import struct

import pytest

from filmhand.art.files.completeness import completeness_of
from filmhand.art.files.file_types import FileType, sniff


def bmp(width, height, bits, *, packing=0, packed=0):
    """A bitmap with a header of 40 bytes; its pixels are not there yet."""
    info = struct.pack("<IiiHHIIiiII", 40, width, height, 1, bits, packing, packed, 0, 0, 0, 0)
    return b"BM" + struct.pack("<IHHI", 0, 0, 0, 54) + info


def old_bmp(width, height, bits):
    return (
        b"BM"
        + struct.pack("<IHHI", 0, 0, 0, 26)
        + struct.pack("<IHHHH", 12, width, height, 1, bits)
    )


def dib(width, height, bits, *, packing=0, colors=0):
    return struct.pack("<IiiHHIIiiII", 40, width, height, 1, bits, packing, 0, 0, 0, colors, 0)


def old_dib(width, height, bits):
    return struct.pack("<IHHHH", 12, width, height, 1, bits)


def targa(width, height, bits, kind, *, id_bytes=0, entries=0, entry_bits=0):
    head = struct.pack("<BBBHHBHHHH", id_bytes, bool(entries), kind, 0, entries, entry_bits, 0, 0,
                       width, height)  # fmt: skip
    return head + bytes([bits, 0])


def box(kind, data=b"", *, long=False, open_end=False):
    if open_end:
        return struct.pack(">I4s", 0, kind) + data
    if long:
        return struct.pack(">I4sQ", 1, kind, 16 + len(data)) + data
    return struct.pack(">I4s", 8 + len(data), kind) + data


HEIC = box(b"ftyp", b"heic\0\0\0\0heicmif1")
JXL = b"\x00\x00\x00\x0cJXL \r\n\x87\n"
PIXELS = b"\x07" * 5000
# An icon's entry: 9 bytes from byte 43 on.
ICON = struct.pack("<BBBBHHII", 16, 16, 0, 0, 1, 32, 9, 43)

# Head, and how many bytes of pixels it asks for.
LENGTHS = {
    # Rows are filled up to 4 bytes: 3 x 24 bits are 9 bytes, stored as 12.
    "bitmap": (bmp(3, 2, 24), 24),
    "bitmap from the top down": (bmp(3, -2, 24), 24),
    "bitmap of whole words": (bmp(32, 5, 1), 20),
    "bitmap of a bit more": (bmp(33, 5, 1), 40),
    "bitmap of run lengths of 8 bits": (bmp(100, 100, 8, packing=1, packed=77), 77),
    "bitmap of run lengths of 4 bits": (bmp(100, 100, 4, packing=2, packed=77), 77),
    "bitmap of masks": (bmp(10, 10, 32, packing=3, packed=77), 400),
    "old bitmap": (old_bmp(3, 2, 24), 24),
    "bitmap without its first header": (dib(3, 2, 24), 24),
    "the same with a palette": (dib(8, 2, 8), 4 * 256 + 16),
    "the same with a short palette": (dib(8, 2, 8, colors=10), 4 * 10 + 16),
    "the same with masks": (dib(2, 2, 32, packing=3), 12 + 16),
    "the same of the old kind": (old_dib(3, 2, 24), 24),
    "the same of the old kind with a palette": (old_dib(3, 2, 4), 3 * 16 + 8),
    "targa": (targa(7, 3, 24, 2), 63),
    "targa of single bits": (targa(9, 3, 1, 3), 6),
    "targa with an identity": (targa(7, 3, 8, 3, id_bytes=5), 26),
    # The palette's entries of 15 bits take 2 bytes each.
    "targa with a palette": (targa(7, 3, 8, 1, entries=10, entry_bits=15), 41),
    "icon": (struct.pack("<HHH", 0, 1, 2) + 2 * ICON, 14),
    "netpbm of bits": (b"P4\n9 3\n", 6),
    "netpbm of bytes": (b"P5 # gray\n9 3\n255\n", 27),
    "netpbm of words": (b"P6\n9 3 256\n", 162),
    "netpbm of text": (b"P2\n9 3\n1023\n", 27),
    "netpbm of fractions": (b"PF\n9 3\n-1.0\n", 324),
    "netpbm of gray fractions": (b"Pf\n9 3\n1\n", 108),
    "netpbm with words": (b"P7\nWIDTH 9\nHEIGHT 3\nDEPTH 4\nMAXVAL 255\nENDHDR\n", 108),
    "webp": (b"RIFF" + struct.pack("<I", 104) + b"WEBPVP8 ", 96),
    "jpeg xl in boxes": (JXL + struct.pack(">I4s", 108, b"jxlc"), 100),
    "jpeg xl in long boxes": (JXL + struct.pack(">I4sQ", 1, b"jxlc", 116), 100),
    "heic": (HEIC + box(b"meta") + struct.pack(">I4s", 108, b"mdat"), 100),
    "heic in long boxes": (HEIC + box(b"meta") + struct.pack(">I4sQ", 1, b"mdat", 116), 100),
}  # fmt: skip


@pytest.mark.parametrize("name", LENGTHS)
def test_a_file_is_finished_with_its_last_byte(name, tmp_path):
    head, needed = LENGTHS[name]
    path = tmp_path / "art"
    path.write_bytes(head + PIXELS[:needed])
    assert completeness_of(path).finished
    path.write_bytes(head + PIXELS[: needed + 1])
    # A byte more may be the beginning of a further box.
    assert completeness_of(path).finished or name.startswith("jpeg xl")
    path.write_bytes(head + PIXELS[: needed - 1])
    answer = completeness_of(path)
    assert not answer.finished and answer.hard


@pytest.mark.parametrize(
    "data",
    [
        JXL + struct.pack(">I4s", 0, b"jxlc") + b"\x07",
        b"\xff\x0a\x07",
        HEIC + box(b"meta", b"with an idat within"),
        HEIC + box(b"meta") + box(b"idat"),
        HEIC + box(b"moov") + box(b"mdat"),
        HEIC + box(b"meta") + box(b"mdat", open_end=True) + b"\x07",
        HEIC + box(b"meta") + box(b"mdat") + bytes(100),
        HEIC + box(b"meta") + box(b"mdat") + b"\x07" * 7,
    ],
    ids=["open box", "bare", "idat in meta", "idat", "film", "open end", "zeros", "a few bytes"],
)
def test_ends_of_files_in_boxes(data, tmp_path):
    path = tmp_path / "art"
    path.write_bytes(data)
    assert completeness_of(path).finished


@pytest.mark.parametrize(
    "data",
    [
        HEIC + box(b"mdat"),
        HEIC + box(b"meta"),
        HEIC + box(b"meta") + box(b"mdat") + struct.pack(">I4s", 7, b"free"),
        JXL + struct.pack(">I4s", 7, b"jxlc"),
    ],
    ids=["no description", "no pixels", "box of 7 bytes", "jxl of 7 bytes"],
)
def test_boxes_that_are_missing_or_make_no_sense(data, tmp_path):
    path = tmp_path / "art"
    path.write_bytes(data)
    answer = completeness_of(path)
    assert not answer.finished and answer.hard


PAD = b"\x07" * 65_536


@pytest.mark.parametrize(
    ("data", "finished"),
    [
        (b"%PDF-1.7\n%%EOF", True),
        (b"%PDF-1.7\nstartxref\n12\n", True),
        (b"%PDF-1.7\n", False),
        # The mark is sought in the last 64 KiB and before zeros that fill a block up.
        (b"%PDF-1.7\n%%EOF" + PAD[:-5], True),
        (b"%PDF-1.7\n%%EOF" + PAD, False),
        (b"%PDF-1.7\n%" + PAD + b"%%EOF" + bytes(9000), True),
        # A file for the web says its length; so much or more of it is there.
        (b"%PDF-1.7\n1 0 obj<</Linearized 1/L 60/H 1>>endobj\n%%EOF" + b"\n" * 10, True),
        (b"%PDF-1.7\n1 0 obj<</Linearized 1/L 99/H 1>>endobj\n%%EOF" + b"\n" * 10, False),
        (b"<svg xmlns='x'><g/></svg>", True),
        (b"<svg xmlns='x'><g/></svg >\n", True),
        (b"<a:svg xmlns:a='x'></a:svg>", True),
        (b"<svg xmlns='x' width='1'/>\n", True),
        (b"<svg xmlns='x'><g/></sv", False),
        (b"<svg xmlns='x'><svg/><g>", False),
        (b"<svg xmlns='x'></svg>" + b" " * 65_530, True),
        (b"<svg xmlns='x'></svg>" + b" " * 65_536, False),
        (gzip.compress(b"<svg xmlns='x'><g/></svg>", mtime=0), True),
        (gzip.compress(b"<svg xmlns='x'><g/>", mtime=0), False),
        (gzip.compress(b"<svg xmlns='x'><g/></svg>", mtime=0)[:-1], False),
        (b"\xff\x4f\xff\x51" + PAD + b"\xff\xd9", True),
        (b"\xff\x4f\xff\x51" + PAD + b"\xff\xd9" + bytes(9000), True),
        (b"\xff\x4f\xff\x51" + PAD, False),
        (b"\xff\x4f\xff\x51\xff\xd9" + PAD[:-2], True),
        (b"\xff\x4f\xff\x51\xff\xd9" + PAD, False),
        (b"\x89PNG\r\n\x1a\n" + PAD + b"IEND\xae\x42\x60\x82" + PAD, True),
        (b"\x89PNG\r\n\x1a\n" + PAD + b"IEND", False),
    ],
)  # fmt: skip
def test_end_marks(data, finished, tmp_path):
    path = tmp_path / "art"
    path.write_bytes(data)
    answer = completeness_of(path)
    assert answer.finished is finished
    assert answer.hard is not finished


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        (FileType.BMP, bmp(3, 2, 24)[:37]),
        (FileType.BMP, bmp(3, 2, 24)[:25]),
        (FileType.BMP, bmp(3, 2, 24)[:54]),
        (FileType.ICO, struct.pack("<HHH", 0, 1, 2) + bytes(16)),
        (FileType.NETPBM, b"P5\n9 3\n"),
        (FileType.NETPBM, b"P5\n9 3\n0\n" + PAD),
        (FileType.NETPBM, b"P5\n9 3\n65536\n" + PAD),
        (FileType.NETPBM, b"P7\nWIDTH 9\nHEIGHT 3\nDEPTH 5\nMAXVAL 255\nENDHDR\n" + PAD),
        (FileType.NETPBM, b"P7\nWIDTH 9\nHEIGHT 3\nDEPTH 4\nMAXVAL 255\n" + PAD),
        (FileType.JPEG, b"\xff\xd8\xff\xe0\x00\x10JFIF"),
    ],
)
def test_a_head_that_breaks_off_or_makes_no_sense_is_no_end(kind, data, tmp_path):
    assert sniff(data) is kind
    path = tmp_path / "art"
    path.write_bytes(data)
    answer = completeness_of(path)
    assert not answer.finished and answer.hard


@pytest.mark.parametrize(("zeros", "finished"), [(4095, True), (4096, False)])
def test_a_page_of_zeros_at_the_end_is_a_doubt(zeros, finished, tmp_path):
    """4096 bytes are what file systems write at once; without a source."""
    path = tmp_path / "art"
    path.write_bytes(bmp(100, 200, 8) + b"\x07" * (20_000 - zeros) + bytes(zeros))
    answer = completeness_of(path)
    assert (answer.finished, answer.hard) == (finished, False)


@pytest.mark.parametrize(("zeros", "hard"), [(10_000, False), (10_027, True), (20_000, False)])
def test_half_of_zeros_is_no_picture_unless_all_of_it_is(zeros, hard, tmp_path):
    """Of 20054 bytes 54 are the head."""
    path = tmp_path / "art"
    path.write_bytes(bmp(100, 200, 8) + b"\x07" * (20_000 - zeros) + bytes(zeros))
    answer = completeness_of(path)
    assert (answer.finished, answer.hard) == (False, hard)


def test_the_same_of_netpbm(tmp_path):
    path = tmp_path / "art"
    for ink, hard in ((0, False), (1, True)):
        path.write_bytes(b"P5\n100 200\n255\n" + b"\x07" * ink + bytes(20_000 - ink))
        answer = completeness_of(path)
        assert (answer.finished, answer.hard) == (False, hard)

from __future__ import annotations

import gzip

import pytest

from filmhand.art.files.file_types import READABLE, FileType, mismatch_note, refusal, sniff
from filmhand.errors import Reason

HEADS = {
    FileType.JPEG: b"\xff\xd8\xff\xe1\0\0Exif",
    FileType.PNG: b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
    FileType.TIFF: b"MM\0*\0\0\0\x08",
    FileType.WEBP: b"RIFF\0\0\0\0WEBPVP8 ",
    FileType.BMP: b"BM\x36\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0",
    FileType.GIF: b"GIF89a\x01\0\x01\0",
    FileType.HEIC: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    FileType.AVIF: b"\0\0\0\x1cftypavif\0\0\0\0mif1avifmiaf",
    FileType.SVG: b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg">',
    FileType.PDF: b"junk before\n%PDF-1.7\n%\xe2\xe3",
    FileType.POSTSCRIPT: b"%!PS-Adobe-3.0 EPSF-3.0\n",
    FileType.RAW: b"II*\0\x10\0\0\0CR\x02\0",
    FileType.LAYERED: b"8BPS\0\x01",
    FileType.JPEG_2000: b"\0\0\0\x0cjP  \r\n\x87\n",
    FileType.JPEG_XL: b"\0\0\0\x0cJXL \r\n\x87\n",
    FileType.NETPBM: b"P6\n# by hand\n4 3\n255\n",
    FileType.TGA: bytes([0, 0, 10, 0, 0, 0, 0, 0, 0, 0, 0, 0, 9, 0, 7, 0, 24, 32]),
    FileType.PCX: bytes([10, 5, 1, 8, 0, 0, 0, 0, 9, 0, 7, 0, 72, 0, 72, 0, 0, 0]),
    FileType.ICO: b"\0\0\1\0\1\0\x20\x20",
    FileType.DDS: b"DDS \x7c\0\0\0",
    FileType.DIB: b"\x28\0\0\0\x09\0\0\0\x07\0\0\0\1\0\x18\0\0\0",
    FileType.OTHER_PICTURE: b"\x76\x2f\x31\x01\x02",
    FileType.OFFICE: b"PK\x03\x04\x14\0\x06\0[Content_Types].xml word/document.xml",
    FileType.ARCHIVE: b"PK\x03\x04\x14\0\0\0logo.png",
    FileType.VIDEO: b"\0\0\0\x20ftypisom\0\0\x02\0isomiso2avc1mp41",
    FileType.SOUND: b"ID3\x04\0",
    FileType.TEXT: b"Dear shop,\r\nplease print the attached.\r\n",
    FileType.EMPTY: b"",
    FileType.UNKNOWN: b"\x13\x00\xf3\x9a\x01",
}


def test_every_kind_has_an_example() -> None:
    assert set(HEADS) == set(FileType)


@pytest.mark.parametrize("kind", FileType)
def test_sniff_goes_by_content(kind: FileType) -> None:
    assert sniff(HEADS[kind]) is kind


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"\xff\x4f\xff\x51\0\x2f", FileType.JPEG_2000),
        (b"\xff\x0a\xc8\x32", FileType.JPEG_XL),
        (
            gzip.compress(b"<svg xmlns='http://www.w3.org/2000/svg'/>" * 400, mtime=0)[:90],
            FileType.SVG,
        ),
        (gzip.compress(b"a letter to the shop", mtime=0), FileType.ARCHIVE),
        (b"\x1f\x8b\x08\0broken from here on", FileType.ARCHIVE),
        (b"P4 9 7\n", FileType.NETPBM),
        (b"P7\nWIDTH 4\n", FileType.NETPBM),
        (b"Pf\n4 3\n-1.0\n", FileType.NETPBM),
        (b"P1 and P2 are the parts", FileType.TEXT),
        (b"\0\0\2\0\1\0\x20\x20", FileType.ICO),
        (b"8BPB\0\2", FileType.LAYERED),
        (b"#define logo_width 16\n#define logo_height 7\nstatic char", FileType.OTHER_PICTURE),
        (bytes([0, 1, 1, 0, 0, 0, 1, 24, 0, 0, 0, 0, 9, 0, 7, 0, 8, 0]), FileType.TGA),
        (bytes([0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 9, 0, 7, 0, 24, 32]), FileType.TGA),
        (bytes([0, 0, 3, 0, 0, 0, 0, 0, 0, 0, 0, 0, 9, 0, 7, 0, 8, 32]), FileType.TGA),
    ],
)
def test_other_beginnings_of_a_kind(head: bytes, kind: FileType) -> None:
    assert sniff(head) is kind


TGA = HEADS[FileType.TGA]


@pytest.mark.parametrize(
    ("at", "value"), [(1, 1), (2, 4), (2, 0), (3, 1), (7, 24), (12, 0), (14, 0), (16, 9), (17, 192)]
)
def test_fields_that_do_not_fit_one_another_make_no_tga(at: int, value: int) -> None:
    assert sniff(TGA[:at] + bytes([value]) + TGA[at + 1 :]) is FileType.UNKNOWN


@pytest.mark.parametrize("head", [b"BMW is a car, not a picture", "BM…".encode(), b"BM"])
def test_letters_that_begin_like_a_bitmap_are_no_bitmap(head: bytes) -> None:
    assert sniff(head) is not FileType.BMP


@pytest.mark.parametrize("kind", sorted(set(FileType) - READABLE))
def test_every_refusal_names_the_file_and_says_what_to_do(kind: FileType) -> None:
    refused = refusal(kind, name="logo.xyz")
    assert refused.reason is (Reason.DAMAGED if kind is FileType.EMPTY else Reason.NOT_ART)
    assert "logo.xyz" in refused.say and refused.say.endswith(".")
    assert refused.do.endswith(".") and len(refused.do) > 20


@pytest.mark.parametrize(
    "kind", [FileType.ARCHIVE, FileType.TEXT, FileType.VIDEO, FileType.POSTSCRIPT]
)
def test_what_no_extra_opens_names_none(kind: FileType) -> None:
    assert "filmhand[" not in refusal(kind, name="a").do


def test_text_named_like_a_picture_is_called_so() -> None:
    assert "named like a picture" in refusal(FileType.TEXT, name="logo.png").say
    assert "named like a picture" not in refusal(FileType.TEXT, name="logo.txt").say


def test_readable_kinds_have_no_refusal() -> None:
    with pytest.raises(ValueError, match="needs no refusal"):
        refusal(FileType.PNG, name="a.png")


def test_mismatch_is_noted_only_where_there_is_one() -> None:
    assert mismatch_note(FileType.JPEG, name="a.JPG") is None
    assert mismatch_note(FileType.JPEG, name="no suffix") is None
    note = mismatch_note(FileType.PNG, name="poster.jpg")
    assert note and ".jpg" in note and "PNG" in note

from __future__ import annotations

import pytest

from filmhand.art.kinds import READABLE, Kind, mismatch_note, refusal, sniff
from filmhand.errors import Reason

HEADS = {
    Kind.JPEG: b"\xff\xd8\xff\xe1\0\0Exif",
    Kind.PNG: b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
    Kind.TIFF: b"MM\0*\0\0\0\x08",
    Kind.WEBP: b"RIFF\0\0\0\0WEBPVP8 ",
    Kind.BMP: b"BM\x36\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0",
    Kind.GIF: b"GIF89a\x01\0\x01\0",
    Kind.HEIC: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    Kind.AVIF: b"\0\0\0\x1cftypavif\0\0\0\0mif1avifmiaf",
    Kind.SVG: b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg">',
    Kind.PDF: b"junk before\n%PDF-1.7\n%\xe2\xe3",
    Kind.POSTSCRIPT: b"%!PS-Adobe-3.0 EPSF-3.0\n",
    Kind.RAW: b"II*\0\x10\0\0\0CR\x02\0",
    Kind.LAYERED: b"8BPS\0\x01",
    Kind.OTHER_PICTURE: b"\0\0\0\x0cjP  \r\n\x87\n",
    Kind.OFFICE: b"PK\x03\x04\x14\0\x06\0[Content_Types].xml word/document.xml",
    Kind.ARCHIVE: b"PK\x03\x04\x14\0\0\0logo.png",
    Kind.VIDEO: b"\0\0\0\x20ftypisom\0\0\x02\0isomiso2avc1mp41",
    Kind.SOUND: b"ID3\x04\0",
    Kind.TEXT: b"Dear shop,\r\nplease print the attached.\r\n",
    Kind.EMPTY: b"",
    Kind.UNKNOWN: b"\x13\x00\xf3\x9a\x01",
}


def test_every_kind_has_an_example() -> None:
    assert set(HEADS) == set(Kind)


@pytest.mark.parametrize("kind", Kind)
def test_sniff_goes_by_content(kind: Kind) -> None:
    assert sniff(HEADS[kind]) is kind


@pytest.mark.parametrize("head", [b"BMW is a car, not a picture", "BM…".encode(), b"BM"])
def test_letters_that_begin_like_a_bitmap_are_no_bitmap(head: bytes) -> None:
    assert sniff(head) is not Kind.BMP


@pytest.mark.parametrize("kind", sorted(set(Kind) - READABLE))
def test_every_refusal_names_the_file_and_says_what_to_do(kind: Kind) -> None:
    refused = refusal(kind, name="logo.xyz")
    assert refused.reason is (Reason.DAMAGED if kind is Kind.EMPTY else Reason.NOT_ART)
    assert "logo.xyz" in refused.say and refused.say.endswith(".")
    assert refused.do.endswith(".") and len(refused.do) > 20


@pytest.mark.parametrize("kind", [Kind.ARCHIVE, Kind.TEXT, Kind.VIDEO, Kind.POSTSCRIPT])
def test_what_no_extra_opens_names_none(kind: Kind) -> None:
    assert "filmhand[" not in refusal(kind, name="a").do


def test_text_named_like_a_picture_is_called_so() -> None:
    assert "named like a picture" in refusal(Kind.TEXT, name="logo.png").say
    assert "named like a picture" not in refusal(Kind.TEXT, name="logo.txt").say


def test_readable_kinds_have_no_refusal() -> None:
    with pytest.raises(ValueError, match="needs no refusal"):
        refusal(Kind.PNG, name="a.png")


def test_mismatch_is_noted_only_where_there_is_one() -> None:
    assert mismatch_note(Kind.JPEG, name="a.JPG") is None
    assert mismatch_note(Kind.JPEG, name="no suffix") is None
    note = mismatch_note(Kind.PNG, name="poster.jpg")
    assert note and ".jpg" in note and "PNG" in note

"""Odd files that people do have: animations that break off, junk, two kinds in one, heads that lie.

What the common decoders read is read; what is broken is said, with the right one of three
sentences: no picture, a picture that is not read here, a broken picture.
"""

from __future__ import annotations

import struct
import sys
import zipfile
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand.art.files.completeness import completeness_of
from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused

sys.path.insert(0, str(Path(__file__).parents[1] / "fuzz"))
from sound_files import png_chunk, sound

LIMITS: Any = SimpleNamespace(megapixels=100.0, megabytes=512.0, pages=50, memory=2**31)


def read(path: Path, data: bytes) -> Art:
    path.write_bytes(data)
    channel: Any = "luminance"
    return open_art(path, name=path.name, limits=LIMITS, channel=channel)


def refused(path: Path, data: bytes) -> Refused:
    with pytest.raises(Refused) as caught:
        read(path, data)
    assert caught.value.say.endswith(".") and caught.value.do.endswith(".")
    return caught.value


def frames(count: int) -> list[Image.Image]:
    rng = np.random.default_rng(3)
    noise = rng.integers(0, 255, (count, 60, 80, 3), np.uint8)
    return [Image.fromarray(one) for one in noise]


def animation(kind: str, count: int = 4, **more: Any) -> bytes:
    first, *rest = frames(count)
    buffer = BytesIO()
    first.save(buffer, kind, save_all=True, append_images=rest, duration=40, **more)
    return buffer.getvalue()


@pytest.mark.parametrize(("kind", "more"), [("GIF", {}), ("WEBP", {"lossless": True})])
@pytest.mark.parametrize("left", [0.3, 0.5, 0.7, 0.9, 0.99])
def test_of_an_animation_that_breaks_off_the_first_frame_is_used(
    tmp_path: Path, kind: str, more: dict[str, Any], left: float
) -> None:
    data = animation(kind, **more)
    whole = read(tmp_path / "whole", data)
    path = tmp_path / "a"
    art = read(path, data[: int(len(data) * left)])
    assert np.array_equal(art.coded, whole.coded)
    (told,) = [note for note in art.notes if "first frame" in note]  # once
    assert "breaks off" in told
    finish = completeness_of(path)  # it may still be arriving
    assert not finish.finished and not finish.hard


@pytest.mark.parametrize(("kind", "more"), [("GIF", {}), ("WEBP", {"lossless": True})])
@pytest.mark.parametrize("left", [0.02, 0.1, 0.2])
def test_an_animation_without_a_whole_frame_is_damaged(
    tmp_path: Path, kind: str, more: dict[str, Any], left: float
) -> None:
    data = animation(kind, **more)
    assert refused(tmp_path / "a", data[: int(len(data) * left)]).reason is Reason.DAMAGED
    assert completeness_of(tmp_path / "a").hard


def test_frames_of_a_png_that_contradict_themselves_do_not_matter(tmp_path: Path) -> None:
    """Common decoders show the first picture of such files, and pass over what they do not know."""
    data = animation("PNG")
    first = BytesIO()
    frames(1)[0].save(first, "PNG")
    plain = read(tmp_path / "plain.png", first.getvalue())
    at = data.index(b"acTL") - 4
    for spoiled in (
        data,
        data[:at] + png_chunk(b"acTL", bytes(8)) + data[at + 20 :],  # no frames
        data[:at] + data[at + 20 :],  # frames without an announcement
    ):
        art = read(tmp_path / "a.png", spoiled)
        assert np.array_equal(art.coded, plain.coded)
        assert any("only its first frame" in note for note in art.notes)


def test_icons_for_a_pointer_are_read(tmp_path: Path) -> None:
    data = bytearray(sound("ICO", "bitmap"))
    data[2] = 2
    data[10:14] = struct.pack("<HH", 3, 5)  # the hot spot, in place of planes and bits
    art = read(tmp_path / "a.cur", bytes(data))
    assert np.array_equal(art.coded, read(tmp_path / "a.ico", sound("ICO", "bitmap")).coded)


def test_what_a_decoder_knows_but_does_not_support_is_not_called_damaged(tmp_path: Path) -> None:
    for at, value in ((28, 2), (30, 6)):  # two bits a pixel; masks with opacity
        data = bytearray(sound("BMP", "masks"))
        data[at] = value
        fault = refused(tmp_path / "a.bmp", bytes(data))
        assert fault.reason is Reason.NOT_ART and "not read here" in fault.say


def test_a_strip_that_counts_too_much_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    data = bytearray(sound("TIFF", "other byte order"))
    whole = read(tmp_path / "whole", bytes(data))
    at = data.index(struct.pack(">HH", 279, 4), 4)
    struct.pack_into(">I", data, at + 8, 40_000_000)
    assert np.array_equal(read(tmp_path / "a.tif", bytes(data)).coded, whole.coded)


def test_ten_thousand_frames_are_one_picture(tmp_path: Path) -> None:
    one = BytesIO()
    Image.new("P", (40, 30), 0).save(one, "GIF")
    data = one.getvalue()
    start = data.index(b"\x2c\0\0\0\0")
    frame = b"\x21\xf9\x04\0\1\0\0\0" + data[start:-1]
    art = read(tmp_path / "a.gif", data[:-1] + frame * 10_000 + b";")
    assert art.coded.shape == (30, 40) and any("only its first frame" in n for n in art.notes)


def segments(data: bytes) -> list[int]:
    """Where the segments of a JPEG begin, the first scan's with them."""
    at, places = 2, []
    while True:
        places.append(at)
        if data[at + 1] == 0xDA:
            return places
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")


@pytest.mark.parametrize("junk", [b"\0", b"\0" * 9, b"stray bytes", b"\xff\xff\xff", b"\xff\0\x12"])
def test_stray_bytes_before_any_marker_of_a_jpeg_are_passed_over(
    tmp_path: Path, junk: bytes
) -> None:
    data = sound("JPEG", "restarts")
    whole = read(tmp_path / "whole", data).coded
    for at in segments(data)[1:]:  # with the second marker on; the first is part of the beginning
        art = read(tmp_path / "a.jpg", data[:at] + junk + data[at:])
        assert np.array_equal(art.coded, whole), at


@pytest.mark.parametrize(
    ("kind", "form"),
    [("JPEG", "plain"), ("PNG", "color"), ("GIF", "plain"), ("GIF", "moving"), ("TIFF", "plain"),
     ("BMP", "color"), ("WEBP", "lossy"), ("TGA", "plain"), ("Netpbm", "P6"), ("DIB", "color"),
     ("layered", "plain"), ("JPEG XL", "lossless"), ("JPEG 2000", "boxes"), ("PCX", "color"),
     ("DDS", "plain"), ("ICO", "png")],
)  # fmt: skip
@pytest.mark.parametrize("junk", [b"\r\n", b"appended by a mail program" * 40, bytes(300)])
def test_junk_behind_the_end_does_no_harm(
    tmp_path: Path, kind: str, form: str, junk: bytes
) -> None:
    data = sound(kind, form)
    whole = read(tmp_path / "whole", data)
    art = read(tmp_path / "art", data + junk)
    assert np.array_equal(art.coded, whole.coded)
    assert completeness_of(tmp_path / "art").finished


def zipped() -> bytes:
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("other.txt", "another file")
    return buffer.getvalue()


def test_two_kinds_in_one_are_what_they_begin_with(tmp_path: Path) -> None:
    pdf, jpeg, png, gif = (
        sound(*one) for one in (("PDF", "page"), ("JPEG", "plain"), ("PNG", "color"),
                                ("GIF", "plain"))
    )  # fmt: skip
    said = b"\xff\xfe" + struct.pack(">H", 2 + len(pdf)) + pdf  # a comment
    for data, kind in (
        (jpeg[:2] + said + jpeg[2:], "JPEG"),
        (jpeg + zipped(), "JPEG"),
        (jpeg + pdf, "JPEG"),
        (png + pdf, "PNG"),
        (gif + jpeg, "GIF"),
        (pdf + png, "PDF"),
        (b"a few words\n" + pdf, "PDF"),
    ):
        assert read(tmp_path / "art", data).format == kind


HEADS = [("PNG", "color", 33), ("JPEG", "plain", 20), ("GIF", "plain", 13), ("TIFF", "plain", 8),
         ("BMP", "color", 54), ("WEBP", "lossy", 12), ("layered", "plain", 26),
         ("JPEG 2000", "boxes", 85), ("JPEG XL", "lossless", 6), ("DDS", "plain", 128),
         ("ICO", "png", 22), ("PCX", "color", 128)]  # fmt: skip


@pytest.mark.parametrize(("kind", "form", "length"), HEADS)
@pytest.mark.parametrize("body", [("JPEG", "plain"), ("PNG", "color"), ("SVG", "shapes")])
def test_a_valid_head_with_anothers_body_is_a_film_or_damaged(
    tmp_path: Path, kind: str, form: str, length: int, body: tuple[str, str]
) -> None:
    data = sound(kind, form)[:length] + sound(*body)
    try:
        art = read(tmp_path / "art", data)
    except Refused as fault:
        assert fault.reason in (Reason.DAMAGED, Reason.NOT_ART, Reason.TOO_BIG)
    else:  # plain or block pixels may be anything, and an icon may hold a PNG
        assert kind in ("DDS", "BMP", "PCX") or (kind, body[0]) == ("ICO", "PNG")
        assert art.coded.size


@pytest.mark.parametrize(
    ("kind", "form", "at", "layout"),
    [("TGA", "plain", 12, "<HH"), ("TGA", "runs", 12, "<HH"), ("DIB", "color", 4, "<ii"),
     ("PCX", "color", 8, "<HH"), ("DDS", "plain", 12, "<II"), ("Netpbm", "P4", 0, "")],
)  # fmt: skip
def test_sizes_that_disagree_with_the_data(
    tmp_path: Path, kind: str, form: str, at: int, layout: str
) -> None:
    data = bytearray(sound(kind, form))
    for side, reasons in ((200, {Reason.DAMAGED}), (30_000, {Reason.DAMAGED, Reason.TOO_BIG})):
        if layout:
            struct.pack_into(layout, data, at, side, side)
            lying = bytes(data)
        else:
            lying = sound(kind, form).replace(b"72 56", b"%d %d" % (side, side))
        assert refused(tmp_path / "art", lying).reason in reasons


def test_pictures_that_promise_too_many_pixels_are_told_so(tmp_path: Path) -> None:
    """Before anything is decoded, in all kinds that say it at their beginning."""
    xl = bytearray(sound("JPEG XL", "lossless"))
    # Not small; 30 bits each for height - 1 and width - 1 = 2**20; no ratio.
    bits = 0 | 0b11 << 1 | (1 << 20) << 3 | 0 << 33 | 0b11 << 36 | (1 << 20) << 38
    xl[2:] = bits.to_bytes(12, "little") + bytes(xl[8:])
    k = bytearray(sound("JPEG 2000", "16 bits"))
    at = k.index(b"\xff\x4f\xff\x51")
    struct.pack_into(">II", k, at + 8, 1 << 20, 1 << 20)
    for data in (
        bytes(xl),
        bytes(k),
        b"P4 70000 70000\n" + bytes(70_000 * 70_000 // 8 // 1000),
        b"8BPS" + struct.pack(">H6xHIIHH", 2, 3, 100_000, 100_000, 8, 3) + bytes(16) + b"\0\0",
    ):
        fault = refused(tmp_path / "art", data)
        assert fault.reason in (Reason.TOO_BIG, Reason.DAMAGED)
    assert refused(tmp_path / "art", bytes(xl)).reason is Reason.TOO_BIG
    assert refused(tmp_path / "art", bytes(k)).reason is Reason.TOO_BIG


def test_the_three_sentences_are_never_mixed(tmp_path: Path) -> None:
    no_picture = refused(tmp_path / "letter.png", b"Dear shop, this is a letter.\n" * 9)
    not_read = refused(tmp_path / "light.exr", b"\x76\x2f\x31\x01" + b"\2" * 900)
    broken = refused(tmp_path / "poster.png", sound("PNG", "color")[:2000])
    assert no_picture.reason is not_read.reason is Reason.NOT_ART
    assert "is text" in no_picture.say and "save" not in no_picture.do.lower()
    assert "not read here" in not_read.say and "PNG" in not_read.do
    assert broken.reason is Reason.DAMAGED and "is damaged" in broken.say
    postscript = refused(tmp_path / "logo.eps", b"%!PS-Adobe-3.0 EPSF-3.0\nshowpage\n")
    assert postscript.reason is Reason.NOT_ART and "Save it as PDF" in postscript.do

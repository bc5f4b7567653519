"""Parts of JPEG, PNG, GIF, WebP and Netpbm files, from bytes that were put together by hand."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from filmhand.art.analysis.ground_color import can_be_paper, ground_color
from filmhand.art.analysis.likeness import GoneShape, _correlation
from filmhand.art.formats import animations, jpeg_markers, netpbm, png_chunks
from filmhand.art.formats.netpbm_pixels import read_netpbm


def segment(marker, data=b""):
    return bytes([0xFF, marker]) + struct.pack(">H", len(data) + 2) + data


def frame(marker=0xC0, *, bits=8, width=640, height=480, factors=(0x22, 0x11, 0x11)):
    parts = b"".join(bytes([n + 1, factor, 0]) for n, factor in enumerate(factors))
    fields = struct.pack(">BHHB", bits, height, width, len(factors))
    return segment(marker, fields + parts)


SCAN = segment(0xDA, b"\x01\x01\x00\x00\x3f\x00")


def jpeg(*parts):
    return b"\xff\xd8" + b"".join(parts)


def markers(data):
    return list(jpeg_markers.segments(BytesIO(data), len(data)))


def test_segments_are_followed_to_the_first_scan():
    data = jpeg(segment(0xE0, b"JFIF\0"), frame(), SCAN, b"\x12\xff\x00\xff\xd9")
    assert [marker for marker, _ in markers(data)] == [0xE0, 0xC0, 0xDA]
    assert markers(data)[1] == (0xC0, 11)
    # A thumbnail within a segment is no part of the picture.
    hidden = jpeg(segment(0xE1, jpeg(SCAN)), SCAN)
    assert jpeg_markers.start_of_scan(BytesIO(hidden), len(hidden)) == 2 + 16
    # Marks without a length, fill bytes, zeros and strays are passed over.
    odd = jpeg(
        b"\xff\x01", b"\xff\xd3", b"\xff\xff\xff", segment(0xDB, b"x")[1:], b"\x07\xff\x00", SCAN
    )
    assert [marker for marker, _ in markers(odd)] == [0x01, 0xD3, 0xDB, 0xDA]
    ended = jpeg(segment(0xFE, b"note"), b"\xff\xd9\0\0", SCAN)
    assert [marker for marker, _ in markers(ended)] == [0xFE, 0xD9]
    assert markers(jpeg()) == [] and markers(jpeg(b"\xff\xda\0")) == []


@pytest.mark.parametrize("marker", range(0xC0, 0xD0))
def test_frames_of_every_sort(marker):
    data = jpeg(frame(marker, bits=12 if marker == 0xC1 else 8), SCAN)
    found = jpeg_markers.frame_of(BytesIO(data), len(data))
    if marker in (0xC4, 0xC8, 0xCC):  # tables
        assert found is None
        return
    assert (found.marker, found.width, found.height, found.channels) == (marker, 640, 480, 3)
    assert found.blocks == (4, 1, 1)
    # ITU-T T.81, table B.1: baseline, extended and progressive, by Huffman or arithmetic codes.
    assert found.is_usual == (marker in (0xC0, 0xC2, 0xC9, 0xCA))
    # Six blocks of coefficients for four of pixels, two bytes each, are kept between scans.
    assert found.kept_bytes == (3.0 if marker in (0xC2, 0xCA) else 0.0)


def test_other_frames():
    lossless = jpeg(frame(0xF7), SCAN)
    assert jpeg_markers.frame_of(BytesIO(lossless), len(lossless)).marker == 0xF7
    late = jpeg(SCAN, frame())
    assert jpeg_markers.frame_of(BytesIO(late), len(late)) is None
    cut = jpeg(frame())[:9]
    assert jpeg_markers.frame_of(BytesIO(cut), len(cut)) is None
    gray = jpeg(frame(0xC2, factors=(0x11,)), SCAN)
    assert jpeg_markers.frame_of(BytesIO(gray), len(gray)).kept_bytes == 2.0
    # No factor may be 0 (ITU-T T.81, B.2.2), but a broken file says so, and its decoder tells.
    none = jpeg(frame(0xC2, factors=(0, 0, 0)), SCAN)
    assert jpeg_markers.frame_of(BytesIO(none), len(none)).kept_bytes == 0.0


def chunk(name, data=b"", *, right=True):
    total = zlib.crc32(name + data) ^ (not right)
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", total)


START = b"\x89PNG\r\n\x1a\n"
ROWS = bytes(range(200)) * 5
PACKED = zlib.compress(ROWS)


def png(*chunks):
    data = START + b"".join(chunks)
    return BytesIO(data), list(png_chunks.png_chunks(BytesIO(data), len(data)))


def test_chunks_with_their_places_and_sums():
    head, text, end = chunk(b"IHDR", bytes(13)), chunk(b"tEXt", b"a", right=False), chunk(b"IEND")
    file, found = png(head, text, chunk(b"IDAT", PACKED), end, b"behind it")
    assert [one.name for one in found] == [b"IHDR", b"tEXt", b"IDAT", b"IEND"]
    assert [one.is_right for one in found] == [True, False, True, True]
    assert [one.is_needed for one in found] == [True, False, True, True]
    assert [one.at for one in found[:3]] == [8, 33, 46] and found[0].end == 33
    assert found[1].length == 1
    assert not png_chunks.is_moving(found)
    # The broken note is left out, and frames are.
    still = png_chunks.still_and_sound(file, found)
    assert still == START + head + chunk(b"IDAT", PACKED) + end
    file, moving = png(head, chunk(b"acTL", bytes(8)), chunk(b"IDAT", PACKED), chunk(b"fdAT"), end)
    assert png_chunks.is_moving(moving)
    assert png_chunks.still_and_sound(file, moving) == still
    # A broken chunk that the pixels need stays.
    file, broken = png(head, chunk(b"IDAT", PACKED, right=False), end)
    assert b"IDAT" in png_chunks.still_and_sound(file, broken)
    whole = START + head + end
    for stop in range(len(whole)):
        names = [one.name for one in png_chunks.png_chunks(BytesIO(whole[:stop]), stop)]
        assert names == ([b"IHDR"] if stop >= 33 else [])


def test_a_picture_has_a_sum_of_its_own():
    for parts in ((PACKED,), (PACKED[:9], PACKED[9:]), (PACKED[:9], b"", PACKED[9:])):
        assert png_chunks.is_picture_right(*png(*(chunk(b"IDAT", part) for part in parts)))
    assert not png_chunks.is_picture_right(*png(chunk(b"IDAT", PACKED[:-1])))
    wrong = PACKED[:-1] + bytes([PACKED[-1] ^ 1])
    assert not png_chunks.is_picture_right(*png(chunk(b"IDAT", wrong)))
    assert not png_chunks.is_picture_right(*png(chunk(b"IEND")))


def test_whole_rows_before_the_first_wrong_part():
    stored = zlib.compress(ROWS, 0)  # so that so many bytes in are so many bytes out
    head = len(stored) - len(ROWS) - 4  # of zlib and of its one block, before the sum
    first, second = stored[: head + 450], stored[head + 450 :]
    parts = chunk(b"IDAT", first), chunk(b"IDAT", second, right=False)
    assert png_chunks.rows_before_damage(*png(*parts), row_bytes=200) == 2
    assert png_chunks.rows_before_damage(*png(*parts), row_bytes=150) == 3
    early = chunk(b"IDAT", first, right=False), chunk(b"IDAT", second)
    assert png_chunks.rows_before_damage(*png(*early), row_bytes=200) == 0
    sound = chunk(b"IDAT", first), chunk(b"IDAT", second)
    assert png_chunks.rows_before_damage(*png(*sound), row_bytes=200) is None


def gif(*blocks, table=0):
    flags = 0x80 | table if table else 0
    return b"GIF89a" + struct.pack("<HHBBB", 9, 7, flags, 0, 0) + bytes(3 << table + 1) * bool(
        table
    ) + b"".join(blocks)  # fmt: skip


IMAGE = b"\x2c" + bytes(8) + b"\0" + b"\x02\x03abc\x02de\0"
LOCAL = b"\x2c" + bytes(8) + b"\x81" + bytes(12) + b"\x02\x01a\0"
CONTROL = b"\x21\xf9\x04" + bytes(4) + b"\0"


@pytest.mark.parametrize(
    ("data", "whole", "ended"),
    [
        (gif(IMAGE, b"\x3b"), 1, True),
        (gif(CONTROL, IMAGE, CONTROL, LOCAL, b"\x3b", table=3), 2, True),
        (gif(IMAGE, IMAGE), 2, False),
        (gif(IMAGE, IMAGE[:-4]), 1, False),
        (gif(IMAGE, IMAGE[:6]), 1, False),
        (gif(IMAGE, CONTROL[:3]), 1, False),
        (gif(IMAGE, b"\0\0\0"), 0, False),  # its last block may be the first zero of a hole
        (gif(b"\x3b"), 0, True),
        (gif()[:12], 0, False),
    ],
)
def test_frames_of_a_gif_that_are_there(data, whole, ended):
    found = animations.gif_frames(BytesIO(data), len(data))
    assert (found.whole, found.ended) == (whole, ended)


def riff(*chunks, more=0):
    body = b"WEBP" + b"".join(
        name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)
        for name, data in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body) + more) + body


def test_frames_of_a_webp_that_are_there():
    first, second = (b"ANMF", b"abc"), (b"ANMF", b"defgh")
    data = riff((b"VP8X", bytes(10)), first, second)
    found, behind = animations.webp_frames(BytesIO(data), len(data))
    assert (found.whole, found.ended, behind) == (2, True, len(data))
    # Cut within the second: the first ends at 12 + 18 + 12.
    cut = data[:-3]
    found, behind = animations.webp_frames(BytesIO(cut), len(cut))
    assert (found.whole, found.ended, behind) == (1, False, 42)
    still = animations.webp_first_frames(BytesIO(cut), behind)
    assert still == riff((b"VP8X", bytes(10)), first)
    # The byte that fills a frame up may be missing.
    odd = riff((b"VP8X", bytes(10)), first)[:-1]
    found, behind = animations.webp_frames(BytesIO(odd), len(odd))
    assert (found.whole, behind) == (1, len(odd))


@pytest.mark.parametrize(
    ("head", "wanted"),
    [
        (b"P1 3 2 ", ("1", 3, 2, 1, 1, 7)),
        (b"P4\n9 2\n", ("4", 9, 2, 1, 1, 7)),
        (b"P2\n# x\n3 2\n# y\n200\n", ("2", 3, 2, 1, 200, 19)),
        (b"P6 3 2 65535\n", ("6", 3, 2, 3, 65_535, 13)),
        (b"PF\n3 2\n-1.0\n", ("F", 3, 2, 3, 1, 12)),
        (b"Pf\n3 2\n1e0\n", ("f", 3, 2, 1, 0, 11)),
        (b"P7\nWIDTH 3\nHEIGHT 2\nDEPTH 2\nMAXVAL 9\nENDHDR\n", ("7", 3, 2, 2, 9, 44)),
    ],
)
def test_heads_of_netpbm(head, wanted):
    found = netpbm.netpbm_head(head)
    assert (found.kind, found.width, found.height, found.channels, found.most, found.at) == wanted


@pytest.mark.parametrize(
    ("data", "pixels"),
    [
        (b"P1\n3 2\n101\n0 1 0\n", [[0, 255, 0], [255, 0, 255]]),
        (b"P4\n9 2\n\xa0\x80\x00\x00", [[0, 255, 0] + [255] * 5 + [0], [255] * 9]),
        (b"P2\n3 1\n4\n0 # x\n1 4\n", [[0, 64, 255]]),
        (b"P5\n3 1\n255\n\x01\x02\x03", [[1, 2, 3]]),
        (b"P5\n2 1\n1000\n\x00\x01\x03\xe8", [[66, 65_535]]),
        (b"P5\n2 1\n65535\n\x00\x01\xff\xff", [[1, 65_535]]),
        (b"Pf\n1 2\n-1\n" + struct.pack("<2f", 0.25, 0.5), [[0.5], [0.25]]),
        (b"Pf\n1 2\n1\n" + struct.pack(">2f", 0.25, 0.5), [[0.5], [0.25]]),
    ],
)
def test_pixels_of_netpbm(data, pixels):
    found = read_netpbm(data)
    assert found.pixels[..., 0].tolist() == pixels


@pytest.mark.parametrize(
    "data",
    [
        b"P5\n3 1\n255\n\x01\x02",
        b"P2\n3 1\n4\n0 1\n",
        b"P2\n1 1\n4\n5\n",
        b"P5\n1 1\n9\n\x0a",
        b"P5\n3",
    ],
)
def test_netpbm_that_breaks_off_or_says_more_than_its_largest(data):
    with pytest.raises(ValueError, match=r"."):
        read_netpbm(data)


def test_the_ground_has_the_color_of_the_lighter_half():
    image = Image.new("RGB", (200, 100), (255, 0, 0))
    image.paste((0, 255, 0), (0, 0, 200, 60))
    # The green of sRGB is CIELAB 87.74, -86.18, 83.18 under D65.
    assert ground_color(image) == pytest.approx((-86.18, 83.18), abs=0.1)
    assert ground_color(Image.new("RGB", (5, 5), (128, 128, 128))) == pytest.approx(
        (0, 0), abs=0.02
    )
    assert ground_color(Image.new("L", (5, 5))) is None
    # What shows through lies on white.
    assert ground_color(Image.new("RGBA", (5, 5), (255, 0, 0, 0))) == pytest.approx(
        (0, 0), abs=0.02
    )


@pytest.mark.parametrize(
    ("color", "paper"),
    [
        (None, True),
        ((0, 0), True),
        ((0, 38), True),
        ((0, 38.1), False),
        ((27, 27), False),
        ((0, -14), True),
        ((0, -14.1), False),
        ((-20, 0), True),
        ((-20.1, 0), False),
    ],
)
def test_paper_is_nearly_neutral_or_warm(color, paper):
    assert can_be_paper(color) is paper


def test_shapes_that_are_lines_and_shapes_that_meet():
    line = GoneShape(10, 20, 30, 22, 100, 0.1)
    assert line.is_line(20) and not line.is_line(21)
    assert not GoneShape(10, 20, 30, 22, 101, 0.1).is_line(20)  # five cells wide
    assert GoneShape(20, 10, 22, 30, 100, 0.1).is_line(20)
    for left, top, meets in ((29, 21, True), (30, 21, False), (29, 22, False), (9, 20, True)):
        other = GoneShape(left, top, left + 2, top + 2, 1, 0.1)
        assert line.meets([other]) is other.meets([line]) is meets
    assert not line.meets([])


def test_correlation_is_pearsons_and_of_flats_one_or_nothing():
    chance = np.random.default_rng(1)
    one, other = (chance.uniform(0, 90, (30, 40)).astype(np.float32) for _ in range(2))
    mixed = one + other
    assert _correlation(one, mixed) == pytest.approx(np.corrcoef(one.ravel(), mixed.ravel())[0, 1])
    flat = np.full((30, 40), 5, np.float32)
    assert _correlation(flat, flat + 0.3 * (one > 45)) == 1
    assert _correlation(flat, one) == 0

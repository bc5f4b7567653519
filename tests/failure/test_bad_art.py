"""Bad art: whatever a stranger's file holds, the answer is a film or a refusal, nothing else."""

from __future__ import annotations

import struct
import zlib
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from filmhand.art.files.open_art import open_art
from filmhand.errors import Reason, Refused

LIMITS: Any = SimpleNamespace(megapixels=100.0, megabytes=512.0, pages=50, memory=2**31)
SAVES: dict[str, tuple[str, dict[str, Any]]] = {
    "jpeg": ("JPEG", {}),
    "jpeg, progressive, exif": ("JPEG", {"progressive": True, "dpi": (300, 300)}),
    "jpeg, inks": ("JPEG", {}),
    "png": ("PNG", {"dpi": (300, 300)}),
    "png, palette": ("PNG", {}),
    "gif": ("GIF", {}),
    "webp": ("WEBP", {}),
    "webp, lossless": ("WEBP", {"lossless": True}),
    "bmp": ("BMP", {}),
    "tiff": ("TIFF", {}),
    "tiff, lzw": ("TIFF", {"compression": "tiff_lzw"}),
    "tiff, deflate": ("TIFF", {"compression": "tiff_adobe_deflate"}),
    "tiff, jpeg": ("TIFF", {"compression": "jpeg"}),
    "tiff, 1 bit": ("TIFF", {"compression": "group4"}),
}


@lru_cache
def good(name: str) -> bytes:
    """A small sound file of every sort, with exif where it can have some."""
    rng = np.random.default_rng(9)
    y, x = np.mgrid[0:96, 0:128]
    rgb = np.stack([x * 2, y * 2, (x + y) % 256], axis=-1) + rng.integers(-8, 8, (96, 128, 3))
    image = Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))
    kind, extra = SAVES[name]
    mode = {"jpeg, inks": "CMYK", "png, palette": "P", "gif": "P", "tiff, 1 bit": "1"}.get(name)
    exif = Image.Exif()
    exif[274] = 6
    buffer = BytesIO()
    if kind in ("JPEG", "PNG", "WEBP"):
        extra = extra | {"exif": exif}
    (image.convert(mode) if mode else image).save(buffer, kind, **extra)
    return buffer.getvalue()


def outcome(path: Path, data: bytes) -> Reason | None:
    """The reason of the refusal, None for a film; any other exception is the test's failure."""
    path.write_bytes(data)
    channel: Any = "luminance"
    try:
        art = open_art(path, name=path.name, limits=LIMITS, channel=channel)
    except Refused as fault:
        assert fault.say.endswith(".") and fault.do.endswith(".")
        return fault.reason
    assert art.coded.size
    return None


@pytest.mark.parametrize("name", SAVES)
def test_the_sound_file_is_read(tmp_path: Path, name: str) -> None:
    assert outcome(tmp_path / "a", good(name)) is None


@pytest.mark.parametrize("name", SAVES)
def test_every_truncation_is_damaged(tmp_path: Path, name: str) -> None:
    data = good(name)
    for hundredth in range(100):
        cut = data[: len(data) * hundredth // 100]
        reason = outcome(tmp_path / "a", cut)
        # A few first bytes alone are not yet known for a picture.
        early = {Reason.DAMAGED, Reason.NOT_ART} if len(cut) < 40 else {Reason.DAMAGED}
        assert reason in early, f"{hundredth} % ({len(cut)} bytes)"


@pytest.mark.parametrize("name", SAVES)
def test_a_second_half_of_zeros_is_damaged(tmp_path: Path, name: str) -> None:
    data = good(name)
    data = data[: len(data) // 2] + bytes(len(data) - len(data) // 2)
    assert outcome(tmp_path / "a", data) is Reason.DAMAGED


@pytest.mark.parametrize("name", SAVES)
def test_a_hole_in_the_middle_is_a_film_or_damaged(tmp_path: Path, name: str) -> None:
    data = bytearray(good(name))
    third = len(data) // 3
    data[third : 2 * third] = bytes(third)
    assert outcome(tmp_path / "a", bytes(data)) in (None, Reason.DAMAGED)


@settings(
    max_examples=250,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    name=st.sampled_from(sorted(SAVES)),
    flips=st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 7), st.booleans()), min_size=1, max_size=12
    ),
)
def test_flipped_bits_give_a_film_or_a_refusal(
    tmp_path: Path, name: str, flips: list[tuple[float, int, bool]]
) -> None:
    data = bytearray(good(name))
    for where, bit, early in flips:
        # Half of the flips go to the headers, where they do the most.
        span = min(len(data), 400) if early else len(data)
        data[min(span - 1, int(where * span))] ^= 1 << bit
    assert outcome(tmp_path / "a", bytes(data)) in (
        None,
        Reason.DAMAGED,
        Reason.NOT_ART,
        Reason.TOO_BIG,
    )


@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(name=st.sampled_from(sorted(SAVES)), keep=st.integers(4, 40), junk=st.binary(max_size=3000))
def test_junk_behind_a_true_beginning(tmp_path: Path, name: str, keep: int, junk: bytes) -> None:
    assert outcome(tmp_path / "a", good(name)[:keep] + junk) in (
        Reason.DAMAGED,
        Reason.NOT_ART,
        Reason.TOO_BIG,
    )


def png_bomb(side: int) -> bytes:
    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    packer = zlib.compressobj(9)
    row = bytes(1 + side // 8)
    data = b"".join(packer.compress(row * 500) for _ in range(side // 500)) + packer.flush()
    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def test_png_of_900_megapixels_in_a_few_kilobytes_is_too_big(tmp_path: Path) -> None:
    data = png_bomb(30_000)
    assert len(data) < 300_000
    assert outcome(tmp_path / "a.png", data) is Reason.TOO_BIG


def test_tiff_that_lies_about_its_size(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    for compression in (None, "deflate"):
        gray = np.random.default_rng(1).integers(1, 256, (64, 64)).astype(np.uint8)
        tifffile.imwrite(path, gray, compression=compression)
        data = bytearray(path.read_bytes())
        for tag in (256, 257):
            at = data.index(struct.pack("<H", tag), 8)
            data[at : at + 12] = struct.pack("<HHII", tag, 4, 1, 60_000)
        assert outcome(path, bytes(data)) is Reason.TOO_BIG
        for tag in (256, 257):
            at = data.index(struct.pack("<HHII", tag, 4, 1, 60_000))
            data[at : at + 12] = struct.pack("<HHII", tag, 4, 1, 9_000)
        assert outcome(path, bytes(data)) is Reason.DAMAGED


def test_gif_that_lies_about_its_size(tmp_path: Path) -> None:
    data = bytearray(good("gif"))
    data[6:10] = struct.pack("<HH", 65_535, 65_535)
    assert outcome(tmp_path / "a.gif", bytes(data)) is Reason.TOO_BIG


def test_bmp_that_lies_about_its_size(tmp_path: Path) -> None:
    data = bytearray(good("bmp"))
    data[18:26] = struct.pack("<ii", 100_000, 100_000)
    assert outcome(tmp_path / "a.bmp", bytes(data)) in (Reason.TOO_BIG, Reason.DAMAGED)
    data[18:26] = struct.pack("<ii", -5, 2_000_000_000)
    assert outcome(tmp_path / "a.bmp", bytes(data)) in (Reason.TOO_BIG, Reason.DAMAGED)


def test_webp_that_lies_about_its_size(tmp_path: Path) -> None:
    data = bytearray(good("webp, lossless"))
    at = data.index(b"VP8L") + 9
    data[at : at + 4] = struct.pack("<I", 16_383 | 16_383 << 14)
    assert outcome(tmp_path / "a.webp", bytes(data)) in (Reason.TOO_BIG, Reason.DAMAGED)


def test_jpeg_that_lies_about_its_size(tmp_path: Path) -> None:
    data = bytearray(good("jpeg"))
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", 65_000, 65_000)
    assert outcome(tmp_path / "a.jpg", bytes(data)) is Reason.TOO_BIG


def test_text_bomb_in_a_png_does_no_harm(tmp_path: Path) -> None:
    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    data = good("png")
    bomb = chunk(b"zTXt", b"Comment\0\0" + zlib.compress(bytes(80_000_000), 9))
    assert outcome(tmp_path / "a.png", data[:33] + bomb + data[33:]) in (None, Reason.DAMAGED)


@pytest.mark.parametrize(
    ("name", "data", "reason"),
    [
        ("logo.png", b"this is a letter, not a picture\n" * 9, Reason.NOT_ART),
        ("logo.png", "ein Brief, kein Bild: äöü\n".encode("utf-16"), Reason.NOT_ART),
        ("logo.jpg", b"<html><body>404 not found</body></html>", Reason.NOT_ART),
        ("logo.jpg", b"%PDF-1.4\n", Reason.DAMAGED),
        ("logo.png", b"<svg xmlns='http://www.w3.org/2000/svg'/>", Reason.DAMAGED),
        ("logo.eps", b"%!PS-Adobe-3.0 EPSF-3.0\nshowpage\n", Reason.NOT_ART),
        ("logo.tif", b"8BPS\0\1" + bytes(40), Reason.NOT_ART),
        ("logo.zip", b"PK\x03\x04" + bytes(40), Reason.NOT_ART),
        ("logo.bin", bytes(range(256)), Reason.NOT_ART),
        ("logo.bin", bytes(5000), Reason.NOT_ART),
        ("logo.png", b"", Reason.DAMAGED),
        ("logo.jpg", b"\xff\xd8\xff", Reason.DAMAGED),
        ("logo.png", b"\x89PNG\r\n\x1a\n", Reason.DAMAGED),
        ("logo.tif", b"II*\0", Reason.DAMAGED),
        ("logo.tif", b"II*\0\xff\xff\xff\xff", Reason.DAMAGED),
        ("logo.gif", b"GIF89a", Reason.DAMAGED),
        ("logo.bmp", b"BM" + bytes(12) + b"\x28\0\0\0", Reason.DAMAGED),
        ("logo.webp", b"RIFF\x04\0\0\0WEBP", Reason.DAMAGED),
    ],
)
def test_what_is_no_picture(tmp_path: Path, name: str, data: bytes, reason: Reason) -> None:
    assert outcome(tmp_path / name, data) is reason

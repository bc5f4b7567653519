"""Flattened pictures of layered files, from planes of a few pixels put together by hand."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import numpy as np
import pytest

from filmhand.art.formats.flattened import read_flattened
from filmhand.art.formats.layered import ColorMode, LayeredFile, Packing

WORDS = [[0, 300, 65535], [40000, 1, 2]]


def flattened(data, /, *, width, height, bits=8, mode=ColorMode.RGB, channels=3, **more):
    found = LayeredFile(
        1, width, height, bits, mode, flattened=True, whole=True, channels=channels,
        **{"see_through": False} | more,
    )  # fmt: skip
    return read_flattened(BytesIO(data), found)


def test_words_of_lab_become_its_own_figures_and_opacity_a_share() -> None:
    words = [65535, 0, 32768, 33024, 0, 65280, 65535, 13107]
    read = flattened(
        struct.pack(">8H", *words), width=2, height=1, bits=16, mode=ColorMode.LAB, channels=4,
        see_through=True,
    )  # fmt: skip
    assert (read.colors, read.opacity, read.notes) == ("LAB", True, [])
    wanted = [[[100, 0, -128, 1], [0, 1, 127, 0.2]]]
    assert read.pixels == pytest.approx(np.array(wanted), abs=1e-5)


@pytest.mark.parametrize("packing", list(Packing))
def test_words_come_back_from_each_packing(packing) -> None:
    words = np.array(WORDS, ">u2")
    data = words.tobytes()
    if packing == Packing.ROWS:
        rows = [bytes([5]) + row.tobytes() for row in words]  # six bytes as they are
        data = struct.pack(">2H", 7, 7) + b"".join(rows)
    if packing == Packing.ZIP_DIFFERENCES:
        data = (
            np.diff(words.astype(np.uint16), axis=1, prepend=np.uint16(0)).astype(">u2").tobytes()
        )
    if packing in (Packing.ZIP, Packing.ZIP_DIFFERENCES):
        data = zlib.compress(data)
    sizes = {"width": 3, "height": 2, "bits": 16, "mode": ColorMode.GRAY, "channels": 1}
    read = flattened(b"before" + data, at=6, packing=packing, **sizes)
    assert read.pixels[..., 0].tolist() == WORDS
    with pytest.raises((ValueError, zlib.error)):
        flattened(b"before" + data[:-6], at=6, packing=packing, **sizes)


def test_differences_of_bytes_and_of_fractions() -> None:
    sizes = {"width": 3, "height": 1, "mode": ColorMode.GRAY, "channels": 1}
    read = flattened(zlib.compress(bytes([250, 10, 1])), packing=Packing.ZIP_DIFFERENCES, **sizes)
    assert read.pixels.ravel().tolist() == [250, 4, 5]
    planes = np.frombuffer(struct.pack(">3f", 0.25, 1, -3), np.uint8).reshape(3, 4).T.ravel()
    steps = np.diff(planes, prepend=np.uint8(0))
    read = flattened(
        zlib.compress(steps.tobytes()), packing=Packing.ZIP_DIFFERENCES, bits=32, **sizes
    )
    assert read.pixels.dtype == np.float32 and read.pixels.ravel().tolist() == [0.25, 1, -3]


def test_each_mode_has_its_colors() -> None:
    read = flattened(b"\xa0\x40", width=3, height=2, bits=1, mode=ColorMode.BITMAP, channels=1)
    assert read.colors == "L"
    assert read.pixels[..., 0].tolist() == [[0, 255, 0], [255, 0, 255]]  # a set bit is black
    palette = bytes(range(256)) + bytes(255 - i for i in range(256)) + bytes(256)
    read = flattened(
        palette + b"\x00\x05", width=2, height=1, mode=ColorMode.INDEXED, channels=1, at=768,
        palette=(0, 768),
    )  # fmt: skip
    assert read.colors == "RGB" and read.pixels.tolist() == [[[0, 255, 0], [5, 250, 0]]]
    read = flattened(bytes([255, 0, 55, 254]), width=1, height=1, mode=ColorMode.CMYK, channels=4)
    assert read.colors == "CMYK" and read.pixels.tolist() == [[[0, 255, 200, 1]]]
    read = flattened(bytes([7, 9]), width=1, height=1, mode=ColorMode.DUOTONE, channels=2)
    assert read.colors == "L" and read.pixels.tolist() == [[[7]]]
    assert read.notes == ["The layered file's further channels were left out."]


def test_resolution_and_color_profile_are_found_by_their_numbers() -> None:
    resolution = struct.pack(">IHHIHH", 300 * 65536, 1, 1, 150 * 65536 + 32768, 1, 1)
    data = b"\x01\x02\x03" + resolution + b"profile"
    sizes = {"width": 1, "height": 1}
    read = flattened(data, **sizes, resources={1005: (3, 16), 1039: (19, 7)})
    assert (read.ppi, read.profile) == ((300, 150.5), b"profile")
    read = flattened(data, **sizes, resources={1005: (3, 15)})
    assert (read.ppi, read.profile) == (None, None)

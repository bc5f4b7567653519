"""HEIC and AVIF, by the libraries' own encoders; layered files by bytes made here."""

from __future__ import annotations

import struct
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image, features

from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused

pytestmark = pytest.mark.outside
LIMITS: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)


def read(path: Path, channel: Any = "luminance") -> Art:
    return open_art(path, name=path.name, limits=LIMITS, channel=channel)


def refused(path: Path, data: bytes) -> Refused:
    path.write_bytes(data)
    with pytest.raises(Refused) as caught:
        read(path)
    return caught.value


def photo() -> Image.Image:
    data = pytest.importorskip("skimage.data")
    return Image.fromarray(data.astronaut()[100:340, 100:420])


def save(path: Path, image: Image.Image, **more: Any) -> Path:
    if path.suffix == ".avif":
        if not features.check("avif"):
            pytest.skip("this Pillow cannot write AVIF")
        image.save(path, quality=95, **more)
    else:
        heif = pytest.importorskip("pillow_heif")
        heif.from_pillow(image).save(path, quality=95, **more)
    return path


@pytest.mark.parametrize("suffix", [".avif", ".heic"])
def test_a_photograph_comes_back(tmp_path: Path, suffix: str) -> None:
    image = photo()
    image.save(tmp_path / "a.png")
    plain = read(tmp_path / "a.png").coded.astype(float)
    art = read(save(tmp_path / f"a{suffix}", image))
    assert art.format == suffix[1:].upper() and not art.drawn
    assert np.abs(art.coded - plain).mean() < 2 * 257


@pytest.mark.parametrize("suffix", [".avif", ".heic"])
def test_every_truncation_is_damaged(tmp_path: Path, suffix: str) -> None:
    data = save(tmp_path / f"a{suffix}", photo()).read_bytes()
    for hundredth in range(2, 100):
        fault = refused(tmp_path / "cut", data[: len(data) * hundredth // 100])
        assert fault.reason is Reason.DAMAGED, hundredth
    half = data[: len(data) // 2] + bytes(len(data) - len(data) // 2)
    assert refused(tmp_path / "cut", half).reason is Reason.DAMAGED


@pytest.mark.parametrize("suffix", [".avif", ".heic"])
def test_sizes_are_bounded_before_decoding(tmp_path: Path, suffix: str) -> None:
    data = bytearray(save(tmp_path / f"a{suffix}", photo()).read_bytes())
    at = data.index(b"ispe") + 8  # ISO/IEC 23008-12, 6.5.3: the picture's width and height
    data[at : at + 8] = struct.pack(">II", 60_000, 60_000)
    assert refused(tmp_path / "a", bytes(data)).reason in (Reason.TOO_BIG, Reason.DAMAGED)


@pytest.mark.parametrize("suffix", [".avif", ".heic"])
def test_art_that_the_worker_cannot_hold_is_too_big(tmp_path: Path, suffix: str) -> None:
    path = save(tmp_path / f"a{suffix}", photo())
    small: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=500_000)
    channel: Any = "luminance"
    with pytest.raises(Refused) as caught:
        open_art(path, name=path.name, limits=small, channel=channel)
    assert caught.value.reason is Reason.TOO_BIG and "memory" in caught.value.say


@pytest.mark.parametrize("suffix", [".avif", ".heic"])
def test_white_on_nothing(tmp_path: Path, suffix: str) -> None:
    rgba = np.full((64, 64, 4), 255, np.uint8)
    rgba[:, 32:, 3] = 0
    art = read(save(tmp_path / f"a{suffix}", Image.fromarray(rgba)))
    assert art.coded[5, 5] < 3000 and art.coded[5, 60] > 62_000
    assert any("channel: alpha" in note for note in art.notes)


def test_wide_colors_by_number_are_told(tmp_path: Path) -> None:
    # ITU-T H.273, table 2: 12 stands for the primaries of SMPTE EG 432-1 (P3, D65).
    plain = read(save(tmp_path / "a.heic", photo(), color_primaries=1))
    wide = read(save(tmp_path / "b.heic", photo(), color_primaries=12))
    assert not plain.notes and any("wider colors" in note for note in wide.notes)


def test_of_moving_pictures_the_first_is_used(tmp_path: Path) -> None:
    first = photo()
    path = save(tmp_path / "a.avif", first, save_all=True, append_images=[first.rotate(180)])
    art = read(path)
    assert any("first frame" in note for note in art.notes)
    first.save(tmp_path / "a.png")
    assert np.abs(art.coded - read(tmp_path / "a.png").coded.astype(float)).mean() < 4 * 257


def layered(
    colors: np.ndarray, *, mode: int = 3, flattened: int = 1, count: int = 1, bits: int = 8
) -> bytes:
    """A layered file with no layers worth the name and its flattened picture, by hand.

    colors : (channels, H, W) uint8
    """
    channels, height, width = colors.shape
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, channels, height, width, bits, mode)
    version = b"8BIM" + struct.pack(">HHI", 1057, 0, 6) + b"\0\0\0\1" + bytes([flattened, 0])
    layers = struct.pack(">IhH", 4, count, 0)
    return b"".join(
        (
            head,
            struct.pack(">I", 0),
            struct.pack(">I", len(version)) + version,
            struct.pack(">I", len(layers)) + layers,
            b"\0\0" + colors.tobytes(),
        )
    )


RGB = np.stack([np.full((20, 30), v, np.uint8) for v in (200, 100, 50)])


def test_layered_files_by_their_flattened_picture(tmp_path: Path) -> None:
    path = tmp_path / "a.psd"
    path.write_bytes(layered(RGB))
    art = read(path, "green")
    assert set(np.unique(art.coded)) == {100 * 257} and art.format == "layered" and not art.notes
    path.write_bytes(layered(255 - np.concatenate([RGB, RGB[:1] * 0 + 128]), mode=4))
    assert read(path).coded.shape == (20, 30)


def test_a_further_channel_is_opacity_only_where_the_file_says_so(tmp_path: Path) -> None:
    path = tmp_path / "a.psd"
    white = np.full((4, 20, 30), 255, np.uint8)
    white[3, :, 10:] = 0
    path.write_bytes(layered(white, count=-1))
    art = read(path)
    assert art.coded[5, 5] == 0 and art.coded[5, 20] == 65535
    path.write_bytes(layered(white, count=1))
    art = read(path)
    assert art.coded.min() == 65535 and any("further channels" in note for note in art.notes)


def test_layered_files_that_are_not_read(tmp_path: Path) -> None:
    path, sound = tmp_path / "a.psd", layered(RGB)
    fault = refused(path, layered(RGB, flattened=0))
    assert fault.reason is Reason.NOT_ART and "without its flattened picture" in fault.say
    assert refused(path, layered(np.repeat(RGB, 2, axis=2)[:, :, :60], bits=16)).reason in (
        Reason.NOT_ART,
        Reason.DAMAGED,
    )
    assert refused(path, layered(RGB, mode=6)).reason is Reason.NOT_ART
    large = bytearray(sound)
    large[14:22] = struct.pack(">II", 30_000, 30_000)
    assert refused(path, bytes(large)).reason in (Reason.TOO_BIG, Reason.DAMAGED)
    for cut in range(30, len(sound), 37):
        assert refused(path, sound[:cut]).reason is Reason.DAMAGED, cut

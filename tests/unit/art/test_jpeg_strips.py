from __future__ import annotations

import errno
import gc
import mmap
import struct
import threading
import weakref
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms

from filmhand.arrays import UInt8Array
from filmhand.art.analysis.ground_color import ground_color, sampled_places
from filmhand.art.files.damage import is_found_beside
from filmhand.art.files.decode import ExaminedFile
from filmhand.art.files.file_types import FileType
from filmhand.art.files.jpeg_strips import comes_in_strips, load_strips
from filmhand.art.files.open_art import open_art
from filmhand.art.files.pixel_layouts import layout_of_pixels
from filmhand.errors import Reason, Refused
from filmhand.profile.terms import Channel


def noise(width: int, height: int) -> Image.Image:
    colors = np.random.default_rng(3).integers(0, 256, (height, width, 3), np.uint8)
    return Image.fromarray(colors)


def jpeg(picture: Image.Image, **how: Any) -> bytes:
    file = BytesIO()
    picture.save(file, "JPEG", quality=92, **how)
    return file.getvalue()


def whole(data: bytes) -> UInt8Array:
    return np.asarray(Image.open(BytesIO(data)))


@pytest.mark.parametrize("progressive", [False, True])
def test_strips_are_the_picture_that_is_read_whole(progressive: bool) -> None:
    data = jpeg(noise(317, 463), progressive=progressive)
    wanted = whole(data)
    found: UInt8Array = np.zeros((463, 317, 4), np.uint8)

    def take(rows: slice, pixels: UInt8Array) -> None:
        found[rows] += pixels  # added, so that none may come twice

    with Image.open(BytesIO(data)) as image:
        assert comes_in_strips(image)
        load_strips(image, take, pixels=317 * 7)
    assert np.array_equal(found[..., :3], wanted)
    assert (found[..., 3] == 255).all()


def test_rows_are_handed_on_before_the_file_has_been_read_and_are_given_back() -> None:
    data = jpeg(noise(1024, 600))
    handed_on = threading.Event()
    kept: list[UInt8Array] = []
    was_early: list[bool] = []

    class SlowFile(BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            part = super().read(size)
            if self.tell() == len(data):
                was_early.append(handed_on.wait(120))
            return part

    def take(rows: slice, pixels: UInt8Array) -> None:
        assert pixels.any()
        kept.append(pixels)
        handed_on.set()

    with Image.open(SlowFile(data)) as image:
        load_strips(image, take, pixels=1024 * 50)
    assert was_early[0]
    assert len(kept) == 12
    assert not any(strip.any() for strip in kept)  # 50 rows of 4 KiB are whole pages


def test_the_memory_of_a_picture_goes_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """It counts for a job's limit until then, however little of it is in use."""
    held: list[Any] = []
    make = mmap.mmap

    def watched(*sizes: int, flags: int) -> mmap.mmap:
        memory = make(*sizes, flags=flags)
        held.append(weakref.ref(memory))
        return memory

    monkeypatch.setattr("filmhand.art.files.jpeg_strips.mmap.mmap", watched)
    gc.disable()
    try:
        image = Image.open(BytesIO(jpeg(noise(64, 64))))
        load_strips(image, lambda rows, pixels: None, pixels=64 * 8)
        del image
        assert held[0]() is None
    finally:
        gc.enable()


@pytest.mark.parametrize(("most", "beside"), [(10_000, True), (10, False)])
def test_damage_of_a_large_file_is_not_looked_for_beside_its_decoder(
    most: int, beside: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg(noise(20, 30)))
    monkeypatch.setattr("filmhand.art.files.damage._LARGEST_BESIDE", most)
    art = ExaminedFile(path, "a.jpg", FileType.JPEG, b"", None, [])
    assert is_found_beside(art) is beside


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_other_pictures_do_not_come_in_strips(mode: str) -> None:
    assert not comes_in_strips(Image.open(BytesIO(jpeg(noise(20, 30).convert(mode)))))


def test_a_picture_that_breaks_off_is_the_decoders_fault() -> None:
    data = jpeg(noise(200, 300))
    with (
        Image.open(BytesIO(data[: len(data) // 2])) as image,
        pytest.raises(OSError, match="trunc"),
    ):
        load_strips(image, lambda rows, pixels: None, pixels=2000)


def test_what_a_taker_raises_is_raised() -> None:
    def take(rows: slice, pixels: UInt8Array) -> None:
        raise MemoryError

    with Image.open(BytesIO(jpeg(noise(200, 300)))) as image, pytest.raises(MemoryError):
        load_strips(image, take, pixels=2000)


def exchanged_primaries() -> bytes:
    """The profile of sRGB with red and green exchanged."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = struct.unpack_from(">I", data, 128)[0]
    places = {bytes(data[at : at + 4]): at + 4 for at in range(132, 132 + 12 * count, 12)}
    red, green = places[b"rXYZ"], places[b"gXYZ"]
    data[red : red + 8], data[green : green + 8] = data[green : green + 8], data[red : red + 8]
    return bytes(data)


def test_where_there_is_no_room_the_art_is_too_large_and_not_out_of_reach(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(*sizes: int, flags: int) -> None:
        raise OSError(errno.ENOMEM, "Cannot allocate memory")

    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg(noise(97, 61)))
    monkeypatch.setattr("filmhand.art.files.jpeg_strips.mmap.mmap", no_room)
    limits: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)
    with pytest.raises(Refused) as refused:
        open_art(path, name="a.jpg", limits=limits, channel=Channel.LUMINANCE)
    assert refused.value.reason is Reason.TOO_BIG


@pytest.mark.parametrize("profile", [None, exchanged_primaries()])
def test_turned_and_managed_art_is_as_it_was_read_whole(
    tmp_path: Path, profile: bytes | None
) -> None:
    exif, path = Image.Exif(), tmp_path / "a.jpg"
    exif[0x0112] = 6  # to be turned by a quarter
    path.write_bytes(jpeg(noise(97, 61), exif=exif, icc_profile=profile))
    limits: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)
    art = open_art(path, name="a.jpg", limits=limits, channel=Channel.LUMINANCE)
    plain = Image.open(path)
    plain.load()
    found: Any = SimpleNamespace(kind=FileType.JPEG, head=b"", name="a.jpg")
    made = layout_of_pixels(plain, found, channel="luminance", directory=None)
    assert np.array_equal(art.coded, np.rot90(made.strip(plain), -1))
    assert art.ground == ground_color(plain)
    assert bool(made.notes) == (profile is not None)


@pytest.mark.parametrize("size", [(4000, 6000), (97, 61), (50, 3001)])
def test_sampled_places_are_those_that_the_library_picks(size: tuple[int, int]) -> None:
    columns, rows = sampled_places(size)
    ramp = np.add.outer(np.arange(size[1]) * 10_000, np.arange(size[0])).astype(np.int32)
    picked = Image.fromarray(ramp).resize((min(96, size[0]), min(96, size[1])), 0)
    assert np.array_equal(np.asarray(picked), np.add.outer(rows * 10_000, columns))

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from filmhand.art.files.completeness import completeness_of

NOISE = np.random.default_rng(3).integers(0, 256, (160, 200, 3), np.uint8)
SAVES: dict[str, dict[str, object]] = {
    "a.jpg": {},
    "progressive.jpg": {"progressive": True},
    "a.png": {},
    "a.gif": {},
    "a.webp": {},
    "lossless.webp": {"lossless": True},
    "a.bmp": {},
    "a.tif": {},
    "lzw.tif": {"compression": "tiff_lzw"},
}


@pytest.fixture(params=SAVES)
def whole(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / request.param
    Image.fromarray(NOISE).save(path, **SAVES[request.param])
    return path


def test_whole_files_are_finished(whole: Path) -> None:
    assert completeness_of(whole).finished


def test_every_cut_is_seen(whole: Path) -> None:
    data = whole.read_bytes()
    for hundredth in range(1, 100, 3):
        whole.write_bytes(data[: len(data) * hundredth // 100])
        finish = completeness_of(whole)
        assert not finish.finished and finish.hard, f"{hundredth} %"
        assert finish.why and not finish.why.endswith(".")


def test_second_half_of_zeros_is_seen(whole: Path) -> None:
    data = whole.read_bytes()
    half = len(data) // 2
    whole.write_bytes(data[:half] + bytes(len(data) - half))
    finish = completeness_of(whole)
    assert not finish.finished and finish.hard


def test_last_tenth_of_zeros_is_seen_where_zeros_cannot_be_a_picture(whole: Path) -> None:
    data = whole.read_bytes()
    kept = len(data) * 9 // 10 - 4096 * (len(data) < 50_000)
    whole.write_bytes(data[:kept] + bytes(len(data) - kept))
    finish = completeness_of(whole)
    assert not finish.finished
    assert finish.hard == (whole.name not in ("a.bmp", "a.tif"))


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.gif"])
@pytest.mark.parametrize("tail", [b"\r\n", bytes(3000), bytes(9000)])
def test_padding_behind_the_end_mark_does_no_harm(tmp_path: Path, name: str, tail: bytes) -> None:
    path = tmp_path / name
    Image.fromarray(NOISE).save(path)
    path.write_bytes(path.read_bytes() + tail)
    assert completeness_of(path).finished


def test_film_behind_a_jpeg_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    Image.fromarray(NOISE).save(path)
    path.write_bytes(path.read_bytes() + b"\x01ftypmp42" * 20_000)
    assert completeness_of(path).finished


def test_end_mark_of_a_thumbnail_is_not_the_end(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    Image.fromarray(NOISE).save(path)
    data = path.read_bytes()
    thumbnail = b"\xff\xe1" + (2 + 40).to_bytes(2, "big") + b"Exif\0\0" + b"x" * 32 + b"\xff\xd9"
    path.write_bytes(data[:2] + thumbnail + data[2:])
    assert completeness_of(path).finished
    path.write_bytes((data[:2] + thumbnail + data[2:])[:-900])
    assert not completeness_of(path).finished


def test_black_lower_edge_of_plain_pixels_is_a_soft_doubt(tmp_path: Path) -> None:
    picture = NOISE.copy()
    picture[120:] = 0
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, picture, photometric="rgb")
    finish = completeness_of(path)
    assert not finish.finished and not finish.hard


def test_zeros_behind_the_last_strip_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, NOISE, photometric="rgb")
    path.write_bytes(path.read_bytes() + bytes(8192))
    assert completeness_of(path).finished


def test_tiff_pages_in_a_ring_are_seen(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    sizes = struct.pack("<HHIIHHII", 256, 3, 1, 5, 257, 3, 1, 5)
    path.write_bytes(b"II*\0" + struct.pack("<IH", 8, 2) + sizes + struct.pack("<I", 8))
    finish = completeness_of(path)
    assert not finish.finished and "point back" in finish.why


def test_empty_is_unfinished_and_other_kinds_are_not_judged(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"")
    assert not completeness_of(path).finished
    path.write_bytes(b"%!PS-Adobe-3.0 cut sho")
    assert completeness_of(path).finished


def test_missing_file_is_an_os_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        completeness_of(tmp_path / "gone.png")


@pytest.mark.parametrize("suffix", ["bmp", "tif"])
def test_all_black_is_a_soft_doubt_for_it_may_be_meant(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a.{suffix}"
    Image.new("L", (400, 300)).save(path)
    finish = completeness_of(path)
    assert not finish.finished and not finish.hard

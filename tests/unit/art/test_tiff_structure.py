from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import tifffile

from filmhand.art.files.tiff_structure import Tag, read_structure


def structure(data: bytes, most: int = 1000):
    return read_structure(BytesIO(data), len(data), most=most)


@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("order", ["<", ">"])
def test_pages_and_tags_of_a_sound_file(tmp_path: Path, big: bool, order: str) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path, bigtiff=big, byteorder=order) as writer:
        writer.write(np.zeros((8, 9), np.uint16))
        writer.write(np.zeros((4, 4), np.uint8), subfiletype=1)
        writer.write(np.zeros((5, 5, 3), np.uint8), photometric="rgb")
    found = structure(path.read_bytes())
    assert found.fault is None and found.pages == [0, 2] and not found.is_raw
    assert found.directories[0].tags[Tag.BITS_PER_SAMPLE] == (16,)
    assert found.directories[2].tags[Tag.BITS_PER_SAMPLE] == (8, 8, 8)
    with tifffile.TiffFile(path) as outside:
        for page, directory in zip(outside.pages, found.directories, strict=True):
            ends = np.add(page.dataoffsets, page.databytecounts)
            assert directory.data_end() == ends.max()
            assert directory.data_start() == min(page.dataoffsets)


def test_a_lone_thumbnail_is_a_page_after_all(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "a.tif", np.zeros((4, 4), np.uint8), subfiletype=1)
    assert structure((tmp_path / "a.tif").read_bytes()).pages == [0]


def test_walk_is_bounded(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "a.tif", np.zeros((9, 4, 4), np.uint8), photometric="minisblack")
    assert len(structure((tmp_path / "a.tif").read_bytes(), most=5).directories) == 5


@pytest.mark.parametrize("data", [b"", b"II", b"II*\0", b"MM\0+\0\x08\0\0", b"II*\0\0\0\0\0"])
def test_stumps_are_faults(data: bytes) -> None:
    assert structure(data).fault


def test_any_bytes_behind_the_mark_never_raise() -> None:
    rng = np.random.default_rng(4)
    for mark in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        for _ in range(300):
            body = bytearray(rng.integers(0, 256, 200).astype(np.uint8).tobytes())
            body[:8] = bytes([0, 0, 0, 12]) * 2 if mark[:1] == b"M" else bytes([12, 0, 0, 0]) * 2
            structure(mark + bytes(body))

"""Films of other makers: every compression, both photometrics, and what is no film."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.film import read
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.read import read_film
from filmhand.film.write import write_films
from filmhand.units import Resolution

MakeSheet = Callable[[NDArray[np.bool_]], BitSheet]


def asymmetric(width: int, height: int) -> NDArray[np.bool_]:
    """No turn or mirror maps this onto itself."""
    ink = np.zeros((height, width), np.bool_)
    ink[0, : width // 3] = True
    ink[: height // 2, 0] = True
    ink[height // 5 : height // 4, width // 2 :] = True
    return ink


INK = asymmetric(203, 301)


def picture_of(ink: NDArray[np.bool_]) -> Image.Image:
    return Image.fromarray(np.where(ink, 0, 255).astype(np.uint8)).convert("1", dither=0)


def ink_in(path: Path, folder: Path) -> tuple[NDArray[np.bool_], Resolution | None]:
    sheet, dpi = read_film(path, folder)
    with sheet:
        rows = sheet.read(0, sheet.height)
        return np.unpackbits(rows, axis=1, count=sheet.width).astype(np.bool_), dpi


def refused(path: Path, folder: Path) -> Refused:
    with pytest.raises(Refused) as caught:
        read_film(path, folder)
    assert path.name in caught.value.say
    return caught.value


@pytest.mark.parametrize("photometric", [0, 1])
@pytest.mark.parametrize("strip", [None, 64])
@pytest.mark.parametrize(
    "compression",
    ["raw", "group3", "group4", "tiff_ccitt", "packbits", "tiff_lzw", "tiff_adobe_deflate"],
)
def test_tiff_of_any_compression(
    compression: str, photometric: int, strip: int | None, tmp_path: Path
) -> None:
    options: dict[str, Any] = {"compression": compression, "dpi": (600, 600)}
    if strip and compression != "raw":
        options["tiffinfo"] = {278: strip, 262: photometric}
    else:
        options["tiffinfo"] = {262: photometric}
    path = tmp_path / "film.tif"
    picture_of(INK).save(path, **options)
    with Image.open(path) as written:
        if written.tag_v2[262] != photometric:
            pytest.skip(f"Pillow does not write photometric {photometric} so")
    ink, dpi = ink_in(path, tmp_path)
    assert np.array_equal(ink, INK)
    assert dpi == Resolution(600, 600)


def test_a_tiff_in_one_strip_too_large_to_wrap_is_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read, "_MOST_STRIP_PIXELS", 1000)
    path = tmp_path / "film.tif"
    picture_of(INK).save(path, compression="group4", tiffinfo={278: 301})
    assert np.array_equal(ink_in(path, tmp_path)[0], INK)


def test_pillows_limit_on_pixels_neither_binds_nor_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a film of 180 million pixels meets, at a size that is quick."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 1000)
    for limit in ("_BAND_PIXELS", "_MOST_STRIP_PIXELS"):
        monkeypatch.setattr(read, limit, 1000)
    for name, rows in (("one.tif", 301), ("many.tif", 4), ("film.png", 0)):
        options = {"compression": "group4", "tiffinfo": {278: rows}} if rows else {}
        picture_of(INK).save(tmp_path / name, **options)
        assert np.array_equal(ink_in(tmp_path / name, tmp_path)[0], INK)
    assert Image.MAX_IMAGE_PIXELS == 1000


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_tiff_is_read_as_it_is_meant_to_be_seen(orientation: int, tmp_path: Path) -> None:
    # TIFF 6.0, tag Orientation: what the stored rows and columns are of the visual picture.
    stored = {
        1: INK,
        2: INK[:, ::-1],
        3: INK[::-1, ::-1],
        4: INK[::-1],
        5: INK.T,
        6: INK.T[::-1],
        7: INK.T[::-1, ::-1],
        8: INK.T[:, ::-1],
    }[orientation]
    path = tmp_path / "film.tif"
    sides = (300, 600) if orientation >= 5 else (600, 300)
    picture_of(np.ascontiguousarray(stored)).save(
        path, compression="group4", dpi=sides, tiffinfo={274: orientation}
    )
    ink, dpi = ink_in(path, tmp_path)
    assert np.array_equal(ink, INK)
    assert dpi == Resolution(600, 300)


@pytest.mark.parametrize("mode", ["1", "L", "P"])
def test_png_with_pure_black_and_white(mode: str, tmp_path: Path) -> None:
    path = tmp_path / "film.png"
    picture_of(INK).convert(mode).save(path, dpi=(720, 720))
    ink, dpi = ink_in(path, tmp_path)
    assert np.array_equal(ink, INK)
    assert dpi == Resolution(720, 720)


def test_png_with_filtered_rows(tmp_path: Path) -> None:
    """Rows filtered by Up (PNG specification, filter type 2), which Pillow never picks here."""
    rows = np.packbits(~INK, axis=1)
    above = np.vstack([np.zeros((1, rows.shape[1]), np.uint8), rows[:-1]])
    stored = np.hstack([np.full((301, 1), 2, np.uint8), rows - above])
    path = tmp_path / "film.png"

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", 203, 301, 1, 0, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(stored.tobytes()))
        + chunk(b"IEND", b"")
    )
    ink, dpi = ink_in(path, tmp_path)
    assert np.array_equal(ink, INK)
    assert dpi is None


@pytest.mark.parametrize("unit", [1, 2, 3])
def test_resolution_of_a_tiff(unit: int, tmp_path: Path) -> None:
    path = tmp_path / "film.tif"
    # 236.22 dots per centimeter are 600 per inch.
    density = 236.22 if unit == 3 else 600
    picture_of(INK).save(
        path, compression="group4", tiffinfo={282: density, 283: density, 296: unit}
    )
    expected = None if unit == 1 else Resolution(600, 600)
    assert ink_in(path, tmp_path)[1] == expected


def test_a_film_without_resolution(tmp_path: Path) -> None:
    for name in ("film.tif", "film.png"):
        picture_of(INK).save(tmp_path / name)
        assert ink_in(tmp_path / name, tmp_path)[1] is None


@pytest.mark.parametrize("name", ["art.png", "art.tif"])
def test_grays_are_no_film(name: str, tmp_path: Path) -> None:
    gray = np.where(INK, 0, 255).astype(np.uint8)
    gray[100, 100] = 254
    Image.fromarray(gray).save(tmp_path / name)
    said = refused(tmp_path / name, tmp_path)
    assert said.reason is Reason.NOT_ART
    assert "pure black and pure white" in said.say


def test_color_is_no_film(tmp_path: Path) -> None:
    picture_of(INK).convert("RGB").save(tmp_path / "art.tif")
    assert refused(tmp_path / "art.tif", tmp_path).reason is Reason.NOT_ART


@pytest.mark.parametrize("data", [b"", b"hello", b"\xff\xd8\xff\xe0 a photograph"])
def test_what_is_no_picture_of_bits(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "art.jpg"
    path.write_bytes(data)
    assert refused(path, tmp_path).reason is Reason.NOT_ART


def test_a_pdf_of_another_maker(tmp_path: Path) -> None:
    path = tmp_path / "other.pdf"
    picture_of(INK).save(path)
    said = refused(path, tmp_path)
    assert said.reason is Reason.NOT_ART
    assert "filmhand did not write" in said.say


def test_a_film_with_too_many_pixels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "film.tif"
    picture_of(INK).save(path, compression="group4")
    monkeypatch.setattr(read, "MOST_PIXELS", 203 * 301 - 1)
    said = refused(path, tmp_path)
    assert said.reason is Reason.TOO_BIG
    assert said.found is not None
    assert said.found.value == 203 * 301
    assert said.say.startswith("film.tif has 1 million pixels; ")


def test_a_png_that_claims_a_huge_picture_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    path = tmp_path / "bomb.png"
    head = b"IHDR" + struct.pack(">IIBBBBB", 2**31 - 1, 2**31 - 1, 1, 0, 0, 0, 0)
    data = b"IDAT" + zlib.compress(bytes(10_000))
    chunks = b"".join(
        struct.pack(">I", len(some) - 4) + some + struct.pack(">I", zlib.crc32(some))
        for some in (head, data, b"IEND")
    )
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunks)
    assert refused(path, tmp_path).reason is Reason.TOO_BIG


@pytest.mark.parametrize("format", list(Format))
@pytest.mark.parametrize("keep", [0.3, 0.6, 0.9])
def test_a_film_that_was_cut_is_damaged(
    format: Format,
    keep: float,
    make_sheet: MakeSheet,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / f"film{format.suffix}"
    write_films(make_sheet(INK), {format: path}, dpi=Resolution(600, 600))
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    assert refused(path, tmp_path).reason is Reason.DAMAGED
    capfd.readouterr()


def test_a_tiff_of_another_maker_that_was_cut_is_damaged(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "film.tif"
    picture_of(INK).save(path, compression="group4", tiffinfo={278: 64})
    # Pillow's libtiff puts the directory behind the strips: cut the first strip's bytes instead.
    data = bytearray(path.read_bytes())
    with Image.open(path) as picture:
        at, count = picture.tag_v2[273][0], picture.tag_v2[279][0]
    data[at : at + count] = bytes(count)
    path.write_bytes(data)
    assert refused(path, tmp_path).reason is Reason.DAMAGED
    capfd.readouterr()


def test_nothing_is_left_in_the_scratch_folder(make_sheet: MakeSheet, tmp_path: Path) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    path = tmp_path / "film.tif"
    write_films(make_sheet(INK), {Format.TIFF: path}, dpi=Resolution(600, 600))
    sheet, _ = read_film(path, scratch)
    assert list(scratch.iterdir()) == []
    assert sheet.read(0, 301).any()
    sheet.close()
    path.write_bytes(path.read_bytes()[:60])
    refused(path, scratch)
    assert list(scratch.iterdir()) == []


def test_a_missing_file_is_the_disks_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_film(tmp_path / "nowhere.tif", tmp_path)


def test_a_missing_scratch_folder_is_the_disks_error(make_sheet: MakeSheet, tmp_path: Path) -> None:
    path = tmp_path / "film.tif"
    write_films(make_sheet(INK), {Format.TIFF: path}, dpi=Resolution(600, 600))
    with pytest.raises(FileNotFoundError):
        read_film(path, tmp_path / "nowhere")


def test_open_files_do_not_pile_up(make_sheet: MakeSheet, tmp_path: Path) -> None:
    descriptors = Path("/proc/self/fd")
    if not descriptors.exists():
        pytest.skip("this system has no /proc")
    path = tmp_path / "film.tif"
    write_films(make_sheet(INK), {Format.TIFF: path}, dpi=Resolution(600, 600))
    before = len(list(descriptors.iterdir()))
    for _ in range(20):
        read_film(path, tmp_path)
    assert len(list(descriptors.iterdir())) <= before + 1

"""A film that is not what was meant never passes."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.errors import Refused
from filmhand.film.bits import BitSheet
from filmhand.film.formats import BrokenFilm, Format
from filmhand.film.read import read_film
from filmhand.film.write import verify_film, write_films
from filmhand.units import Resolution

MakeSheet = Callable[[NDArray[np.bool_]], BitSheet]
DPI = Resolution(600, 600)
EVERY = pytest.mark.parametrize("format", list(Format))


def halftone(width: int, height: int) -> NDArray[np.bool_]:
    """Dots below, a clear part above, so that easy and hard rows are both met."""
    y, x = np.mgrid[:height, :width]
    ink: NDArray[np.bool_] = np.cos(0.6 * x + 0.2 * y) + np.cos(0.6 * y - 0.2 * x) > 0.4
    ink[: height // 3] = False
    return ink


def grain(width: int, height: int) -> NDArray[np.bool_]:
    """Group 4 would swell, so this is deflated."""
    return np.random.default_rng(5).random((height, width)) < 0.5


def passes(path: Path, sheet: BitSheet, format: Format, dpi: Resolution = DPI) -> bool:
    try:
        verify_film(path, sheet, format=format, dpi=dpi)
    except BrokenFilm:
        return False
    return True


def seen_by_pillow(data: bytes) -> NDArray[np.bool_] | None:
    """Ink as Pillow alone decodes the file in one piece, None if it cannot."""
    try:
        with Image.open(io.BytesIO(data)) as picture:
            return ~np.asarray(picture.convert("1"))
    except Exception:
        return None


def sealed(data: bytes, sound: bytes, format: Format) -> bytes:
    """Damaged data with its digest made to fit, so that only decoding can notice."""
    if format is Format.PDF:
        tail = data.rindex(b"xref\n0 8\n")
        digest = hashlib.sha256(data[:tail]).hexdigest()[:32].encode()
        return data[:tail] + re.sub(rb"<[0-9a-f]{32}>", b"<%s>" % digest, data[tail:])
    if format is Format.TIFF:
        with Image.open(io.BytesIO(sound)) as picture:
            places = list(zip(picture.tag_v2[273], picture.tag_v2[279], strict=True))
        digest = hashlib.sha256(b"".join(data[at : at + count] for at, count in places))
        mark = b"SHA-256 of the strips: "
        return re.sub(mark + b"[0-9a-f]{64}", mark + digest.hexdigest().encode(), data)
    return data


@EVERY
@pytest.mark.parametrize("draw", [halftone, grain])
@pytest.mark.parametrize("part", ["everywhere", "picture"])
def test_a_flipped_bit_is_caught_or_changes_nothing(
    draw: Callable[[int, int], NDArray[np.bool_]],
    part: str,
    format: Format,
    make_sheet: MakeSheet,
    film_folder: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    pixels = draw(101, 600)
    sheet = make_sheet(pixels)
    path = film_folder / f"flip{format.suffix}"
    write_films(sheet, {format: path}, dpi=DPI)
    sound = path.read_bytes()
    chance = np.random.default_rng(17)
    span = range(len(sound)) if part == "everywhere" else range(900, len(sound) - 700)
    caught = 0
    for _ in range(120):
        at, bit = int(chance.choice(span)), int(chance.integers(8))
        data = sound[:at] + bytes([sound[at] ^ 1 << bit]) + sound[at + 1 :]
        path.write_bytes(sealed(data, sound, format) if part == "picture" else data)
        if not passes(path, sheet, format):
            caught += 1
            continue
        # It passed, so readers must still see the same film.
        if format in {Format.TIFF, Format.PNG}:
            seen = seen_by_pillow(path.read_bytes())
            assert seen is not None, (at, bit)
            assert np.array_equal(seen, pixels), (at, bit)
        try:
            again, dpi = read_film(path, film_folder)
        except Refused as refused:
            pytest.fail(f"byte {at} bit {bit}: passed, but cannot be read: {refused}")
        with again:
            assert dpi == DPI
            assert np.array_equal(again.read(0, 600), sheet.read(0, 600)), (at, bit)
    # Only spare bytes (an offset's padding, the identity) may change unseen.
    assert caught >= (105 if part == "everywhere" else 115)
    capfd.readouterr()  # libtiff grumbles about the damage on stderr


@EVERY
def test_every_flipped_bit_around_the_picture_is_answered(
    format: Format, make_sheet: MakeSheet, film_folder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Headers, directories and trailers are damaged bit by bit: never an error of our own."""
    sheet = make_sheet(halftone(9, 20))
    path = film_folder / f"around{format.suffix}"
    write_films(sheet, {format: path}, dpi=DPI)
    sound = path.read_bytes()
    unseen = set()
    for number in range(0, len(sound) * 8, 3 if format in {Format.PDF, Format.PWG} else 1):
        at, bit = divmod(number, 8)
        path.write_bytes(sound[:at] + bytes([sound[at] ^ 1 << bit]) + sound[at + 1 :])
        try:
            verify_film(path, sheet, format=format, dpi=DPI, threads=1)
        except BrokenFilm:
            continue
        unseen.add(at)
    # A TIFF's short values fill half of their four bytes.
    assert len(unseen) <= (30 if format is Format.TIFF else 0), sorted(unseen)
    capfd.readouterr()


@EVERY
@pytest.mark.parametrize("y", [0, 255, 256, 599])
@pytest.mark.parametrize("x", [0, 50, 100])
def test_one_pixel_more_or_less_is_noticed(
    x: int, y: int, format: Format, make_sheet: MakeSheet, film_folder: Path
) -> None:
    pixels = halftone(101, 600)
    path = film_folder / f"pixel{format.suffix}"
    write_films(make_sheet(pixels), {format: path}, dpi=DPI)
    pixels[y, x] ^= True
    assert not passes(path, make_sheet(pixels), format)


@EVERY
@pytest.mark.parametrize("draw", [halftone, grain])
def test_another_resolution_or_size_is_noticed(
    draw: Callable[[int, int], NDArray[np.bool_]],
    format: Format,
    make_sheet: MakeSheet,
    film_folder: Path,
) -> None:
    pixels = draw(104, 300)
    path = film_folder / f"size{format.suffix}"
    sheet = make_sheet(pixels)
    write_films(sheet, {format: path}, dpi=DPI)
    assert passes(path, sheet, format)
    assert not passes(path, sheet, format, Resolution(600, 601))
    assert not passes(path, sheet, format, Resolution(599, 600))
    assert not passes(path, make_sheet(pixels[:-1]), format)
    assert not passes(path, make_sheet(pixels[:, :-1]), format)
    assert not passes(path, make_sheet(np.pad(pixels, ((0, 1), (0, 0)))), format)
    assert not passes(path, make_sheet(np.pad(pixels, ((0, 0), (0, 1)))), format)


@EVERY
@pytest.mark.parametrize("draw", [halftone, grain])
def test_a_file_that_was_cut_or_grew_is_noticed(
    draw: Callable[[int, int], NDArray[np.bool_]],
    format: Format,
    make_sheet: MakeSheet,
    film_folder: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    sheet = make_sheet(draw(104, 300))
    path = film_folder / f"cut{format.suffix}"
    write_films(sheet, {format: path}, dpi=DPI)
    sound = path.read_bytes()
    for length in (0, 3, 100, len(sound) // 2, len(sound) - 40, len(sound) - 2):
        path.write_bytes(sound[:length])
        assert not passes(path, sheet, format), length
    if format is not Format.TIFF:  # bytes after a TIFF's directory mean nothing
        path.write_bytes(sound + b"\0")
        assert not passes(path, sheet, format)
    capfd.readouterr()


def test_a_missing_file_is_the_disks_error(make_sheet: MakeSheet, film_folder: Path) -> None:
    sheet = make_sheet(halftone(104, 300))
    for format in Format:
        with pytest.raises(FileNotFoundError):
            verify_film(film_folder / "nowhere", sheet, format=format, dpi=DPI)


def test_a_tiff_that_says_min_is_black_is_noticed(make_sheet: MakeSheet, film_folder: Path) -> None:
    sheet = make_sheet(halftone(104, 300))
    path = film_folder / "turned.tif"
    write_films(sheet, {Format.TIFF: path}, dpi=DPI)
    data = path.read_bytes()
    entry = (262).to_bytes(2, "little") + b"\3\0\1\0\0\0"
    assert data.count(entry + b"\0\0") == 1
    path.write_bytes(data.replace(entry + b"\0\0", entry + b"\1\0"))
    with pytest.raises(BrokenFilm, match=r"tag 262 is \(1,\), meant is \(0,\)"):
        verify_film(path, sheet, format=Format.TIFF, dpi=DPI)


def test_a_pdf_whose_two_boxes_differ_is_noticed(make_sheet: MakeSheet, film_folder: Path) -> None:
    sheet = make_sheet(halftone(104, 300))
    path = film_folder / "boxes.pdf"
    write_films(sheet, {Format.PDF: path}, dpi=DPI)
    data = path.read_bytes()
    assert b"/CropBox[0 0 12.48 36]" in data
    data = data.replace(b"/CropBox[0 0 12.48 36]", b"/CropBox[0 0 12.49 36]")
    path.write_bytes(sealed(data, data, Format.PDF))
    with pytest.raises(BrokenFilm):
        verify_film(path, sheet, format=Format.PDF, dpi=DPI)


def test_a_pdf_that_claims_other_strip_borders_is_noticed(
    make_sheet: MakeSheet, film_folder: Path
) -> None:
    """Blank rows are one bit each: only the exact border tells one from the next."""
    pixels = np.zeros((600, 104), np.bool_)
    pixels[590:, 20:30] = True
    sheet = make_sheet(pixels)
    path = film_folder / "borders.pdf"
    write_films(sheet, {Format.PDF: path}, dpi=DPI)
    data = path.read_bytes()
    assert b"/Bits[256 256 " in data
    data = data.replace(b"/Bits[256 256 ", b"/Bits[255 257 ")
    path.write_bytes(sealed(data, data, Format.PDF))
    assert not passes(path, sheet, Format.PDF)


@pytest.mark.parametrize("format", [Format.PDF, Format.TIFF])
@pytest.mark.parametrize("draw", [halftone, grain])
def test_damage_that_decodes_alike_is_noticed_too(
    draw: Callable[[int, int], NDArray[np.bool_]],
    format: Format,
    make_sheet: MakeSheet,
    film_folder: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Every bit of the picture data counts, whatever a forgiving decoder makes of it."""
    sheet = make_sheet(draw(60, 40))
    path = film_folder / f"alike{format.suffix}"
    write_films(sheet, {format: path}, dpi=DPI)
    sound = path.read_bytes()
    start = sound.index(b"stream\n", sound.index(b"5 0 obj")) + 7 if format is Format.PDF else 8
    stop = sound.rindex(b"\nendstream") if format is Format.PDF else 8 + 100
    for number in range((stop - start) * 8):
        at, bit = start + number // 8, number % 8
        path.write_bytes(sound[:at] + bytes([sound[at] ^ 1 << bit]) + sound[at + 1 :])
        assert not passes(path, sheet, format), (at, bit)
    capfd.readouterr()


def test_a_pdf_with_a_strip_too_many_is_damaged(make_sheet: MakeSheet, film_folder: Path) -> None:
    """A strip of no rows and no bits behind the last, in a file that is sound otherwise."""
    path = film_folder / "more.pdf"
    write_films(make_sheet(halftone(104, 300)), {Format.PDF: path}, dpi=DPI)
    data = path.read_bytes()
    (place,) = re.findall(rb"startxref\n(\d+)\n", data)
    data = data.replace(b"]>>\nendobj\nxref", b" 0]>>\nendobj\nxref")
    data = data.replace(b"startxref\n" + place, b"startxref\n%d" % (int(place) + 2))
    path.write_bytes(sealed(data, data, Format.PDF))
    with pytest.raises(Refused) as refused:
        read_film(path, film_folder)
    assert "more strips than rows" in str(refused.value.__cause__)

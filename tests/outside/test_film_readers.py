"""Films opened by software that had no part in writing them.

Sources: tifffile with imagecodecs (their own TIFF reader; libtiff's T.6 decoder), libtiff's
command-line tools, libcups' raster reader and media table, and a PWG Raster decoder written
here from the words of PWG 5102.4, section 4.4 (compression).
"""

from __future__ import annotations

import ctypes
import ctypes.util
import shutil
import struct
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import write_films
from filmhand.units import Resolution, SheetSize

pytestmark = pytest.mark.outside

SHEETS = {
    "dots": (1203, 911, Resolution(600, 600)),
    "unequal": (640, 521, Resolution(1440, 720)),
    "narrow": (9, 700, Resolution(300, 300)),
    "grain": (517, 800, Resolution(2400, 2400)),
    "blank": (100, 300, Resolution(360, 360)),
}


def draw(name: str) -> NDArray[np.bool_]:
    """Ink, with a mark in one corner so that a turned or mirrored film is noticed."""
    width, height, _ = SHEETS[name]
    y, x = np.mgrid[:height, :width]
    ink: NDArray[np.bool_] = np.cos(0.5 * x + 0.2 * y) + np.cos(0.5 * y - 0.2 * x) > 0.3
    if name == "grain":
        ink = np.random.default_rng(2).random((height, width)) < 0.4
    if name == "blank":
        ink[:] = False
    ink[: height // 4, : width // 5] = y[: height // 4, : width // 5] % 3 == 0
    return ink


@pytest.fixture(params=SHEETS)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def film(name: str, format: Format, folder: Path) -> tuple[Path, NDArray[np.bool_], Resolution]:
    ink = draw(name)
    height, width = ink.shape
    path = folder / f"film{format.suffix}"
    with BitSheet.create(folder / "sheet.bits", width=width, height=height) as sheet:
        sheet.write(0, np.packbits(ink, axis=1))
        write_films(sheet, {format: path}, dpi=SHEETS[name][2])
    return path, ink, SHEETS[name][2]


def test_tiff_by_tifffile_and_imagecodecs(name: str, tmp_path: Path) -> None:
    path, ink, dpi = film(name, Format.TIFF, tmp_path)
    with tifffile.TiffFile(path) as tiff:
        (page,) = tiff.pages
        assert page.photometric == tifffile.PHOTOMETRIC.MINISWHITE
        assert page.bitspersample == page.samplesperpixel == 1
        assert page.compression in {
            tifffile.COMPRESSION.CCITT_T6,
            tifffile.COMPRESSION.ADOBE_DEFLATE,
        }
        assert (page.compression == tifffile.COMPRESSION.CCITT_T6) == (name != "grain")
        assert page.tags["XResolution"].value == (dpi.x, 1)
        assert page.tags["YResolution"].value == (dpi.y, 1)
        assert page.tags["ResolutionUnit"].value == tifffile.RESUNIT.INCH
        assert page.rowsperstrip == 256
        assert "DateTime" not in page.tags
        # Stored 1 is black in a MinIsWhite film.
        assert np.array_equal(page.asarray().astype(np.bool_), ink)


def test_tiff_and_png_by_pillow(name: str, tmp_path: Path) -> None:
    for format in (Format.TIFF, Format.PNG):
        path, ink, dpi = film(name, format, tmp_path)
        with Image.open(path) as picture:
            assert picture.mode == "1"
            assert picture.info["dpi"] == pytest.approx((dpi.x, dpi.y), abs=0.02)
            assert np.array_equal(~np.asarray(picture), ink)


def need(tool: str) -> str:
    found = shutil.which(tool)
    if not found:
        pytest.skip(f"{tool} is not installed")
    return found


def test_tiff_by_libtiffs_tools(name: str, tmp_path: Path) -> None:
    info, copy = need("tiffinfo"), need("tiffcp")
    path, ink, dpi = film(name, Format.TIFF, tmp_path)
    told = subprocess.run([info, "-D", path], capture_output=True, text=True, check=True)
    assert told.stderr == ""
    assert f"Resolution: {dpi.x}, {dpi.y} pixels/inch" in told.stdout
    assert "Photometric Interpretation: min-is-white" in told.stdout
    plain = tmp_path / "plain.tif"
    done = subprocess.run(
        [copy, "-c", "none", path, plain], capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    with tifffile.TiffFile(plain) as tiff:
        assert np.array_equal(tiff.pages[0].asarray().astype(np.bool_), ink)


# PWG 5102.4-2012, table 3 (page header): byte offset of each field.
WIDTH, HEIGHT, BITS_PER_COLOR, BITS_PER_PIXEL, BYTES_PER_LINE = 372, 376, 384, 388, 392
RESOLUTION, PAGE_SIZE, COLOR_ORDER, COLOR_SPACE, COLORS = 276, 352, 396, 400, 420
CROSS_FEED, FEED, IMAGE_BOX, PRIMARY, QUALITY, SIZE_NAME = 456, 460, 464, 480, 484, 1732
BLACK = 3
PAGES = 452
# libcups leaves the first of these open and puts a box of its own into bytes that are reserved.
DIFFERENT = (PAGES, *range(IMAGE_BOX, IMAGE_BOX + 16, 4), QUALITY, 292, 296)


def pwg_pages(data: bytes) -> Iterator[tuple[bytes, NDArray[np.bool_]]]:
    """Header and ink of each page, packet by packet as the standard tells it."""
    assert data[:4] == b"RaS2"
    at = 4
    while at < len(data):
        header = data[at : at + 1796]
        at += 1796
        height, line_bytes = (
            struct.unpack_from(">I", header, field)[0] for field in (HEIGHT, BYTES_PER_LINE)
        )
        lines: list[bytes] = []
        while len(lines) < height:
            repeat, at = data[at] + 1, at + 1
            line = b""
            while len(line) < line_bytes:
                control, at = data[at], at + 1
                if control < 128:
                    line, at = line + data[at : at + 1] * (control + 1), at + 1
                else:
                    assert control != 128
                    count = 257 - control
                    line, at = line + data[at : at + count], at + count
            assert len(line) == line_bytes
            lines += [line] * repeat
        assert len(lines) == height
        width = struct.unpack_from(">I", header, WIDTH)[0]
        rows = np.frombuffer(b"".join(lines), np.uint8).reshape(height, line_bytes)
        assert not np.unpackbits(rows, axis=1)[:, width:].any()
        yield header, np.unpackbits(rows, axis=1, count=width).astype(np.bool_)


def test_pwg_raster_by_a_decoder_of_its_own(name: str, tmp_path: Path) -> None:
    path, ink, dpi = film(name, Format.PWG, tmp_path)
    ((header, seen),) = pwg_pages(path.read_bytes())
    assert np.array_equal(seen, ink)

    def field(offset: int) -> int:
        return int(struct.unpack_from(">I", header, offset)[0])

    height, width = ink.shape
    assert header[:10] == b"PwgRaster\0"
    assert (field(RESOLUTION), field(RESOLUTION + 4)) == (dpi.x, dpi.y)
    assert (field(BITS_PER_COLOR), field(BITS_PER_PIXEL), field(COLORS)) == (1, 1, 1)
    assert (field(COLOR_ORDER), field(COLOR_SPACE)) == (0, BLACK)
    assert field(BYTES_PER_LINE) == -(-width // 8)
    assert [field(IMAGE_BOX + 4 * side) for side in range(4)] == [0, 0, width, height]
    assert (field(CROSS_FEED), field(FEED), field(PRIMARY)) == (1, 1, 0xFFFFFF)
    assert field(PAGE_SIZE) == width * 72 // dpi.x
    assert header[SIZE_NAME:].rstrip(b"\0").startswith(b"custom_film_")


def libcups() -> ctypes.CDLL:
    found = ctypes.util.find_library("cups")
    if not found:
        pytest.skip("libcups is not installed")
    library = ctypes.CDLL(found)
    library.cupsRasterOpen.restype = ctypes.c_void_p
    library.cupsRasterOpen.argtypes = [ctypes.c_int, ctypes.c_int]
    library.cupsRasterReadHeader2.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
    library.cupsRasterReadPixels.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_uint]
    library.cupsRasterClose.argtypes = [ctypes.c_void_p]
    return library


def test_pwg_raster_by_libcups(name: str, tmp_path: Path) -> None:
    cups = libcups()
    path, ink, _ = film(name, Format.PWG, tmp_path)
    header = ctypes.create_string_buffer(1796)
    with path.open("rb") as file:
        raster = cups.cupsRasterOpen(file.fileno(), 0)
        assert raster
        assert cups.cupsRasterReadHeader2(raster, header) == 1
        size = np.packbits(ink, axis=1).size
        pixels = ctypes.create_string_buffer(size)
        row_bytes = size // len(ink)
        for y in range(len(ink)):
            place = ctypes.byref(pixels, y * row_bytes)
            assert cups.cupsRasterReadPixels(raster, place, row_bytes) == row_bytes
        assert cups.cupsRasterReadHeader2(raster, header) == 0  # no second page
        cups.cupsRasterClose(raster)
    rows = np.frombuffer(pixels.raw, np.uint8)[:size].reshape(len(ink), row_bytes)
    seen = np.unpackbits(rows, axis=1, count=ink.shape[1]).astype(np.bool_)
    assert np.array_equal(seen, ink)


class PwgMedia(ctypes.Structure):
    """``pwg_media_t`` of cups/pwg.h."""

    _fields_ = (
        ("pwg", ctypes.c_char_p),
        ("legacy", ctypes.c_char_p),
        ("ppd", ctypes.c_char_p),
        ("width", ctypes.c_int),
        ("length", ctypes.c_int),
    )


@pytest.mark.parametrize("dpi", [300, 600])
@pytest.mark.parametrize(
    "hundredths",
    [
        (21590, 27940),
        (21590, 35560),
        (27940, 43180),
        (33020, 48260),
        (21000, 29700),
        (29700, 42000),
    ],
)
def test_page_header_as_libcups_makes_it(
    hundredths: tuple[int, int], dpi: int, tmp_path: Path
) -> None:
    """Every field of the header and the medium's name, for the sheets that have one."""
    cups = libcups()
    cups.pwgMediaForSize.restype = ctypes.POINTER(PwgMedia)
    medium = cups.pwgMediaForSize(*hundredths)
    made = ctypes.create_string_buffer(1796)
    assert cups.cupsRasterInitPWGHeader(made, medium, b"black_1", dpi, dpi, b"one-sided", None)
    width, height = SheetSize(*hundredths).pixels(Resolution(dpi, dpi))
    path = tmp_path / "film.pwg"
    with BitSheet.create(tmp_path / "sheet.bits", width=width, height=height) as sheet:
        write_films(sheet, {Format.PWG: path}, dpi=Resolution(dpi, dpi))
    theirs = tmp_path / "theirs.pwg"
    cups.cupsRasterWriteHeader2.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
    with theirs.open("wb") as file:
        raster = cups.cupsRasterOpen(file.fileno(), 3)  # CUPS_RASTER_WRITE_PWG
        assert cups.cupsRasterWriteHeader2(raster, made) == 1
        cups.cupsRasterClose(raster)
    ours, expected = (some.read_bytes()[: 4 + 1796] for some in (path, theirs))
    differing = {at - 4 for at in range(len(ours)) if ours[at] != expected[at]}
    named = {field + byte for field in DIFFERENT for byte in range(4)}
    assert differing <= named, sorted(differing - named)

"""Writing, reading back and verifying, for every format."""

from __future__ import annotations

import errno
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from filmhand.errors import Refused
from filmhand.film import strips, tiff
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.read import read_film
from filmhand.film.write import verify_film, write_films
from filmhand.units import Resolution

MakeSheet = Callable[[NDArray[np.bool_]], BitSheet]
DPI = Resolution(600, 600)
EVERY = pytest.mark.parametrize("format", list(Format))


def pixels_of(sheet: BitSheet) -> NDArray[np.bool_]:
    rows = sheet.read(0, sheet.height)
    return np.unpackbits(rows, axis=1, count=sheet.width).astype(np.bool_)


def round_trip(
    pixels: NDArray[np.bool_], make_sheet: MakeSheet, folder: Path, format: Format
) -> Path:
    """Write, verify, read back, compare; the film's path."""
    sheet = make_sheet(pixels)
    path = folder / f"film{Format(format).suffix}"
    dpi = Resolution(720, 360)
    write_films(sheet, {format: path}, dpi=dpi)
    verify_film(path, sheet, format=format, dpi=dpi)
    again, found = read_film(path, folder)
    assert (again.width, again.height, found) == (sheet.width, sheet.height, dpi)
    assert np.array_equal(pixels_of(again), pixels)
    again.close()
    sheet.close()
    return path


def dots(width: int, height: int) -> NDArray[np.bool_]:
    """Round dots at an angle, larger to the right, within a clear edge."""
    y, x = np.mgrid[:height, :width]
    u, v = 0.5 * x + 0.2 * y, 0.5 * y - 0.2 * x
    ink: NDArray[np.bool_] = np.cos(u) + np.cos(v) > 2 - 4 * x / width
    ink[:2] = ink[-2:] = False
    return ink


def checkerboard(width: int, height: int) -> NDArray[np.bool_]:
    """The pattern Group 4 makes largest: three times its packed size."""
    y, x = np.mgrid[:height, :width]
    checks: NDArray[np.bool_] = (x + y) % 2 == 0
    return checks


def asymmetric(width: int, height: int) -> NDArray[np.bool_]:
    """No turn, mirror or change of bit order maps this onto itself."""
    ink = np.zeros((height, width), np.bool_)
    ink[0, : max(1, width // 3)] = True
    ink[: max(1, height // 2), 0] = True
    ink[height // 5, width // 2] = True
    return ink


PATTERNS: dict[str, NDArray[np.bool_]] = {
    "blank": np.zeros((300, 77), np.bool_),
    "solid": np.ones((300, 77), np.bool_),
    "one pixel": np.ones((1, 1), np.bool_),
    "one row": dots(1001, 1) | asymmetric(1001, 1),
    "one column": asymmetric(1, 600),
    "asymmetric": asymmetric(203, 301),
    "checkerboard": checkerboard(131, 530),
    "dots in three strips": dots(333, 700),
    "exactly two strips": dots(64, 512),
    "a row over two strips": dots(65, 513),
    "wide": dots(5003, 9),
}


@EVERY
@pytest.mark.parametrize("pattern", PATTERNS)
def test_round_trip(pattern: str, format: Format, make_sheet: MakeSheet, film_folder: Path) -> None:
    round_trip(PATTERNS[pattern], make_sheet, film_folder, format)


@EVERY
@settings(max_examples=40, deadline=None)
@given(
    width=st.integers(1, 70),
    height=st.integers(1, 40),
    ink=st.floats(0, 1),
    rows=st.sampled_from([8, 13, 256]),
    seed=st.integers(0, 2**32 - 1),
)
def test_round_trip_of_random_bits(
    width: int,
    height: int,
    ink: float,
    rows: int,
    seed: int,
    format: Format,
    make_sheet: MakeSheet,
    film_folder: Path,
) -> None:
    pixels = np.random.default_rng(seed).random((height, width)) < ink
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strips, "ROWS_PER_STRIP", rows)
        round_trip(pixels, make_sheet, film_folder, format)


def test_tiff_is_group4_unless_that_would_swell(make_sheet: MakeSheet, film_folder: Path) -> None:
    smooth = round_trip(dots(333, 700), make_sheet, film_folder, Format.TIFF)
    with Image.open(smooth) as picture:
        assert picture.info["compression"] == "group4"
    grain = np.random.default_rng(1).random((700, 333)) < 0.5
    swelling = round_trip(grain, make_sheet, film_folder, Format.TIFF)
    with Image.open(swelling) as picture:
        assert picture.tag_v2[259] == 8
    assert swelling.stat().st_size < 1.1 * 700 * 333 / 8 + 600


@pytest.mark.parametrize("grain", [False, True])
def test_every_tag_of_a_tiff_is_as_readers_want_it(
    grain: bool, make_sheet: MakeSheet, film_folder: Path
) -> None:
    """TIFF 6.0, bilevel images; without a date, so that the same bits give the same bytes."""
    pixels = np.random.default_rng(1).random((700, 333)) < 0.5 if grain else dots(333, 700)
    path = film_folder / "tags.tif"
    write_films(make_sheet(pixels), {Format.TIFF: path}, dpi=Resolution(720, 360))
    with Image.open(path) as picture:
        tags = dict(picture.tag_v2)
    places, counts, description = (tags.pop(tag) for tag in (273, 279, 270))
    assert len(places) == len(counts) == 3 and all(place % 2 == 0 for place in places)
    assert description.startswith("SHA-256 of the strips: ")
    group4 = {} if grain else {293: 0}
    assert tags == group4 | {
        254: 0, 256: 333, 257: 700, 258: (1,), 259: 8 if grain else 4, 262: 0, 266: 1, 274: 1,
        277: 1, 278: 256, 282: 720, 283: 360, 296: 2, 305: "filmhand",
    }  # fmt: skip


def test_pdf_is_group4_unless_that_would_swell(make_sheet: MakeSheet, film_folder: Path) -> None:
    smooth = round_trip(dots(333, 700), make_sheet, film_folder, Format.PDF).read_bytes()
    assert b"/CCITTFaxDecode" in smooth
    checks = round_trip(checkerboard(333, 700), make_sheet, film_folder, Format.PDF).read_bytes()
    assert b"/FlateDecode" in checks
    assert b"/CCITTFaxDecode" not in checks


def test_a_sheet_that_swells_in_one_part_only_is_judged_as_a_whole(
    make_sheet: MakeSheet, film_folder: Path
) -> None:
    pixels = np.zeros((3000, 64), np.bool_)
    pixels[:200] = checkerboard(64, 200)
    path = round_trip(pixels, make_sheet, film_folder, Format.TIFF)
    with Image.open(path) as picture:
        assert picture.info["compression"] == "group4"


@EVERY
def test_same_bits_give_same_bytes(
    format: Format, make_sheet: MakeSheet, film_folder: Path
) -> None:
    for pixels in (dots(333, 700), checkerboard(333, 700)):
        sheet = make_sheet(pixels)
        contents = []
        for name, threads in (("one", 1), ("two", 2), ("three", 3)):
            path = film_folder / name
            write_films(sheet, {format: path}, dpi=DPI, threads=threads)
            contents.append(path.read_bytes())
        assert contents[0] == contents[1] == contents[2]


def test_films_written_together_are_those_written_alone(
    make_sheet: MakeSheet, film_folder: Path
) -> None:
    sheet = make_sheet(dots(333, 700))
    together = {format: film_folder / f"together{format.suffix}" for format in Format}
    write_films(sheet, together, dpi=DPI)
    for format, path in together.items():
        alone = film_folder / f"alone{format.suffix}"
        write_films(sheet, {format: alone}, dpi=DPI)
        assert path.read_bytes() == alone.read_bytes()


@EVERY
def test_an_older_longer_file_is_replaced_whole(
    format: Format, make_sheet: MakeSheet, film_folder: Path
) -> None:
    path = film_folder / f"film{format.suffix}"
    path.write_bytes(b"old" * 100_000)
    sheet = make_sheet(asymmetric(203, 301))
    write_films(sheet, {format: path}, dpi=DPI)
    verify_film(path, sheet, format=format, dpi=DPI)


@EVERY
def test_a_full_disk_keeps_its_error_number(format: Format, make_sheet: MakeSheet) -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    with pytest.raises(OSError, match=r".") as caught:
        write_films(make_sheet(dots(333, 700)), {format: full}, dpi=DPI)
    assert caught.value.errno == errno.ENOSPC


CHILD = """
import resource, sys
from pathlib import Path
import numpy as np
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import write_films
from filmhand.units import Resolution

folder = Path(sys.argv[1])
rows = np.random.default_rng(1).integers(0, 256, (600, 50), np.uint8)
sheet = BitSheet.create(folder / "sheet.bits", width=400, height=600)
sheet.write(0, rows)
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
attempts = {format: lambda path, format=format: write_films(
    sheet, {format: path}, dpi=Resolution(600, 600)) for format in Format}
attempts["bits"] = lambda path: BitSheet.create(path, width=400, height=600)
for name, attempt in attempts.items():
    try:
        attempt(folder / f"film.{name}")
    except OSError as error:
        print(name, error.errno)
    else:
        print(name, "written")
"""


def test_a_limit_on_the_file_size_shows_as_an_error_with_its_number(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    expected = [f"{name} {errno.EFBIG}" for name in (*Format, "bits")]
    assert done.stdout.splitlines() == expected


def test_a_tiff_over_4_gb_is_refused(
    make_sheet: MakeSheet, film_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tiff, "_LARGEST", 900)
    with pytest.raises(Refused, match="4 GB"):
        write_films(make_sheet(dots(333, 700)), {Format.TIFF: film_folder / "f.tif"}, dpi=DPI)


MEMORY = """
import resource, sys
from pathlib import Path
import numpy as np
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.read import read_film
from filmhand.film.write import verify_film, write_films
from filmhand.units import Resolution

folder, dpi = Path(sys.argv[1]), Resolution(1200, 1200)
sheet = BitSheet.create(folder / "sheet.bits", width=12_000, height=20_000)
for y in range(0, 20_000, 40):
    sheet.write(y, np.full((2, 1500), 0x3C, np.uint8))
paths = {format: folder / f"film{format.suffix}" for format in Format}
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
write_films(sheet, paths, dpi=dpi)
for format, path in paths.items():
    verify_film(path, sheet, format=format, dpi=dpi)
    again, _ = read_film(path, folder)
    for y in range(0, 20_000, 500):
        assert np.array_equal(again.read(y, 500), sheet.read(y, 500))
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print((after - before) // 1024)
"""


@pytest.mark.slow
def test_memory_does_not_grow_with_the_sheet(tmp_path: Path) -> None:
    """240 million pixels: 229 MiB at a byte a pixel, and past Pillow's limit on pixels."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", MEMORY, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        timeout=300,
    )
    unit = 1 if sys.platform.startswith("linux") else 1024
    assert int(done.stdout) / unit < 80

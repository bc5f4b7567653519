"""A film's PDF rendered by renderers that had no part in writing it, bit for bit.

Sources: PDFium (through pypdfium2) and Poppler's pdftoppm as two independent renderers, QPDF
(through pikepdf, and its command-line check) for the structure of the file.
"""

from __future__ import annotations

import shutil
import subprocess
from decimal import Decimal
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.write import write_films
from filmhand.units import Resolution, SheetSize

pytestmark = pytest.mark.outside

CASES = [
    (1201, 899, Resolution(600, 600), "dots"),
    (1207, 901, Resolution(600, 600), "dots"),
    (640, 481, Resolution(300, 300), "grain"),
    (333, 517, Resolution(720, 720), "dots"),
    (777, 600, Resolution(1440, 720), "dots"),
    (777, 600, Resolution(1200, 600), "grain"),
    (500, 1501, Resolution(1200, 2400), "dots"),
    (1003, 707, Resolution(2880, 2880), "dots"),
    (97, 700, Resolution(700, 350), "dots"),
    (3, 5, Resolution(600, 600), "dots"),
    (64, 64, Resolution(72, 72), "blank"),
    (65, 300, Resolution(4800, 4800), "solid"),
]
NAMES = [f"{w}x{h} at {dpi} {kind}" for w, h, dpi, kind in CASES]
EVERY = pytest.mark.parametrize(("width", "height", "dpi", "kind"), CASES, ids=NAMES)


def draw(width: int, height: int, kind: str) -> NDArray[np.bool_]:
    y, x = np.mgrid[:height, :width]
    ink: NDArray[np.bool_] = np.cos(0.5 * x + 0.2 * y) + np.cos(0.5 * y - 0.2 * x) > 0.3
    if kind == "grain":
        ink = np.random.default_rng(4).random((height, width)) < 0.5
    elif kind != "dots":
        return np.full((height, width), kind == "solid")
    # Lines of one pixel at all four edges: a lost, doubled or moved edge shows.
    ink[[0, -1], ::2] = True
    ink[::3, [0, -1]] = True
    ink[: height // 8, : width // 3] = False
    return ink


def write(ink: NDArray[np.bool_], dpi: Resolution, folder: Path) -> Path:
    height, width = ink.shape
    path = folder / "film.pdf"
    with BitSheet.create(folder / "sheet.bits", width=width, height=height) as sheet:
        sheet.write(0, np.packbits(ink, axis=1))
        write_films(sheet, {Format.PDF: path}, dpi=dpi)
    return path


def by_pdfium(path: Path, width: int, height: int) -> NDArray[np.uint8]:
    """Gray values of the page rendered into a bitmap of exactly the film's size."""
    document = pypdfium2.PdfDocument(path)
    page = document[0]
    bitmap = pypdfium2.PdfBitmap.new_native(width, height, pypdfium2.raw.FPDFBitmap_Gray)
    bitmap.fill_rect((255, 255, 255, 255), 0, 0, width, height)
    pdfium.FPDF_RenderPageBitmap(bitmap, page, 0, 0, width, height, 0, pdfium.FPDF_GRAYSCALE)
    gray = bitmap.to_numpy().reshape(height, width).copy()
    bitmap.close()
    page.close()
    document.close()
    return gray


@EVERY
def test_pdfium_renders_the_films_bits(
    width: int, height: int, dpi: Resolution, kind: str, tmp_path: Path
) -> None:
    ink = draw(width, height, kind)
    gray = by_pdfium(write(ink, dpi, tmp_path), width, height)
    assert set(np.unique(gray)) <= {0, 255}
    assert np.array_equal(gray == 0, ink)


@EVERY
def test_poppler_renders_the_films_bits(
    width: int, height: int, dpi: Resolution, kind: str, tmp_path: Path
) -> None:
    tool = shutil.which("pdftoppm")
    if not tool:
        pytest.skip("pdftoppm is not installed")
    ink = draw(width, height, kind)
    path = write(ink, dpi, tmp_path)
    size = ["-x", "0", "-y", "0", "-W", str(width), "-H", str(height)]
    command = [tool, "-mono", "-rx", str(dpi.x), "-ry", str(dpi.y), *size, "-singlefile", path]
    done = subprocess.run([*command, tmp_path / "page"], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    with Image.open(tmp_path / "page.pbm") as picture:
        assert np.array_equal(~np.asarray(picture), ink)


@pytest.mark.slow
def test_a_whole_sheet_in_pdfium(tmp_path: Path) -> None:
    """A4 at 600 dpi, whose size in points is not round."""
    dpi = Resolution(600, 600)
    width, height = SheetSize(21000, 29700).pixels(dpi)
    ink = draw(width, height, "dots")
    assert np.array_equal(by_pdfium(write(ink, dpi, tmp_path), width, height) == 0, ink)


@EVERY
def test_structure_as_qpdf_reads_it(
    width: int, height: int, dpi: Resolution, kind: str, tmp_path: Path
) -> None:
    path = write(draw(width, height, kind), dpi, tmp_path)
    with pikepdf.open(path) as document:
        assert document.check_pdf_syntax() == []
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        assert "/Info" not in document.trailer
        (page,) = document.pages
        assert list(page.CropBox) == list(page.MediaBox)
        (film,) = page.Resources.XObject.values()
        assert film.ImageMask
        assert (film.Width, film.Height, film.BitsPerComponent) == (width, height, 1)
        assert not film.Interpolate
        if width * height > 1000:
            assert (film.Filter == "/FlateDecode") == (kind == "grain")
        if film.Filter == "/FlateDecode":
            samples = np.frombuffer(film.read_bytes(), np.uint8).reshape(height, -1)
            painted = np.unpackbits(samples, axis=1, count=width) == 0
            assert np.array_equal(painted, draw(width, height, kind))
        else:
            assert film.Filter == "/CCITTFaxDecode"
            parameters = film.DecodeParms
            assert (parameters.K, parameters.Columns, parameters.Rows) == (-1, width, height)
            assert not parameters.BlackIs1


@EVERY
def test_page_has_the_films_physical_size(
    width: int, height: int, dpi: Resolution, kind: str, tmp_path: Path
) -> None:
    path = write(draw(width, height, kind), dpi, tmp_path)
    with pikepdf.open(path) as document:
        left, bottom, right, top = map(Decimal, map(str, document.pages[0].MediaBox))
    assert (left, bottom) == (0, 0)
    # ISO 32000-1, 8.3.2.3: a unit is 1/72 inch. A millionth of a point is 0.35 nm.
    assert abs(right - Decimal(width) * 72 / dpi.x) <= Decimal("1e-6")
    assert abs(top - Decimal(height) * 72 / dpi.y) <= Decimal("1e-6")


def test_qpdf_finds_nothing_to_complain_about(tmp_path: Path) -> None:
    tool = shutil.which("qpdf")
    if not tool:
        pytest.skip("qpdf is not installed")
    for kind in ("dots", "grain"):
        path = write(draw(640, 700, kind), Resolution(600, 600), tmp_path)
        done = subprocess.run([tool, "--check", path], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, "")
        assert "No syntax or stream encoding errors found" in done.stdout

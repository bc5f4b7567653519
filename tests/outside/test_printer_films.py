"""The films to measure a printer by, read with tools that are not ours.

tifffile, Pillow and PDFium read the bits; lines are found in them by hand, combs and checkers by
NumPy's Fourier transform, dots and holes counted by scikit-image.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import tifffile
from PIL import Image

from filmhand.film.formats import Format
from filmhand.pipeline.printer_films.device_film import make_device_sheet
from filmhand.pipeline.printer_films.ruler_film import make_ruler
from filmhand.profile.read.load import read_profile

measure = pytest.importorskip("skimage.measure")
pytestmark = pytest.mark.outside


def profile_of(*, sheet: str, dpi: str, scale: str = "", margin: str = "0.25 in") -> Any:
    text = (
        f"sheet: {sheet}\ndpi: {dpi}\nthreshold: 50\nmesh: none\nmargin: {margin}\n"
        f"art: {{treat: line}}\nwrite: [tiff, png, pdf]\n{scale}"
    )
    return read_profile(text, name="printer", file="printer.yaml")


def bits_of(made: dict[Format, Path], dpi: tuple[int, int]) -> Any:
    """The bits, the same in each of three formats."""
    files = {str(kind): path for kind, path in made.items()}
    bits = tifffile.imread(files["tiff"]).astype(bool)
    with tifffile.TiffFile(files["tiff"]) as file:
        tags = file.pages[0].tags
        assert tags["XResolution"].value == (dpi[0], 1)
        assert tags["YResolution"].value == (dpi[1], 1)
    with Image.open(files["png"]) as image:
        assert np.array_equal(~np.asarray(image.convert("1")), bits)
    height, width = bits.shape
    page = pypdfium2.PdfDocument(files["pdf"])[0]
    assert page.get_width() == pytest.approx(width * 72 / dpi[0], abs=0.01)
    canvas = pypdfium2.PdfBitmap.new_native(width, height, pdfium.FPDFBitmap_Gray)
    canvas.fill_rect((255, 255, 255, 255), 0, 0, width, height)
    pdfium.FPDF_RenderPageBitmap(canvas, page, 0, 0, width, height, 0, pdfium.FPDF_GRAYSCALE)
    assert np.array_equal(canvas.to_numpy().reshape(height, width) < 128, bits)
    return bits


def rises(row: Any) -> Any:
    """The first pixel of each run of ink."""
    return np.flatnonzero(np.diff(np.r_[0, row.astype(int)]) == 1)


@pytest.mark.parametrize(
    ("sheet", "dpi", "lengths"),
    [
        ("a4", (300, 300), (150, 250)),
        ("11 x 17 in", (600, 600), (250, 300)),
        ("13 x 19 in", (360, 360), (300, 300)),
        ("letter", (600, 1200), (200, 250)),
        ("letter", (200, 200), (200, 250)),
        ("70 x 50 mm", (300, 300), (50, 20)),
    ],
)
def test_lines_of_the_ruler_lie_where_their_numbers_say(
    tmp_path: Path, sheet: str, dpi: tuple[int, int], lengths: tuple[int, int]
) -> None:
    profile = profile_of(sheet=sheet, dpi=f"{dpi[0]} x {dpi[1]}")
    made, told = make_ruler(profile, tmp_path)
    bits = bits_of(made, dpi)
    assert (told["across_mm"], told["down_mm"]) == lengths
    left, top = np.flatnonzero(bits.any(0))[0], np.flatnonzero(bits.any(1))[0]
    for length, along, step, line in (
        # Through the longest lines only; then through those of 10 mm too.
        (lengths[0], dpi[0], 50, bits[top + round(7 / 25.4 * dpi[1])]),
        (lengths[0], dpi[0], 10, bits[top + round(5 / 25.4 * dpi[1])]),
        (lengths[1], dpi[1], 50, bits[:, left + round(7 / 25.4 * dpi[0])]),
        (lengths[1], dpi[1], 10, bits[:, left + round(5 / 25.4 * dpi[0])]),
    ):
        found = rises(line)
        if line.size == bits.shape[0]:  # the left bar begins below the upper one
            zero = top + round(13 / 25.4 * dpi[1])
            found = found[found >= zero]
        places = (found - found[0]) / along * 25.4
        wanted = np.unique([*np.arange(0, length + 1, step), length])
        assert places == pytest.approx(wanted, abs=25.4 / along)
        assert found[-1] - found[0] == round(length / 25.4 * along)


def test_the_ruler_is_the_same_whatever_the_profile_s_scale(tmp_path: Path) -> None:
    films = []
    for name, scale in (("with", "print: {scale: [97 %, 103 %]}\n"), ("without", "")):
        (tmp_path / name).mkdir()
        profile = profile_of(sheet="letter", dpi="300", scale=scale)
        made, told = make_ruler(profile, tmp_path / name)
        films.append(bits_of(made, (300, 300)))
        assert told["scale_now_pct"] == ([97.0, 103.0] if scale else [100.0, 100.0])
    assert np.array_equal(*films)


@pytest.mark.parametrize(
    ("sheet", "dpi"), [("a4", (300, 300)), ("5 x 7 in", (600, 1200)), ("5 x 6 in", (1200, 1200))]
)
def test_patches_of_the_device_sheet_are_what_stands_below_them(
    tmp_path: Path, sheet: str, dpi: tuple[int, int]
) -> None:
    profile = profile_of(
        sheet=sheet, dpi=f"{dpi[0]} x {dpi[1]}", scale="print: {scale: [98 %, 101 %]}\n"
    )
    made, told = make_device_sheet(profile, tmp_path)
    bits = bits_of(made, dpi)
    seen = set()
    for patch in told["patches"]:
        left, top, width, height = patch["box_px"]
        part = bits[top : top + height, left : left + width]
        kind = patch["shows"]
        sizes = [int(number) for number in re.findall(r"\d+", kind)]
        seen.add(kind.split()[0])
        if kind.startswith("SOLID"):
            assert part.all()
        elif kind.startswith("CLEAR"):
            edge = round(0.6 / 25.4 * max(dpi))
            assert not part[edge:-edge, edge:-edge].any()
            assert part[0].all() and part[:, 0].all()
        elif kind.startswith(("lines and gaps", "checker")):
            assert part.mean() == pytest.approx(0.5, abs=max(sizes) / min(part.shape))
            assert frequency(part, sizes[0]) == {
                "u": (0.0, 0.5 / sizes[0]), "l": (0.5 / sizes[0], 0.0),
            }.get(kind.split(", ")[-1][0], (0.5 / sizes[0], 0.5 / sizes[0]))  # fmt: skip
        elif kind.startswith("single"):
            ink = part if "lines" in kind else ~part
            row = ink[height // 2] if "upright" in kind else ink[:, width // 2]
            ends = np.flatnonzero(np.diff(np.r_[0, row.astype(int), 0]) == -1)
            assert (ends - rises(row)).tolist() == [1, 2, 3]
        else:
            ink = part if kind.startswith("dots") else ~part
            (size, _) = sizes
            # Without those that the patch cuts.
            regions = [
                region
                for region in measure.regionprops(measure.label(ink, connectivity=2))
                if region.bbox[2] < height and region.bbox[3] < width
            ]
            assert len(regions) > 16
            assert {region.area for region in regions} == {size**2}
            whole = ink[: height // (4 * size) * 4 * size, : width // (4 * size) * 4 * size]
            assert whole.mean() == 1 / 16
    assert seen == {"SOLID:", "CLEAR:", "lines", "checker", "single", "dots", "shadow"}
    # Nothing is drawn where the printer does not reach.
    rows, columns = np.flatnonzero(bits.any(1)), np.flatnonzero(bits.any(0))
    edge = 0.25
    assert rows[0] >= edge * dpi[1] and columns[0] >= edge * dpi[0]
    assert rows[-1] < bits.shape[0] - int(edge * dpi[1])
    assert columns[-1] < bits.shape[1] - int(edge * dpi[0])


def frequency(part: Any, size: int) -> tuple[float, float]:
    """(down, across) of the strongest wave of whole periods, in cycles a pixel."""
    side = min(part.shape) // (2 * size) * 2 * size
    power = np.abs(np.fft.fft2(part[:side, :side] - 0.5))
    row, column = np.unravel_index(
        power[: side // 2 + 1, : side // 2 + 1].argmax(), (side // 2 + 1,) * 2
    )
    return float(row / side), float(column / side)

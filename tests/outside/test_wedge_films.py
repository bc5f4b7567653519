"""The wedge, read with tools that are not ours.

tifffile, Pillow, PDFium and Poppler read the bits, zxing-cpp the code, scikit-image counts and
measures dots, holes and lines.
"""

from __future__ import annotations

import shutil
import subprocess
from math import pi, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import tifffile
from PIL import Image

from filmhand.pipeline.printer_films.wedge_film import make_wedge
from filmhand.profile.read.load import read_profile
from filmhand.sheet.wedge_identity import WedgeIdentity, WedgeKind
from filmhand.sheet.wedge_layout import FEWER_TONES

measure = pytest.importorskip("skimage.measure")
zxingcpp = pytest.importorskip("zxingcpp")
pytestmark = pytest.mark.outside

SMALL = {"sheet": "3 x 4 in", "dpi": "300", "lpi": "30", "more": ""}
CASES = {
    "small": SMALL,
    "finest": {**SMALL, "dpi": "600", "lpi": "60"},
    "on its side, mirrored": {**SMALL, "sheet": "4 x 3 in", "more": "film: {mirror: true}\n"},
    "negative": {**SMALL, "more": "film: {negative: true}\n"},
    "mirrored negative": {**SMALL, "more": "film: {mirror: true, negative: true}\n"},
    "unequal pixels": {**SMALL, "dpi": "300 x 600"},
    "scaled": {**SMALL, "more": "print: {scale: [97 %, 103 %]}\n"},
    "curve and hold": {**SMALL, "more": "tone: {gain: 25, hold: [20, 80], dropout: 30}\n"},
    "letter": {**SMALL, "sheet": "letter", "lpi": "25"},
}


def profile_of(*, sheet: str, dpi: str, lpi: str, more: str) -> Any:
    text = (
        f"sheet: {sheet}\ndpi: {dpi}\nlpi: {lpi}\ndot: round\nthreshold: 50\nmesh: 43-80\n"
        f"margin: 0.25 in\nangle: 22.5\nwrite: [tiff, png, pdf]\n{more}"
    )
    return read_profile(text, name="press", file="press.yaml")


@pytest.fixture(scope="module", params=CASES.values(), ids=CASES)
def wedge(request: Any, tmp_path_factory: Any) -> tuple[Any, Any, dict[str, Any], dict[str, Path]]:
    """(profile, bits of the TIFF, what is told, files)."""
    profile = profile_of(**request.param)
    made, told = make_wedge(profile, tmp_path_factory.mktemp("wedge"))
    files = {str(kind): path for kind, path in made.items()}
    return profile, tifffile.imread(files["tiff"]).astype(bool), told, files


def part_of(bits: Any, box: list[int]) -> Any:
    left, top, width, height = box
    part = bits[top : top + height, left : left + width]
    assert part.shape == (height, width)
    return part


def printed(wedge: Any) -> Any:
    """What is meant to print, as it is read: ink, or on a negative film what is clear."""
    _, bits, told, _ = wedge
    return ~bits if told["negative"] else bits


def test_all_formats_hold_the_same_bits(wedge: Any) -> None:
    profile, bits, _, files = wedge
    with Image.open(files["png"]) as image:
        assert np.array_equal(~np.asarray(image.convert("1")), bits)
    height, width = bits.shape
    page = pypdfium2.PdfDocument(files["pdf"])[0]
    canvas = pypdfium2.PdfBitmap.new_native(width, height, pdfium.FPDFBitmap_Gray)
    canvas.fill_rect((255, 255, 255, 255), 0, 0, width, height)
    pdfium.FPDF_RenderPageBitmap(canvas, page, 0, 0, width, height, 0, pdfium.FPDF_GRAYSCALE)
    assert np.array_equal(canvas.to_numpy().reshape(height, width) < 128, bits)
    if shutil.which("pdftoppm"):
        resolution = ["-rx", str(profile.dpi.x), "-ry", str(profile.dpi.y)]
        out = files["pdf"].with_suffix("")
        command = ["pdftoppm", "-gray", "-singlefile", *resolution, str(files["pdf"]), str(out)]
        subprocess.run(command, check=True)
        with Image.open(out.with_suffix(".pgm")) as image:
            assert np.array_equal(np.asarray(image) < 128, bits)


def test_patches_have_the_area_that_is_told(wedge: Any) -> None:
    _, _, told, _ = wedge
    bits = printed(wedge)
    asked = [patch["film_pct"] for patch in told["patches"]]
    assert set(asked) >= set(FEWER_TONES) and len(set(asked)) >= 21
    assert sum(tone < 15 for tone in asked) >= 7 and sum(tone > 85 for tone in asked) >= 7
    for patch in told["patches"]:
        part = part_of(bits, patch["box_px"])
        assert patch["counted_pct"] == pytest.approx(100 * part.mean(), abs=0.001)
        # Dots at the rim are cut by luck: no more than a tenth of one for each along a side.
        assert patch["counted_pct"] == pytest.approx(patch["film_pct"], abs=3)
    for solid in told["solids"]:
        assert part_of(bits, solid["box_px"]).all()


def test_tones_rise_as_they_are_asked_for(wedge: Any) -> None:
    _, _, told, _ = wedge
    made: dict[float, list[float]] = {}
    for patch in told["patches"]:
        made.setdefault(patch["film_pct"], []).append(patch["counted_pct"])
    means = [np.mean(made[tone]) for tone in sorted(made)]
    assert means == sorted(means) and (means[0], means[-1]) == (0, 100)


def test_fields_show_the_sizes_that_are_told(wedge: Any) -> None:
    profile, _, told, _ = wedge
    bits = printed(wedge)
    across, down = profile.acetate_dpi.pixel_um()
    seen = set()
    for field in told["fields"]:
        part, kind, size = part_of(bits, field["box_px"]), field["shows"], field["size_um"]
        small = part if kind in {"dots", "lines"} else ~part
        found = measure.regionprops(measure.label(small, connectivity=2))
        assert found
        seen.add(kind)
        for one in found:
            if "dots" in kind:
                drawn = sqrt(4 / pi * one.area * across * down)
            else:
                high, wide = (one.bbox[2] - one.bbox[0]), (one.bbox[3] - one.bbox[1])
                drawn = min(high * down, wide * across)
            assert drawn == pytest.approx(size, rel=0.03, abs=max(across, down) / 2)
    assert seen == {"dots", "shadow dots", "lines", "gaps"}


def test_another_library_reads_the_code(wedge: Any) -> None:
    profile, _, told, _ = wedge
    shown = np.where(printed(wedge), 0, 255).astype(np.uint8)
    if profile.dpi.x != profile.dpi.y:
        shown = np.repeat(shown, 2, axis=1)
    shown = shown[:, ::-1] if told["mirror"] else shown
    (found,) = zxingcpp.read_barcodes(np.ascontiguousarray(shown))
    assert found.text == told["code"]
    identity = WedgeIdentity.from_text(found.text)
    assert identity.kind is WedgeKind.PRINT
    assert identity.dpi == profile.dpi and identity.mesh == "43-80"
    assert identity.size_mm == tuple(told["size_mm"])
    assert (identity.mirror, identity.negative) == (told["mirror"], told["negative"])
    assert identity.acetate_dpi.x == pytest.approx(profile.acetate_dpi.x)


def test_corner_marks_lie_where_the_size_says(wedge: Any) -> None:
    """Centers of the rings, by scikit-image's moments, are the wedge's size apart on the film."""
    profile, _, told, _ = wedge
    bits = printed(wedge)
    centers, holes = [], []
    for mark in told["corner_marks"]:
        left, top, _, _ = mark["box_px"]
        part = part_of(bits, mark["box_px"])
        filled = measure.regionprops(measure.label(part, connectivity=2))
        ring = max(filled, key=lambda one: one.area_bbox)
        y, x = measure.centroid(ring.image_filled.astype(float))
        centers.append((left + ring.bbox[1] + x + 0.5, top + ring.bbox[0] + y + 0.5))
        # Open regions inside the disc, beside the open ring and the corners of the box.
        inner = min(filled, key=lambda one: one.area_bbox)
        holes.append(1 - measure.euler_number(inner.image, connectivity=2))
    assert holes == [mark["holes"] for mark in told["corner_marks"]] == [1, 2, 0, 0]
    (left, top), (right, _), _, (_, foot) = centers
    diameter = told["corner_marks"][0]["box_px"][2] / profile.acetate_dpi.x * 25.4
    across = abs(right - left) / profile.acetate_dpi.x * 25.4
    down = (foot - top) / profile.acetate_dpi.y * 25.4
    width, height = told["size_mm"]
    pixel = 25.4 / min(profile.dpi.x, profile.dpi.y)
    assert across == pytest.approx(width - diameter, abs=pixel)
    assert down == pytest.approx(height - diameter, abs=pixel)


def test_lines_of_the_bars_lie_ten_millimeters_apart(wedge: Any) -> None:
    profile, _, told, _ = wedge
    bits = printed(wedge)
    assert len(told["scale_bars"]) == 2
    for bar in told["scale_bars"]:
        part = part_of(bits, bar["box_px"])
        upright = part.shape[0] > part.shape[1]
        dpi = profile.acetate_dpi.y if upright else profile.acetate_dpi.x
        if told["mirror"]:
            part = part[:, ::-1]
        line = part[:, part.shape[1] * 4 // 10] if upright else part[part.shape[0] * 6 // 10]
        first = np.flatnonzero(np.diff(np.r_[0, line.astype(int)]) == 1)
        assert (first - first[0]) / dpi * 25.4 == pytest.approx(
            np.arange(0, bar["length_mm"] + 1, 10), abs=25.4 / dpi
        )


def test_curve_hold_and_verdict_change_nothing(tmp_path: Path) -> None:
    films = []
    for name in ("small", "curve and hold"):
        (tmp_path / name).mkdir()
        made, _ = make_wedge(profile_of(**CASES[name]), tmp_path / name)
        film = tifffile.imread(next(path for path in made.values() if path.suffix == ".tif"))
        films.append(film.astype(bool))
    # The code says which profile it was.
    differ = np.argwhere(films[0] != films[1])
    (top, left), (foot, right) = differ.min(0), differ.max(0)
    assert max(foot - top, right - left) < 20 / 25.4 * 300

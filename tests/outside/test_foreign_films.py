"""Films in PDF files of other programs, read to the very bit at their own resolution.

Outside truth: the files come from img2pdf, Pillow, reportlab, cairo, tiff2pdf, qpdf and from hand
after ISO 32000-1 (8.9.5 images, 8.9.6.2 stencil masks, 7.4 filters) and ITU-T T.88 (JBIG2); what
they shall hold is the array of bits that they were made from.
"""

from __future__ import annotations

import io
import json
import shutil
import struct
import subprocess
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray
from PIL import Image

from filmhand.cli import main
from filmhand.errors import Reason, Refused
from filmhand.film import foreign_pdf
from filmhand.film.bits import BitSheet
from filmhand.film.foreign_pdf import read_any_film
from filmhand.film.formats import Format
from filmhand.film.write import write_films
from filmhand.units import Resolution

img2pdf = pytest.importorskip("img2pdf")
canvas = pytest.importorskip("reportlab.pdfgen.canvas")
ImageReader = pytest.importorskip("reportlab.lib.utils").ImageReader
cairo = pytest.importorskip("cairocffi")
pytest.importorskip("pypdfium2")
pytestmark = pytest.mark.outside

Bits = NDArray[np.bool_]
WIDE, HIGH, DPI = 203, 301, 600
ACROSS, DOWN = WIDE * 72 / DPI, HIGH * 72 / DPI  # points
INK: Bits = np.random.default_rng(17).random((HIGH, WIDE)) < 0.4
PACKED = np.packbits(INK, axis=1).tobytes()
GRAY: dict[str, Any] = {"/ColorSpace": pikepdf.Name.DeviceGray, "/Decode": [1, 0]}
MASK: dict[str, Any] = {"/ImageMask": True, "/Decode": [1, 0]}
UPRIGHT = f"{ACROSS} 0 0 {DOWN} 0 0 cm /I Do"


def picture(ink: Bits = INK) -> Image.Image:
    return Image.fromarray(~ink)


def tiff(folder: Path) -> Path:
    path = folder / "film.tif"
    picture().save(path, compression="group4", dpi=(DPI, DPI))
    return path


def by_hand(
    path: Path,
    content: str,
    about: dict[str, Any],
    data: bytes = PACKED,
    *,
    box: tuple[float, ...] = (0, 0, ACROSS, DOWN),
    rotate: int = 0,
) -> Path:
    name = pikepdf.Name
    with pikepdf.new() as made:
        image = pikepdf.Stream(made, data)
        size = {"/Width": WIDE, "/Height": HIGH, "/BitsPerComponent": 1}
        for key, value in ({"/Type": name.XObject, "/Subtype": name.Image} | size | about).items():
            image[key] = value
        page = made.add_blank_page(page_size=(10, 10))
        page.MediaBox = pikepdf.Array(box)
        page.Rotate = rotate
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(I=image))
        page.Contents = made.make_stream(content.encode())
        made.save(path)
    return path


def read(path: Path, **more: Any) -> tuple[Bits, Resolution | None, tuple[str, ...]]:
    found = read_any_film(path, path.parent, **more)
    with found.bits as bits:
        rows = np.unpackbits(bits.read(0, bits.height), axis=1)[:, : bits.width]
    return rows.astype(bool), found.dpi, found.notes


def assert_exact(path: Path, ink: Bits = INK, dpi: tuple[int, int] = (DPI, DPI)) -> None:
    found, own, notes = read(path)
    assert np.array_equal(found, ink)
    assert (own, notes) == (Resolution(*dpi), ())


def tool(name: str) -> str:
    found = shutil.which(name)
    if not found:
        pytest.skip(f"{name} is not installed")
    return found


@pytest.mark.parametrize("kind", ["tif", "png"])
def test_a_film_by_img2pdf(kind: str, tmp_path: Path) -> None:
    source = tmp_path / f"film.{kind}"
    more = {"compression": "group4"} if kind == "tif" else {}
    picture().save(source, dpi=(DPI, DPI), **more)
    path = tmp_path / "film.pdf"
    path.write_bytes(img2pdf.convert(str(source)))
    assert_exact(path)


def test_a_film_by_pillow(tmp_path: Path) -> None:
    picture().save(tmp_path / "film.pdf", resolution=DPI)
    assert_exact(tmp_path / "film.pdf")


def test_a_film_by_tiff2pdf(tmp_path: Path) -> None:
    path = tmp_path / "film.pdf"
    subprocess.run([tool("tiff2pdf"), "-o", path, tiff(tmp_path)], check=True, timeout=60)
    assert_exact(path)


def test_a_film_of_ours_that_qpdf_wrote_anew(tmp_path: Path) -> None:
    ours, anew, turned = (tmp_path / f"{name}.pdf" for name in ("ours", "anew", "turned"))
    with BitSheet.create(tmp_path / "sheet.bits", width=WIDE, height=HIGH) as sheet:
        sheet.write(0, np.packbits(INK, axis=1))
        write_films(sheet, {Format.PDF: ours}, dpi=Resolution(DPI, 1200))
    qpdf = tool("qpdf")
    options = ["--stream-data=uncompress", "--object-streams=generate"]
    subprocess.run([qpdf, *options, ours, anew], check=True, timeout=60)
    assert_exact(anew, dpi=(DPI, 1200))
    subprocess.run([qpdf, "--rotate=+90", ours, turned], check=True, timeout=60)
    assert_exact(turned, np.rot90(INK, -1), (1200, DPI))


def test_strips_by_reportlab_make_one_film(tmp_path: Path) -> None:
    path = tmp_path / "film.pdf"
    sheet = canvas.Canvas(str(path), pagesize=(ACROSS, DOWN))
    for top, stop in ((0, 100), (100, 108), (108, HIGH)):
        strip = ImageReader(picture(INK[top:stop]))
        low, tall = (HIGH - stop) * 72 / DPI, (stop - top) * 72 / DPI
        sheet.drawImage(strip, 0, low, ACROSS, tall)
    sheet.save()
    assert_exact(path)


def test_a_film_by_cairo(tmp_path: Path) -> None:
    """Cairo embeds a surface of one bit as a mask of one bit."""
    path = tmp_path / "film.pdf"
    stride = cairo.ImageSurface.format_stride_for_width(cairo.FORMAT_A1, WIDE)
    rows = np.zeros((HIGH, stride), np.uint8)
    packed = np.packbits(INK, axis=1, bitorder="little")
    rows[:, : packed.shape[1]] = packed
    ink = cairo.ImageSurface.create_for_data(
        bytearray(rows.tobytes()), cairo.FORMAT_A1, WIDE, HIGH, stride
    )
    surface = cairo.PDFSurface(str(path), ACROSS, DOWN)
    drawing = cairo.Context(surface)
    drawing.scale(72 / DPI, 72 / DPI)
    drawing.mask_surface(ink, 0, 0)
    surface.finish()
    found, _, _ = read(path, resolution=Resolution(DPI, DPI))
    assert np.array_equal(found, INK)


def group4_of(folder: Path) -> bytes:
    """The code of ITU-T T.6 in which the ink is black; Pillow writes TIFF with ink as white."""
    path = folder / "code.tif"
    picture(~INK).save(path, compression="group4")
    with Image.open(path) as opened:
        (start,), (count,) = opened.tag_v2[273], opened.tag_v2[279]
    return path.read_bytes()[start : start + count]


def jbig2_of(code: bytes) -> bytes:
    """Segments of ITU-T T.88: page information, and a generic region coded as Group 4."""
    page = struct.pack(">IIIIBH", WIDE, HIGH, 0, 0, 0, 0)
    region = struct.pack(">IIIIBB", WIDE, HIGH, 0, 0, 0, 1) + code
    return b"".join(
        struct.pack(">IBBBI", number, kind, 0, 1, len(data)) + data
        for number, (kind, data) in enumerate(((48, page), (38, region)))
    )


@pytest.mark.parametrize("coded", ["plain", "group 4", "flate", "run length", "jbig2"])
def test_whatever_the_film_is_packed_with(coded: str, tmp_path: Path) -> None:
    name = pikepdf.Name
    about, data = dict(GRAY), PACKED
    if coded == "group 4":
        parameters = pikepdf.Dictionary(K=-1, Columns=WIDE, Rows=HIGH, BlackIs1=True)
        about |= {"/Filter": name.CCITTFaxDecode, "/DecodeParms": parameters}
        data = group4_of(tmp_path)
    elif coded == "jbig2":
        about = {"/ColorSpace": name.DeviceGray, "/Filter": name.JBIG2Decode}
        data = jbig2_of(group4_of(tmp_path))
    elif coded == "flate":
        about |= {"/Filter": name.FlateDecode}
        data = zlib.compress(PACKED)
    elif coded == "run length":
        about |= {"/Filter": name.RunLengthDecode}
        runs = (PACKED[i : i + 128] for i in range(0, len(PACKED), 128))
        data = b"".join(bytes([len(run) - 1]) + run for run in runs) + b"\x80"
    assert_exact(by_hand(tmp_path / "film.pdf", UPRIGHT, about, data))


PALETTE = pikepdf.Array(
    [pikepdf.Name.Indexed, pikepdf.Name.DeviceRGB, 1, pikepdf.String(b"\xff\xff\xff\0\0\0")]
)


@pytest.mark.parametrize(
    ("content", "about"),
    [
        (UPRIGHT, GRAY),
        (f"0 g {UPRIGHT}", MASK),
        (f"0 0 0 1 k {UPRIGHT}", {"/ColorSpace": PALETTE}),
        (f"q 1 0 0 1 3 4 cm q 1 0 0 1 -3 -4 cm {UPRIGHT} Q Q", GRAY),
    ],
)
def test_images_masks_and_palettes(content: str, about: dict[str, Any], tmp_path: Path) -> None:
    assert_exact(by_hand(tmp_path / "film.pdf", content, about))


@pytest.mark.parametrize(
    ("content", "ink", "swapped"),
    [
        (f"-{ACROSS} 0 0 {DOWN} {ACROSS} 0 cm /I Do", INK[:, ::-1], False),
        (f"{ACROSS} 0 0 -{DOWN} 0 {DOWN} cm /I Do", INK[::-1], False),
        (f"-{ACROSS} 0 0 -{DOWN} {ACROSS} {DOWN} cm /I Do", INK[::-1, ::-1], False),
        (f"0 {ACROSS} -{DOWN} 0 {DOWN} 0 cm /I Do", np.rot90(INK), True),
        (f"0 -{ACROSS} {DOWN} 0 0 {ACROSS} cm /I Do", np.rot90(INK, -1), True),
    ],
)
def test_images_turned_and_mirrored(content: str, ink: Bits, swapped: bool, tmp_path: Path) -> None:
    box = (0, 0, DOWN, ACROSS) if swapped else (0, 0, ACROSS, DOWN)
    assert_exact(by_hand(tmp_path / "film.pdf", content, GRAY, box=box), ink)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_turned_pages_whose_corner_is_not_at_zero(quarters: int, tmp_path: Path) -> None:
    content = f"{ACROSS} 0 0 {DOWN} -5 7 cm /I Do"
    box = (-5, 7, ACROSS - 5, DOWN + 7)
    path = by_hand(tmp_path / "film.pdf", content, GRAY, box=box, rotate=90 * quarters)
    assert_exact(path, np.rot90(INK, -quarters))


@pytest.mark.parametrize("left", [10.0, 10.03, 10.05, 10.0999])
@pytest.mark.parametrize("about", [GRAY, MASK])
def test_between_device_pixels_it_is_moved_and_not_resampled(
    left: float, about: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(foreign_pdf, "_BAND_PIXELS", 500 * 37)  # and seams do not show
    content = f"0 g {ACROSS} 0 0 {DOWN} {left} 20.07 cm /I Do"
    found, _, _ = read(by_hand(tmp_path / "film.pdf", content, about, box=(0, 0, 60, 70)))
    assert found.shape == (583, 500)
    x = round(left * DPI / 72)
    y = next(int(k) for k in np.flatnonzero(found.any(axis=1)))
    assert abs(y - (70 - 20.07 - DOWN) * DPI / 72) <= 1
    assert np.array_equal(found[y : y + HIGH, x : x + WIDE], INK)
    assert found.sum() == INK.sum()


def test_images_within_forms(tmp_path: Path) -> None:
    path = by_hand(tmp_path / "film.pdf", UPRIGHT, GRAY)
    with pikepdf.open(path, allow_overwriting_input=True) as opened:
        page = opened.pages[0]
        form = opened.make_stream(UPRIGHT.encode())
        form.Type, form.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
        form.BBox, form.Resources = page.MediaBox, page.Resources
        form.Matrix = pikepdf.Array([2, 0, 0, 2, 1, 1])
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(F=form))
        page.Contents = opened.make_stream(b"0.5 0 0 0.5 -0.5 -0.5 cm /F Do")
        opened.save(path)
    assert_exact(path)


def refused(path: Path, **more: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        read(path, **more)
    return caught.value


def drawn(path: Path, draw: str) -> Path:
    sheet = canvas.Canvas(str(path), pagesize=(72, 72))
    if draw == "gray":
        sheet.setFillGray(0.5)
    if draw == "red":
        sheet.setFillColorRGB(1, 0, 0)
    if draw != "nothing":
        sheet.rect(18, 18, 36, 36, stroke=0, fill=1)
    sheet.showPage()
    sheet.save()
    return path


def test_a_drawing_is_drawn_at_the_resolution_that_is_asked_for(tmp_path: Path) -> None:
    path = drawn(tmp_path / "film.pdf", "black")
    told = refused(path)
    assert (told.reason, "--dpi" in told.do) == (Reason.NOT_ART, True)
    assert "letters or lines" in told.say
    found, dpi, notes = read(path, resolution=Resolution(200, 100))
    assert (found.shape, dpi) == ((100, 200), Resolution(200, 100))
    assert found.sum() == 5000
    assert "drawn at 200 x 100 dpi" in notes[0]


def test_images_of_two_resolutions_are_drawn_at_the_one_asked_for(tmp_path: Path) -> None:
    content = f"q {UPRIGHT} Q q 50 0 0 70 30 0 cm /I Do Q"
    path = by_hand(tmp_path / "film.pdf", content, GRAY, box=(0, 0, 100, 100))
    assert "several resolutions" in refused(path).say
    found, _, notes = read(path, otherwise=Resolution(300, 300))
    assert found.shape == (417, 417)
    assert "several resolutions" in notes[0]


@pytest.mark.parametrize("draw", ["gray", "red"])
def test_gray_and_color_are_no_film(draw: str, tmp_path: Path) -> None:
    told = refused(drawn(tmp_path / "film.pdf", draw), resolution=Resolution(100, 100))
    assert told.reason is Reason.NOT_ART
    assert "more than pure black and pure white" in told.say


def test_pictures_and_masks_in_color_are_no_film(tmp_path: Path) -> None:
    shot = io.BytesIO()
    picture().convert("L").resize((100, 150)).save(shot, "JPEG", dpi=(100, 100))
    path = tmp_path / "film.pdf"
    path.write_bytes(img2pdf.convert(shot.getvalue()))
    assert "more than pure black" in refused(path).say
    assert "more than pure black" in refused(by_hand(path, f"1 0 0 rg {UPRIGHT}", MASK)).say


def test_empty_pages_broken_images_and_locked_files_are_told(tmp_path: Path) -> None:
    path = drawn(tmp_path / "film.pdf", "nothing")
    assert "is empty" in refused(path, resolution=Resolution(100, 100)).say
    broken = by_hand(path, UPRIGHT, GRAY | {"/Filter": pikepdf.Name.JBIG2Decode}, b"no such code")
    assert "cannot decode" in read(broken)[2][0]
    path.write_bytes(b"%PDF-1.4\nnothing more")
    assert refused(path).reason is Reason.DAMAGED
    with pikepdf.open(by_hand(tmp_path / "open.pdf", UPRIGHT, GRAY)) as opened:
        opened.save(path, encryption=pikepdf.Encryption(owner="a", user="b"))
    assert refused(path).reason is Reason.LOCKED


def test_measure_and_predict_read_them(tmp_path: Path) -> None:
    """A film of three pages with a 25 lpi screen; the first is read."""
    side, tall = 900, 1200
    y, x = np.mgrid[:tall, :side]
    ink = (y % 12 < 6) & (x % 12 < 6)
    source, path = tmp_path / "film.tif", tmp_path / "film.pdf"
    picture(ink).save(source, compression="group4", dpi=(300, 300))
    path.write_bytes(img2pdf.convert([str(source)] * 3))
    run = CliRunner().invoke(main, ["measure", str(path), "--mesh", "43-80", "--json"])
    assert run.exit_code == 0, run.output
    told = json.loads(run.stdout)
    assert (told["width_px"], told["height_px"], told["dpi"]) == (side, tall, [300, 300])
    assert told["lpi"] == pytest.approx(25, abs=0.05)
    assert told["coverage_pct"] == 25
    assert told["notes"][0] == "The first of 3 pages was read."
    out = tmp_path / "print.png"
    run = CliRunner().invoke(
        main, ["predict", str(path), "--mesh", "43-80", "--out", str(out), "--json"]
    )
    assert run.exit_code == 0, run.output
    assert json.loads(run.stdout)["film_pct"] == pytest.approx(25, abs=0.1)
    assert out.exists()

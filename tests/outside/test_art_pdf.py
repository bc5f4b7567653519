"""PDF pages as art, against another renderer (pdftoppm) and against the arithmetic of areas."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image

from filmhand.art.analysis.tone_or_line import tone_or_line
from filmhand.art.drawings.vector import FilmSize
from filmhand.art.files.open_art import Art, count_pages, open_art
from filmhand.errors import Refused

pytest.importorskip("pypdfium2")
pytestmark = pytest.mark.outside
LIMITS: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)


def document(path: Path, *pages: bytes, box: tuple[float, ...] = (0, 0, 144, 72)) -> Path:
    with pikepdf.new() as made:
        for content in pages:
            page = made.add_blank_page(page_size=(box[2], box[3]))
            page.Contents = made.make_stream(content)
        made.save(path)
    return path


def read(path: Path, channel: Any = "luminance", **more: Any) -> Art:
    return open_art(path, name=path.name, limits=LIMITS, channel=channel, **more)


def at(ppi: int) -> Callable[[float, float], FilmSize]:
    return lambda w, h: FilmSize(round(w * ppi), round(h * ppi), float(ppi))


DRAWING = b"""0 g 10 10 20 20 re f 0.5 g 40 10 20 20 re f 1 0 0 rg 70 10 20 20 re f
0 0 1 RG 1.3 w 10 40 m 60 65 100 35 130 62 c S 0 G 0.4 w 100 10 m 135 33 l S"""


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
@pytest.mark.parametrize("ppi", [150, 300, 600])
def test_a_drawing_is_what_another_renderer_draws(tmp_path: Path, ppi: int) -> None:
    path = document(tmp_path / "a.pdf", DRAWING)
    art = read(path, sizing=at(ppi))
    subprocess.run(
        ["pdftoppm", "-png", "-r", str(ppi), path, tmp_path / "other"], check=True, timeout=60
    )
    with Image.open(next(tmp_path.glob("other*.png"))) as image:
        image.convert("RGB").save(tmp_path / "other.png")
    other = read(tmp_path / "other.png").coded.astype(float)
    assert art.coded.shape == other.shape == (ppi, 2 * ppi)
    apart = np.abs(art.coded - other)
    # Two renderers share an edge pixel's coverage differently, and neither is the standard.
    assert (apart > 0.02 * 65535).mean() < 0.012 * 300 / ppi
    assert apart.mean() < 0.003 * 65535 * 300 / ppi
    # Away from edges they agree to the code.
    inside = np.s_[int(ppi * 46 / 72) : int(ppi * 56 / 72), int(ppi * 14 / 72) : int(ppi * 26 / 72)]
    assert art.coded[inside].max() == other[inside].max() == 0


def test_area_of_a_slanted_square(tmp_path: Path) -> None:
    # Upright rectangles are grown to whole pixels by the library; slanted edges are not.
    path = document(tmp_path / "a.pdf", b"0 g 30 6 m 58 40 l 30 66 l 7 33 l f")
    ink = 1 - read(path, sizing=at(300)).coded / 65535
    x, y = np.array([30, 58, 30, 7]), np.array([6, 40, 66, 33])
    area = abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    assert ink.sum() == pytest.approx(area * (300 / 72) ** 2, rel=2e-3)


def test_strips_leave_no_seam(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = document(tmp_path / "a.pdf", DRAWING)
    whole = read(path, sizing=at(300)).coded.astype(int)
    monkeypatch.setattr("filmhand.art.drawings.pdf._STRIP_PIXELS", 600 * 7)
    strips = read(path, sizing=at(300)).coded.astype(int)
    apart = np.abs(whole - strips)
    assert (apart > 2 * 257).mean() < 0.001 and apart.max() < 0.1 * 65535


@pytest.mark.parametrize("ink", [0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0])
def test_black_ink_alone_is_the_tone(tmp_path: Path, ink: float) -> None:
    path = document(
        tmp_path / "a.pdf", b"0 0 0 %.3f k 0 0 72 72 re f 0 0 0 %.3f K 40 w 100 0 m 100 72 l S"
        % (ink, ink)
    )  # fmt: skip
    art = read(path)
    for x in (100, 410):
        assert 1 - art.coded[150, x] / 65535 == pytest.approx(ink, abs=1 / 255)
    assert any("Black ink alone" in note for note in art.notes) == (ink > 0.05)


def test_grays_of_screen_colors_are_left_alone(tmp_path: Path) -> None:
    path = document(tmp_path / "a.pdf", b"0.2 g 0 0 72 72 re f 0.2 0.2 0.2 rg 72 0 72 72 re f")
    art = read(path)
    assert set(np.unique(art.coded)) == {51 * 257} and not art.notes


def test_every_page_is_a_film_of_its_own_size(tmp_path: Path) -> None:
    path = document(tmp_path / "a.pdf", b"0 g 0 0 9 9 re f", b"", b"0.5 g 0 0 144 72 re f")
    assert count_pages(path, name="a.pdf", limits=LIMITS) == 3
    assert read(path, page=0).coded[-1, 0] == 0
    assert read(path, page=1).coded.min() == 65535
    assert set(np.unique(read(path, page=2).coded)) == {128 * 257}


def test_line_drawings_stay_line_art_and_pictures_are_looked_at(tmp_path: Path) -> None:
    lines = b"0 G 1 w " + b"".join(b"10 %d m 134 %d l S " % (y, y + 4) for y in range(5, 65, 6))
    drawn = read(document(tmp_path / "a.pdf", lines), sizing=at(300))
    assert drawn.drawn and tone_or_line(drawn.coded, drawn=drawn.drawn).treat == "line"
    noise = np.random.default_rng(3).integers(0, 256, (90, 180)).astype(np.uint8)
    with pikepdf.new() as made:
        page = made.add_blank_page(page_size=(144, 72))
        picture = made.make_stream(
            noise.tobytes(), Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image,
            Width=180, Height=90, ColorSpace=pikepdf.Name.DeviceGray, BitsPerComponent=8,
        )  # fmt: skip
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=picture))
        page.Contents = made.make_stream(b"q 144 0 0 72 0 0 cm /P Do Q")
        made.save(tmp_path / "b.pdf")
    art = read(tmp_path / "b.pdf", sizing=at(300))
    assert not art.drawn and tone_or_line(art.coded, drawn=art.drawn).treat == "tone"
    # 180 pixels on two inches.
    assert any("only 90 pixels to the inch" in note for note in art.notes)


def test_alpha_is_what_the_page_draws_in_any_color(tmp_path: Path) -> None:
    path = document(tmp_path / "a.pdf", b"1 1 0 rg 0 0 72 72 re f")
    art = read(path, "alpha")
    assert art.coded[150, 100] == 0 and art.coded[150, 500] == 65535


def test_white_on_nothing_prints_its_shape(tmp_path: Path) -> None:
    path = document(tmp_path / "a.pdf", b"1 g 0 0 72 72 re f")
    art = read(path)
    assert art.coded[150, 100] == 0 and art.coded[150, 500] == 65535
    assert any("channel: alpha" in note for note in art.notes)


def test_what_was_filled_into_a_form_is_drawn(tmp_path: Path) -> None:
    with pikepdf.new() as made:
        page = made.add_blank_page(page_size=(144, 72))
        look = made.make_stream(
            b"0 g 0 0 30 20 re f", Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Form,
            BBox=[0, 0, 30, 20],
        )  # fmt: skip
        shared = {"Type": pikepdf.Name.Annot, "F": 4, "AP": pikepdf.Dictionary(N=look)}
        field = pikepdf.Dictionary(
            Subtype=pikepdf.Name.Widget, FT=pikepdf.Name.Tx, T=pikepdf.String("a"),
            Rect=[10, 10, 40, 30], **shared,
        )  # fmt: skip
        stamp = pikepdf.Dictionary(Subtype=pikepdf.Name.Stamp, Rect=[80, 10, 110, 30], **shared)
        page.Annots = pikepdf.Array([made.make_indirect(field), made.make_indirect(stamp)])
        made.Root.AcroForm = pikepdf.Dictionary(Fields=[page.Annots[0]])
        made.save(tmp_path / "a.pdf")
    ink = read(tmp_path / "a.pdf").coded < 256
    area = 30 * 20 * (300 / 72) ** 2
    assert ink[:, :300].sum() == pytest.approx(area, rel=0.03)
    assert ink[:, 300:].sum() == pytest.approx(area, rel=0.03)


def test_fonts_that_are_not_embedded_are_told_by_name(tmp_path: Path) -> None:
    with pikepdf.new() as made:
        page = made.add_blank_page(page_size=(144, 72))
        font = pikepdf.Dictionary(
            Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name("/Nosuchface")
        )
        page.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=font))
        page.Contents = made.make_stream(b"BT /F 20 Tf 10 20 Td (Hello) Tj ET")
        made.save(tmp_path / "a.pdf")
    art = read(tmp_path / "a.pdf")
    assert art.coded.min() == 0
    assert any("Nosuchface" in note for note in art.notes)


@pytest.mark.parametrize("name", ["Helvetica", "Times-Roman", "Courier", "Nosuchface"])
def test_a_stand_in_is_told_as_such_on_any_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    (note,) = [note for note in written_in(tmp_path, name).notes if "font" in note]
    assert name in note and "stand-in" in note and "this computer" not in note
    # As if the library had found a font of that name on this computer.
    monkeypatch.setattr("filmhand.art.drawings.pdf._STAND_INS", ("none of these",))
    (note,) = [note for note in written_in(tmp_path, name).notes if "font" in note]
    assert name in note and "this computer's own" in note and "stand-in" not in note


def written_in(folder: Path, name: str) -> Art:
    with pikepdf.new() as made:
        page = made.add_blank_page(page_size=(144, 72))
        font = pikepdf.Dictionary(
            Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name(f"/{name}")
        )
        page.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=font))
        page.Contents = made.make_stream(b"BT /F 20 Tf 10 20 Td (Hello) Tj ET")
        made.save(folder / "a.pdf")
    return read(folder / "a.pdf")


def with_picture(path: Path, pixels: tuple[int, int], place: bytes, forms: int = 0) -> Path:
    """A page of 2 x 1 in with a gray picture at a place, within so many forms."""
    with pikepdf.new() as made:
        page = made.add_blank_page(page_size=(144, 72))
        inner = made.make_stream(
            bytes(pixels[0] * pixels[1]), Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image,
            Width=pixels[0], Height=pixels[1], ColorSpace=pikepdf.Name.DeviceGray,
            BitsPerComponent=8,
        )  # fmt: skip
        content = b"q " + place + b" cm /P Do Q"
        for _ in range(forms):
            inner = made.make_stream(
                content, Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Form,
                BBox=[0, 0, 144, 72], Matrix=[0.5, 0, 0, 0.5, 0, 0],
                Resources=pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=inner)),
            )  # fmt: skip
            content = b"q 1 0 0 1 0 0 cm /P Do Q"
        page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(P=inner))
        page.Contents = made.make_stream(content)
        made.save(path)
    return path


@pytest.mark.parametrize(("across", "refused"), [(1500, False), (1501, True)])
def test_pictures_within_a_page_have_as_many_pixels_as_the_profile_allows(
    tmp_path: Path, across: int, refused: bool
) -> None:
    path = with_picture(tmp_path / "a.pdf", (across, 1000), b"144 0 0 72 0 0")
    few: Any = SimpleNamespace(**vars(LIMITS) | {"megapixels": 1.5})
    if not refused:
        assert open_art(path, name="a.pdf", limits=few, channel="luminance", sizing=at(100))
        return
    with pytest.raises(Refused, match=r"holds a picture of 1.6 megapixels \(1501 x 1000\)"):
        open_art(path, name="a.pdf", limits=few, channel="luminance", sizing=at(100))


@pytest.mark.parametrize(
    ("place", "forms", "ppi"),
    [
        (b"144 0 0 72 0 0", 0, 90),
        (b"72 0 0 72 0 0", 0, 90),  # the coarser of its two directions
        (b"0 72 -144 0 144 0", 0, 45),
        (b"72 0 0 36 0 0", 0, None),  # 180 to the inch are enough
        (b"144 0 0 144 0 0", 1, 90),
        (b"288 0 0 288 0 0", 2, 90),
    ],
)
def test_coarse_pictures_are_told_in_pixels_to_the_inch_of_the_page(
    tmp_path: Path, place: bytes, forms: int, ppi: int | None
) -> None:
    path = with_picture(tmp_path / "a.pdf", (180, 90), place, forms)
    notes = [note for note in read(path, sizing=at(300)).notes if "pixels to the inch" in note]
    assert len(notes) == (ppi is not None)
    assert ppi is None or f"only {ppi} pixels" in notes[0]

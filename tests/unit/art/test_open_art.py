from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import tifffile
from degraded import as_codes, coded, drawing, flat_tints, jpeg, on_paper, skimage_picture
from PIL import Image

from filmhand.art.analysis.exact_flats import looks_drawn
from filmhand.art.files.open_art import Art, count_pages, open_art
from filmhand.errors import EnvironmentTrouble, Reason, Refused


def limits(**changes: Any) -> Any:
    usual = {"megapixels": 400.0, "megabytes": 512.0, "pages": 50, "memory": 2**31}
    return SimpleNamespace(**(usual | changes))


def read(path: Path, channel: Any = "luminance", **changes: Any) -> Art:
    return open_art(path, name=path.name, limits=limits(**changes), channel=channel)


def refused(path: Path, channel: Any = "luminance", **changes: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        read(path, channel, **changes)
    return caught.value


@pytest.fixture
def colors(tmp_path: Path) -> Path:
    rgba = np.array([[[200, 100, 50, 255], [10, 20, 30, 0], [0, 0, 0, 128]]], np.uint8)
    Image.fromarray(rgba).save(tmp_path / "a.png")
    return tmp_path / "a.png"


@pytest.mark.parametrize(
    ("channel", "first"),
    [("red", 200), ("green", 100), ("blue", 50), ("cyan", 200), ("magenta", 100), ("yellow", 50),
     ("black", 200), ("alpha", 0)],
)  # fmt: skip
def test_channels_of_rgb_art(colors: Path, channel: str, first: int) -> None:
    found = read(colors, channel).coded[0]
    assert found[0] == first * 257
    assert found[1] == 65535  # nothing there: bare film
    if channel == "alpha":
        assert found[2] == 65535 - 128 * 257


def test_lightness_says_what_it_is(colors: Path) -> None:
    assert any("100 - L*" in note for note in read(colors, "lightness").notes)


def test_computed_ink_planes_say_so(colors: Path) -> None:
    assert any("complement" in note for note in read(colors, "cyan").notes)
    assert any("smallest" in note for note in read(colors, "black").notes)


@pytest.mark.parametrize("mode", ["L", "RGB", "RGBA", "CMYK", "I;16", "1"])
def test_alpha_of_art_without_transparency_would_print_everything(
    tmp_path: Path, mode: str
) -> None:
    path = tmp_path / "a.tif"
    Image.new(mode, (30, 20)).save(path) if mode != "RGBA" else Image.new(
        "RGBA", (30, 20), (9, 9, 9, 255)
    ).save(path)
    fault = refused(path, "alpha")
    assert fault.reason is Reason.BLANK and "transparen" in fault.say


def test_white_art_on_nothing_prints_its_shape_and_says_so(tmp_path: Path) -> None:
    rgba = np.zeros((60, 60, 4), np.uint8)
    rgba[20:40, 20:40] = 255
    for name in ("a.png", "a.gif", "a.webp", "a.tif"):
        Image.fromarray(rgba).save(tmp_path / name, lossless=True)
        art = read(tmp_path / name)
        assert any("channel: alpha" in note for note in art.notes), name
        assert np.array_equal(art.coded == 0, rgba[..., 3] == 255), name
    rgba[25, 25, :3] = 0
    Image.fromarray(rgba).save(tmp_path / "b.png")
    art = read(tmp_path / "b.png")
    assert not art.notes and (art.coded == 0).sum() == 1


def test_soft_edges_of_white_art_become_tones(tmp_path: Path) -> None:
    rgba = np.full((10, 256, 4), 255, np.uint8)
    rgba[..., 3] = np.arange(256)
    Image.fromarray(rgba).save(tmp_path / "a.png")
    assert read(tmp_path / "a.png").coded[0].tolist() == [65535 - 257 * a for a in range(256)]


def test_a_white_page_is_no_shape(tmp_path: Path) -> None:
    rgba = np.full((60, 60, 4), 255, np.uint8)
    rgba[0, 0, 3] = 0
    Image.fromarray(rgba).save(tmp_path / "a.png")
    art = read(tmp_path / "a.png")
    assert art.coded.min() == 65535 and not art.notes


def test_limits_are_told_in_their_units(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    Image.new("L", (2000, 1500)).save(path)
    fault = refused(path, megapixels=2.0)
    assert fault.reason is Reason.TOO_BIG
    assert fault.found and fault.needed
    assert (fault.found.value, fault.found.unit) == (3.0, "megapixels")
    assert (fault.needed.value, fault.needed.unit) == (2.0, "megapixels")
    path.write_bytes(path.read_bytes() + bytes(900_000))
    fault = refused(path, megabytes=0.5)
    assert fault.reason is Reason.TOO_BIG and fault.needed and fault.needed.unit == "megabytes"
    assert read(path, megapixels=3.0).width_px == 2000


@pytest.mark.parametrize("suffix", ["png", "jpg", "webp", "bmp", "gif", "tif"])
def test_pixel_limit_holds_for_every_kind(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a.{suffix}"
    Image.new("L", (400, 300)).save(path)
    assert refused(path, megapixels=0.1).reason is Reason.TOO_BIG
    assert read(path, megapixels=0.12).height_px == 300


def test_page_limit(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, np.zeros((5, 9, 9), np.uint8), photometric="minisblack")
    assert count_pages(path, name="a.tif", limits=limits()) == 5
    with pytest.raises(Refused) as caught:
        count_pages(path, name="a.tif", limits=limits(pages=4))
    fault = caught.value
    assert fault.reason is Reason.TOO_BIG and fault.found and fault.found.value == 5


def test_limit_of_the_library_is_put_back(tmp_path: Path) -> None:
    before = Image.MAX_IMAGE_PIXELS
    Image.new("L", (40, 30)).save(tmp_path / "a.png")
    read(tmp_path / "a.png", megapixels=1.0)
    assert before == Image.MAX_IMAGE_PIXELS


def test_name_that_lies_is_noted(tmp_path: Path) -> None:
    Image.new("L", (40, 30)).save(tmp_path / "a.jpg", "PNG")
    art = read(tmp_path / "a.jpg")
    assert art.format == "PNG" and any("content is PNG" in note for note in art.notes)


def test_missing_file_is_nobodys_fault(tmp_path: Path) -> None:
    with pytest.raises(EnvironmentTrouble):
        read(tmp_path / "gone.png")


def test_memory_that_runs_out_is_too_big(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Image.new("L", (40, 30)).save(tmp_path / "a.png")

    def no_memory(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(Image.Image, "crop", no_memory)
    assert refused(tmp_path / "a.png").reason is Reason.TOO_BIG


def test_camera_raw_in_tiff_clothing_is_not_art(tmp_path: Path) -> None:
    path = tmp_path / "a.dng"
    tifffile.imwrite(path, np.zeros((8, 8), np.uint8), extratags=[(50706, 1, 4, b"\1\4\0\0", True)])
    fault = refused(path)
    assert fault.reason is Reason.NOT_ART and "raw" in fault.say


def test_unheard_of_pixels_are_not_called_damaged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("filmhand.art.files.deep_color.library", lambda: None)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, np.zeros((8, 8, 3), np.float32), photometric="rgb")
    fault = refused(path)
    assert fault.reason is Reason.NOT_ART and "filmhand[art]" in fault.do


def test_drawn_is_told_from_scanned() -> None:
    clean = drawing()
    for art in (clean, drawing(stroke=3, seed=3), 1 - clean, flat_tints((0.3, 0.5))):
        assert looks_drawn(as_codes(art))
        assert looks_drawn(jpeg(as_codes(art), 50))
    for fate in (
        {"paper": 0.8, "ink": 0.1, "noise": 0.01},
        {"paper": 1.4, "ink": 0.4, "noise": 0.02, "blur": 1},
    ):
        assert not looks_drawn(coded(on_paper(clean, **fate)))
    for name in ("camera", "coffee", "moon", "retina"):
        picture = skimage_picture(name)
        assert picture is None or not looks_drawn(picture)


@pytest.mark.parametrize("shape", [(1, 1), (1, 5000), (5000, 1), (7, 3)])
def test_odd_sizes(tmp_path: Path, shape: tuple[int, int]) -> None:
    gray = np.random.default_rng(1).integers(0, 256, shape).astype(np.uint8)
    Image.fromarray(gray).save(tmp_path / "a.png")
    assert np.array_equal(read(tmp_path / "a.png").coded, gray.astype(np.uint16) * 257)


def test_the_table_of_a_jpeg_is_read_and_turned_with_it(tmp_path: Path) -> None:
    picture = Image.fromarray(np.zeros((32, 48), np.uint8))
    picture.save(tmp_path / "a.jpg", quality=50)
    steps = read(tmp_path / "a.jpg").luma_steps
    # The table of ITU-T T.81, K.1, which libjpeg uses as it is at quality 50: its first row.
    assert steps is not None and steps[:8] == (16, 11, 10, 16, 24, 40, 51, 61)
    exif = Image.Exif()
    exif[0x0112] = 6
    picture.save(tmp_path / "b.jpg", quality=50, exif=exif)
    turned = read(tmp_path / "b.jpg").luma_steps
    assert turned is not None and turned[::8] == steps[:8]
    picture.save(tmp_path / "c.png")
    assert read(tmp_path / "c.png").luma_steps is None

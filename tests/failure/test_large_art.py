"""Art of very many pixels: what the limits admit is made, and what cannot be is told with numbers.

tests/benchmarks/large_art.py makes art of 400 megapixels, which is what the defaults admit.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image

from filmhand.art.files import large_art
from filmhand.art.files.decode import BESIDE_PIXELS
from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused, needs_too_much_memory
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

vips = pytest.importorskip("pyvips", exc_type=(ImportError, OSError))
WIDTH, HEIGHT = 600, 440
PIXELS = WIDTH * HEIGHT
CHANNELS = ["luminance", "lightness", "red", "blue", "black"]


@pytest.fixture(autouse=True)
def no_room_for_strips(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """The pictures of most of these tests are smaller than the strips of truly large art."""
    if "slow" not in request.keywords:
        monkeypatch.setattr(large_art, "_STREAM_BYTES", 0)


def limits(memory: float = 2**31) -> Any:
    return SimpleNamespace(megapixels=100.0, megabytes=512.0, pages=50, memory=int(memory))


def read(path: Path, memory: float, channel: Any = "luminance") -> Art:
    return open_art(path, name=path.name, limits=limits(memory), channel=channel)


def picture() -> Image.Image:
    rng = np.random.default_rng(5)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    rgb = np.stack([x * 255 / WIDTH, y * 255 / HEIGHT, (x + y) % 256], axis=-1)
    return Image.fromarray(np.clip(rgb + rng.normal(0, 9, rgb.shape), 0, 255).astype(np.uint8))


def saved(kind: str, **how: Any) -> bytes:
    image = picture()
    if how.pop("alpha", False):
        image.putalpha(image.getchannel("R"))
    if how.pop("turned", False):
        how["exif"] = Image.Exif()
        how["exif"][274] = 6
    if how.pop("key", False):
        how["transparency"] = image.getpixel((7, 7))
    buffer = BytesIO()
    image.save(buffer, kind, **how)
    return buffer.getvalue()


def of_tifffile(**how: Any) -> bytes:
    buffer = BytesIO()
    tifffile.imwrite(buffer, np.asarray(picture()), photometric="rgb", **how)
    return buffer.getvalue()


FILES: dict[str, bytes] = {
    "jpeg": saved("JPEG", quality=90),
    "jpeg, turned": saved("JPEG", quality=90, turned=True, dpi=(300, 200)),
    "png": saved("PNG", dpi=(300, 300)),
    "png, alpha": saved("PNG", alpha=True),
    "png, key": saved("PNG", key=True),
    "tiff": saved("TIFF", dpi=(300, 300)),
    "tiff, jpeg": saved("TIFF", compression="jpeg"),
    "tiff, tiles": of_tifffile(tile=(64, 64), compression="lzw", predictor=True),
}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("channel", CHANNELS)
def test_strips_give_what_the_whole_gives(tmp_path: Path, name: str, channel: str) -> None:
    path = tmp_path / "art"
    path.write_bytes(FILES[name])
    whole = read(path, 2**31, channel)
    strips = read(path, BESIDE_PIXELS + 5 * PIXELS, channel)
    assert strips.ppi == whole.ppi and strips.coded.shape == whole.coded.shape
    # Light is summed in floats here and in whole steps there.
    assert np.abs(strips.coded.astype(int) - whole.coded).max() <= 24
    assert (strips.luma_steps is None) or strips.luma_steps == whole.luma_steps


def test_a_large_progressive_jpeg_is_read_smaller_and_told(tmp_path: Path) -> None:
    path = tmp_path / "art.jpg"
    path.write_bytes(saved("JPEG", quality=90, progressive=True, dpi=(300, 300)))
    kept = 3 * PIXELS  # of the coefficients, colors halved both ways
    room = BESIDE_PIXELS + kept
    whole = read(path, 2**31)
    half = read(path, room + PIXELS)
    assert half.coded.shape == (HEIGHT // 2, WIDTH // 2) and half.ppi == (150, 150)
    assert any("at 1/2 of its width" in note for note in half.notes)
    small = np.asarray(Image.fromarray((whole.coded >> 8).astype(np.uint8)).reduce(2))
    assert np.abs((half.coded >> 8).astype(int) - small).mean() < 4
    assert read(path, room + PIXELS / 4).coded.shape == (HEIGHT // 4, WIDTH // 4)


@pytest.mark.parametrize(("kind", "mode", "bytes_a_pixel"), [
    ("GIF", "P", 3), ("PNG", "L", 3), ("TIFF", "CMYK", 6), ("BMP", "RGB", 6), ("JPEG", "CMYK", 6),
    ("WEBP", "RGB", 12), ("AVIF", "RGB", 12),
])  # fmt: skip
def test_what_has_no_room_is_told_with_numbers_that_help(
    tmp_path: Path, kind: str, mode: str, bytes_a_pixel: int
) -> None:
    path = tmp_path / "art"
    picture().convert(mode).save(path, kind)
    enough = BESIDE_PIXELS + bytes_a_pixel * PIXELS
    assert read(path, enough + PIXELS).coded.shape == (HEIGHT, WIDTH)
    with pytest.raises(Refused) as caught:
        read(path, enough - PIXELS // 2)
    assert caught.value.reason is Reason.TOO_BIG
    assert re.search(
        r"needs about 0\.\d GiB of memory; the profile allows 0\.\d+ GiB", str(caught.value)
    )
    assert "to 0." in caught.value.do


def test_the_numbers_of_the_sentence() -> None:
    fault = needs_too_much_memory(
        "“a”", 2**31, pixels=400_000_000, needed=2_735_544_320, fitting=301_990_000
    )
    assert (
        fault.say
        == "“a” has 400 megapixels and needs about 2.6 GiB of memory; the profile allows 2 GiB."
    )
    assert fault.do == (
        "Save it with at most 301 megapixels, or raise limits.memory in the profile to 2.6 GiB."
    )
    assert fault.found and fault.found.value == 2.6
    assert "more memory than the 2 GiB" in needs_too_much_memory("It", 2**31).say


@pytest.mark.slow
def test_color_that_has_no_room_at_once_becomes_a_film(tmp_path: Path) -> None:
    """100 megapixels in 768 MB; the base reader would need 935 (the benchmark has 400 in 2 GiB)."""
    path = tmp_path / "art.jpg"
    picture().resize((12000, 8400)).save(path, quality=85)
    for folder in ("out", "scratch"):
        (tmp_path / folder).mkdir()
    profile = read_profile(
        "sheet: 120 x 100 mm\ndpi: 300\nlpi: 25\ndot: round\nmesh: none\nwrite: png\n"
        "margin: 2 mm\n"
        "art: {treat: tone}\nlimits: {memory: 768 MB}\n",
        name="test",
        file="test.yaml",
    )
    request = JobRequest(path, "art.jpg", profile, tmp_path / "out", tmp_path / "scratch")
    (film,) = make_films(request).films
    assert (film.record["source"]["width_px"], film.record["source"]["height_px"]) == (12000, 8400)

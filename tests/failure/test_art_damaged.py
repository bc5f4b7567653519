"""Damage that decoders pass over: small damage is told with its place, more is refused.

What is wrong is known here: the file is spoiled on purpose, and the decoded picture of the spoiled
file is held against that of the sound one.
"""

from __future__ import annotations

import struct
import zlib
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from filmhand.art.files import extras
from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused

LIMITS: Any = SimpleNamespace(megapixels=100.0, megabytes=512.0, pages=50, memory=2**31)
SIDE = 1200
WRONG = bytes(np.random.default_rng(11).integers(1, 255, 60, np.uint8))
ROWS = 16  # of a block of all colors, with the colors halved both ways


def read(path: Path, data: bytes) -> Art:
    path.write_bytes(data)
    channel: Any = "luminance"
    return open_art(path, name=path.name, limits=LIMITS, channel=channel)


def refused(path: Path, data: bytes) -> Refused:
    with pytest.raises(Refused) as caught:
        read(path, data)
    assert caught.value.reason is Reason.DAMAGED
    assert caught.value.say.endswith(".") and caught.value.do.endswith(".")
    return caught.value


def told(art: Art) -> list[str]:
    return [note for note in art.notes if "damaged" in note or "check sum" in note]


def picture() -> Image.Image:
    rng = np.random.default_rng(7)
    y, x = np.mgrid[0:SIDE, 0:SIDE] / SIDE
    waves = np.sin(x * 23) * np.cos(y * 31) * 60 + 128
    rgb = np.stack([waves, waves[::-1], waves.T], axis=-1) + rng.normal(0, 6, (SIDE, SIDE, 3))
    return Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))


@pytest.fixture(scope="module")
def whole() -> Image.Image:
    return picture()


def saved(image: Image.Image, kind: str, **how: Any) -> bytes:
    buffer = BytesIO()
    image.save(buffer, kind, **how)
    return buffer.getvalue()


# --- PNG -----------------------------------------------------------------------------------------


def chunks(data: bytes) -> list[tuple[bytes, int, int]]:
    at, found = 8, []
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        found.append((data[at + 4 : at + 8], at, length))
        at += 12 + length
    return found


def test_a_wrong_sum_over_right_pixels_is_told_and_no_more(
    tmp_path: Path, whole: Image.Image
) -> None:
    data = saved(whole, "PNG")
    _, at, length = next(one for one in chunks(data) if one[0] == b"IDAT")
    spoiled = bytearray(data)
    spoiled[at + 8 + length] ^= 1
    art = read(tmp_path / "a.png", bytes(spoiled))
    assert np.array_equal(art.coded, read(tmp_path / "b.png", data).coded)
    assert len(told(art)) == 1 and "pixels are right" in told(art)[0]
    assert not told(read(tmp_path / "b.png", data))


@pytest.mark.parametrize("depth", [0.2, 0.5, 0.9])
def test_wrong_pixels_under_a_wrong_sum_are_refused_with_their_place(
    tmp_path: Path, whole: Image.Image, depth: float
) -> None:
    data = bytearray(saved(whole, "PNG", compress_level=0))
    data[int(len(data) * depth)] ^= 255
    say = refused(tmp_path / "a.png", bytes(data)).say
    first = float(say.split("from ")[1].split(" ")[0])
    # The sum is that of a part of 64 KiB, which is up to 2 % of this picture.
    assert 100 * depth - 3 < first <= 100 * depth + 0.5 and "check sum" in say


def test_a_broken_note_within_a_png_is_left_out(tmp_path: Path, whole: Image.Image) -> None:
    info = PngImagePlugin.PngInfo()
    info.add_text("Comment", "from the fair")
    data = saved(whole, "PNG", pnginfo=info)
    _, at, length = next(one for one in chunks(data) if one[0] == b"tEXt")
    spoiled = bytearray(data)
    spoiled[at + 8 + length - 2] ^= 255
    art = read(tmp_path / "a.png", bytes(spoiled))
    assert np.array_equal(art.coded, read(tmp_path / "b.png", data).coded)
    assert any("tEXt" in note and "left out" in note for note in art.notes)


def test_a_broken_part_that_the_pixels_need_is_damage(tmp_path: Path, whole: Image.Image) -> None:
    data = bytearray(saved(whole.convert("P"), "PNG"))
    _, at, length = next(one for one in chunks(bytes(data)) if one[0] == b"PLTE")
    data[at + 8 + length - 2] ^= 255
    refused(tmp_path / "a.png", bytes(data))


def test_a_woven_png_with_wrong_pixels_is_refused_without_a_place(tmp_path: Path) -> None:
    rows = bytes(range(45))
    head = struct.pack(">IIBBBBB", 8, 8, 8, 0, 0, 0, 1)
    body = bytearray(zlib.compress(b"\0" + rows * 3, 0))

    def chunk(name: bytes, data: bytes) -> bytes:
        total = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", total)

    idat = bytearray(chunk(b"IDAT", bytes(body)))
    idat[30] ^= 1
    data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + bytes(idat) + chunk(b"IEND", b"")
    assert "from" not in refused(tmp_path / "a.png", data).say.split("damaged")[1]


# --- JPEG ----------------------------------------------------------------------------------------

simplejpeg = pytest.mark.skipif(
    "simplejpeg" not in extras.installed(), reason="filmhand[art] is not installed"
)


def pixels_of(data: bytes) -> Any:
    return np.asarray(Image.open(BytesIO(data)).convert("RGB")).astype(int)


def restarts(data: bytes) -> list[int]:
    """Where the restart marks are."""
    start = data.index(b"\xff\xda")
    return [
        at for at in range(start, len(data) - 1)
        if data[at] == 0xFF and 0xD0 <= data[at + 1] <= 0xD7
    ]  # fmt: skip


def spoil(data: bytes, part: int) -> bytes:
    """Codes too many in the middle of one part between restart marks."""
    marks = restarts(data)
    middle = (marks[part - 1] + marks[part]) // 2
    return data[:middle] + WRONG + data[middle:]


@simplejpeg
def test_wrong_codes_in_few_rows_are_told_with_their_place(
    tmp_path: Path, whole: Image.Image
) -> None:
    data = saved(whole, "JPEG", quality=85, restart_marker_rows=1, subsampling="4:2:0")
    assert not told(read(tmp_path / "a.jpg", data))
    for part in (3, 40, 70):
        spoiled = spoil(data, part)
        different = np.abs(pixels_of(spoiled) - pixels_of(data)).max(axis=(1, 2)) > 0
        assert different.any()
        (note,) = told(read(tmp_path / "a.jpg", spoiled))
        first, stop = 100 * part * ROWS / SIDE, 100 * (part + 1) * ROWS / SIDE
        assert f"from {first:.0f} to {stop:.0f} % of its height" in note
        assert f"{100 * ROWS / SIDE:.1f} % of its rows" in note
        # Rows beside them differ by the smoothing of colors at most.
        rows = np.flatnonzero(different)
        assert part * ROWS - 1 <= rows.min() and rows.max() <= (part + 1) * ROWS


@simplejpeg
def test_wrong_codes_in_many_rows_are_refused(tmp_path: Path, whole: Image.Image) -> None:
    data = saved(whole, "JPEG", quality=85, restart_marker_rows=1, subsampling="4:2:0")
    for part in (3, 20, 40, 70):
        data = spoil(data, part)
    fault = refused(tmp_path / "a.jpg", data)
    assert "4 to 5 %" in fault.say and "and more" in fault.say


@simplejpeg
@pytest.mark.parametrize("how", [{}, {"progressive": True}])
def test_wrong_codes_of_which_the_decoder_warns_are_refused(
    tmp_path: Path, whole: Image.Image, how: dict[str, Any]
) -> None:
    data = saved(whole, "JPEG", quality=85, **how)
    start = data.index(b"\xff\xda") + 500
    spoiled = data[:start] + b"\x55" * 4000 + data[start + 4000 :]
    assert np.abs(pixels_of(spoiled) - pixels_of(data)).max() > 60
    assert "its decoder says" in refused(tmp_path / "a.jpg", spoiled).say


@simplejpeg
def test_a_missing_restart_mark_is_refused(tmp_path: Path, whole: Image.Image) -> None:
    data = saved(whole, "JPEG", quality=85, restart_marker_rows=1)
    at = restarts(data)[10]
    assert "decoder says" in refused(tmp_path / "a.jpg", data[:at] + data[at + 2 :]).say


@simplejpeg
@pytest.mark.parametrize("filling", [b"\0" * 4, b"\xff" * 7, b"\0" * 500])
def test_bytes_that_fill_up_the_end_are_no_damage(
    tmp_path: Path, whole: Image.Image, filling: bytes
) -> None:
    data = saved(whole, "JPEG", quality=85)
    art = read(tmp_path / "a.jpg", data[:-2] + filling + data[-2:])
    assert np.array_equal(art.coded, read(tmp_path / "b.jpg", data).coded)
    assert not told(art)


def test_without_the_strict_decoder_a_film_is_made(
    tmp_path: Path, whole: Image.Image, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(extras, "installed", list)
    data = saved(whole, "JPEG", quality=85, restart_marker_rows=1)
    assert not told(read(tmp_path / "a.jpg", spoil(data, 30)))

"""Color of more than 8 bits, against the formulas of IEC 61966-2-1 and CIE 15 and littlecms."""

from __future__ import annotations

import struct
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms

from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused

pyvips = pytest.importorskip("pyvips", exc_type=(ImportError, OSError))
pytestmark = pytest.mark.outside
LIMITS: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)
RNG = np.random.default_rng(16)
COLORS = RNG.integers(0, 65536, (60, 70, 4)).astype(np.uint16)
RGB, OPACITY = COLORS[..., :3], COLORS[..., 3]


def read(path: Path, channel: Any = "luminance", page: int = 0) -> Art:
    return open_art(path, name=path.name, limits=LIMITS, channel=channel, page=page)


def decoded(code: NDArray[Any]) -> NDArray[np.float64]:
    """IEC 61966-2-1, 5.2: the light of a code 0..1."""
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def encoded(light: NDArray[Any]) -> NDArray[np.float64]:
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 65535


def luminance(rgb: NDArray[Any]) -> NDArray[np.float64]:
    """IEC 61966-2-1, 5.3: the second row of the matrix, as ITU-R BT.709 rounds it."""
    return decoded(rgb / 65535) @ np.array([0.2126, 0.7152, 0.0722])


def png(path: Path, pixels: NDArray[np.uint16]) -> Path:
    path.write_bytes(imagecodecs.png_encode(np.ascontiguousarray(pixels)))
    return path


def tiff(path: Path, pixels: NDArray[Any], **more: Any) -> Path:
    tifffile.imwrite(path, pixels, **({"photometric": "rgb"} | more))
    return path


@pytest.mark.parametrize("save", [png, tiff])
def test_16_bits_are_kept(tmp_path: Path, save: Any) -> None:
    art = read(save(tmp_path / "a", RGB))
    # Half a code of rounding, and half of a table of light in 2^20 steps.
    assert np.abs(art.coded - encoded(luminance(RGB))).max() <= 1.0
    assert not art.notes


def test_16_bit_grays_are_exact_in_color(tmp_path: Path) -> None:
    ramp = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    art = read(tiff(tmp_path / "a.tif", np.repeat(ramp[..., None], 3, axis=2)))
    assert np.array_equal(art.coded, ramp)


@pytest.mark.parametrize("save", [png, tiff])
def test_opacity_of_16_bits_lies_over_white_in_light(tmp_path: Path, save: Any) -> None:
    more = {"extrasamples": ["unassalpha"]} if save is tiff else {}
    path = save(tmp_path / "a", COLORS, **more)
    light = 1 - (1 - luminance(RGB)) * (OPACITY / 65535)
    assert np.abs(read(path).coded - encoded(light)).max() <= 1.0
    assert np.abs(read(path, "alpha").coded.astype(int) - (65535 - OPACITY.astype(int))).max() <= 1


def test_color_times_opacity_is_divided_again(tmp_path: Path) -> None:
    # TIFF 6.0, section 18: ExtraSamples 1 is associated (pre-multiplied) alpha.
    opacity = np.full_like(OPACITY, 40_000)
    stored = np.concatenate([(RGB * (40_000 / 65535)).round(), opacity[..., None]], axis=2)
    path = tiff(tmp_path / "a.tif", stored.astype(np.uint16), extrasamples=["assocalpha"])
    light = 1 - (1 - luminance(RGB)) * (40_000 / 65535)
    assert np.abs(read(path).coded - encoded(light)).max() <= 3


@pytest.mark.parametrize("channel", ["red", "green", "blue", "cyan", "magenta", "yellow", "black"])
def test_channels(tmp_path: Path, channel: str) -> None:
    found = read(tiff(tmp_path / "a.tif", RGB), channel)
    order = {"red": 0, "cyan": 0, "green": 1, "magenta": 1, "blue": 2, "yellow": 2}
    expected = RGB.max(axis=2) if channel == "black" else RGB[..., order[channel]]
    assert np.abs(found.coded.astype(int) - expected).max() <= 1
    assert any("computed" in note for note in found.notes) == (
        channel in "cyan magenta yellow black"
    )


def test_lightness(tmp_path: Path) -> None:
    y = luminance(RGB)
    # CIE 15: L* with the rational constants.
    star = np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, 24389 / 27 * y)
    art = read(tiff(tmp_path / "a.tif", RGB), "lightness")
    assert np.abs(art.coded - star / 100 * 65535).max() <= 1.0


def test_inks_of_16_bits(tmp_path: Path) -> None:
    path = tiff(tmp_path / "a.tif", COLORS, photometric="separated")
    free = 1 - COLORS / 65535
    expected = encoded(luminance(free[..., :3] * free[..., 3:] * 65535))
    art = read(path)
    assert np.abs(art.coded - expected).max() <= 13  # a mixed color is rounded to 16 bits first
    assert any("mixed plainly" in note for note in art.notes)
    for i, ink in enumerate(("cyan", "magenta", "yellow", "black")):
        assert np.array_equal(read(path, ink).coded, 65535 - COLORS[..., i])
    only = COLORS.copy()
    only[..., :3] = 0
    art = read(tiff(tmp_path / "k.tif", only, photometric="separated"))
    assert np.array_equal(art.coded, 65535 - only[..., 3])
    with pytest.raises(Refused) as caught:
        read(path, "alpha")
    assert caught.value.reason is Reason.BLANK


def test_fractions_are_light_and_say_so(tmp_path: Path) -> None:
    light = (RGB / 65535).astype(np.float32)
    art = read(tiff(tmp_path / "a.tif", light))
    assert np.abs(art.coded - encoded(light @ np.array([0.2126, 0.7152, 0.0722]))).max() <= 1.0
    assert any("linear light" in note for note in art.notes)
    light[3, 3, 1] = np.nan
    with pytest.raises(Refused) as caught:
        read(tiff(tmp_path / "b.tif", light))
    assert caught.value.reason is Reason.DAMAGED


def test_white_on_nothing_and_pages(tmp_path: Path) -> None:
    pixels = np.full((20, 30, 4), 65535, np.uint16)
    pixels[:, 10:, 3] = 0
    art = read(png(tmp_path / "a.png", pixels))
    assert art.coded[5, 5] == 0 and art.coded[5, 20] == 65535
    assert any("channel: alpha" in note for note in art.notes)
    pages = np.stack([RGB, RGB[::-1]])
    path = tiff(tmp_path / "a.tif", pages)
    assert np.array_equal(read(path, page=1).coded, read(path).coded[::-1])


@pytest.mark.parametrize("turn", range(1, 9))
def test_turned_as_noted(tmp_path: Path, turn: int) -> None:
    flat = tiff(
        tmp_path / "a.tif", (RGB >> 8).astype(np.uint8), extratags=[(274, 3, 1, turn, True)]
    )
    deep = tiff(
        tmp_path / "b.tif", (RGB >> 8) * np.uint16(257), extratags=[(274, 3, 1, turn, True)]
    )
    shallow = read(flat)
    assert np.abs(shallow.coded.astype(int) - read(deep).coded).max() <= 257
    assert shallow.notes == read(deep).notes


def wide_profile() -> bytes:
    """ICC.1 v2 matrix profile of the P3 primaries with a D65 white, adapted to D50 (Bradford)."""
    # Rows: X, Y, Z of red, green, blue under D50; computed from the chromaticities below.
    xy = np.array([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)])
    white = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290])
    columns = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(1)) / xy[:, 1]])
    matrix = columns * np.linalg.solve(columns, white)
    cone = np.array(
        [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
    )
    d50 = np.array([0.9642, 1.0, 0.8249])
    adapt = np.linalg.inv(cone) @ np.diag((cone @ d50) / (cone @ white)) @ cone
    colorants = (adapt @ matrix).T

    def s15(value: float) -> bytes:
        return struct.pack(">i", round(value * 65536))

    xyz = [b"XYZ \0\0\0\0" + b"".join(s15(v) for v in row) for row in colorants]
    gamma = b"curv\0\0\0\0\0\0\0\1" + struct.pack(">H", round(2.2 * 256)) + b"\0\0"
    name = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"wide\0" + bytes(4 + 4 + 2 + 1 + 67)
    name += bytes(-len(name) % 4)
    media = b"XYZ \0\0\0\0" + b"".join(s15(v) for v in d50)
    text = b"text\0\0\0\0none\0\0\0\0"
    tags = {
        b"rXYZ": xyz[0], b"gXYZ": xyz[1], b"bXYZ": xyz[2], b"rTRC": gamma, b"gTRC": gamma,
        b"bTRC": gamma, b"desc": name, b"wtpt": media, b"cprt": text,
    }  # fmt: skip
    at = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for key, data in tags.items():
        table += key + struct.pack(">II", at + len(body), len(data))
        body += data
    head = bytearray(128)
    head[0:4] = struct.pack(">I", at + len(body))
    head[8:12], head[12:24] = b"\x02\x10\0\0", b"mntrRGB XYZ "
    head[36:40] = b"acsp"
    head[68:80] = b"".join(s15(v) for v in d50)
    return bytes(head) + table + body


def test_wide_colors_are_followed_in_16_bits(tmp_path: Path) -> None:
    profile = wide_profile()
    ImageCms.ImageCmsProfile(BytesIO(profile))  # littlecms takes it
    # Muted colors, which sRGB holds too: nothing is cut.
    rgb = RNG.integers(20_000, 45_000, (40, 50, 3)).astype(np.uint16)
    art = read(tiff(tmp_path / "a.tif", rgb, iccprofile=profile))
    assert any("followed" in note for note in art.notes)
    # Independently: luminance of the P3 primaries (second row of their matrix to XYZ, D65),
    # relative colorimetric keeps Y relative to white but for Bradford's small share.
    xy = np.array([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)])
    white = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290])
    columns = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(1)) / xy[:, 1]])
    matrix = columns * np.linalg.solve(columns, white)
    expected = encoded((rgb / 65535) ** 2.2 @ matrix[1])
    assert np.abs(art.coded - expected).max() <= 0.003 * 65535
    eight = Image.fromarray((rgb >> 8).astype(np.uint8))
    eight.save(tmp_path / "b.tif", icc_profile=profile)
    assert np.abs(read(tmp_path / "b.tif").coded.astype(int) - art.coded).max() <= 3 * 257


def test_inks_with_a_profile_agree_with_littlecms(tmp_path: Path) -> None:
    # A press profile in the public domain, which the library carries.
    profile = pyvips.Operation.call("profile_load", "cmyk")
    inks = RNG.integers(0, 256, (40, 50, 4)).astype(np.uint8)
    path = tiff(
        tmp_path / "a.tif", inks * np.uint16(257), photometric="separated", iccprofile=profile
    )
    art = read(path)
    assert any("followed" in note for note in art.notes)
    to_srgb = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(BytesIO(profile)),
        ImageCms.createProfile("sRGB"),
        "CMYK",
        "RGB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    rgb = np.asarray(ImageCms.applyTransform(Image.fromarray(inks, "CMYK"), to_srgb))
    expected = encoded(luminance(rgb * 257.0))
    assert np.abs(art.coded - expected).max() <= 2 * 257
    # An ink asked for by name is the plane itself, whatever the profile says of its look.
    assert np.array_equal(read(path, "black").coded, 65535 - inks[..., 3] * np.uint16(257))


def test_damage_is_seen(tmp_path: Path) -> None:
    path = png(tmp_path / "a.png", RGB)
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 200] = bytes(200)
    path.write_bytes(bytes(data))
    with pytest.raises(Refused) as caught:
        read(path)
    assert caught.value.reason is Reason.DAMAGED
    path = tiff(tmp_path / "a.tif", RGB, compression="deflate")
    data = bytearray(path.read_bytes())
    data[2000:2600] = bytes(600)
    path.write_bytes(bytes(data))
    with pytest.raises(Refused) as caught:
        read(path)
    assert caught.value.reason is Reason.DAMAGED


def test_grays_are_exact_where_they_are_opaque_beside_what_is_not(tmp_path: Path) -> None:
    ramp = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    pixels = np.repeat(ramp[..., None], 4, axis=2)
    pixels[..., 3] = 65535
    pixels[0, :, 3] = 30_000
    art = read(tiff(tmp_path / "a.tif", pixels, extrasamples=["unassalpha"]))
    assert np.array_equal(art.coded[1:], ramp[1:])
    light = 1 - (1 - decoded(ramp[0] / 65535)) * (30_000 / 65535)
    assert np.abs(art.coded[0] - encoded(light)).max() <= 1.0

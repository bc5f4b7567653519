"""Kinds of files held against other decoders, and against the pixels that they were made of.

Files are made by encoders, or by hand from the formats' descriptions (tests/fuzz/sound_files.py).
Tolerances are of gray codes of 0 to 255. An 8-bit code is exact; light of 16 bits or of fractions
is rounded once more.
"""

from __future__ import annotations

import gzip
import struct
import sys
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image
from skimage.color import lab2rgb

from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused

sys.path.insert(0, str(Path(__file__).parents[1] / "fuzz"))
from sound_files import layered_file, sound, targa

imagecodecs = pytest.importorskip("imagecodecs")
pytestmark = pytest.mark.outside
LIMITS: Any = SimpleNamespace(megapixels=20.0, megabytes=512.0, pages=50, memory=2**31)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


@pytest.fixture
def read(tmp_path: Path) -> Any:
    def reading(data: bytes, channel: Any = "luminance") -> Art:
        path = tmp_path / "art"
        path.write_bytes(data)
        return open_art(path, name="art", limits=LIMITS, channel=channel)

    return reading


def to_light(share: Any) -> Any:
    """IEC 61966-2-1."""
    share = np.asarray(share, np.float64)
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def gray_of(rgb: Any) -> Any:
    """Gray codes 0..255 of colors whose full is 1: the sRGB code of their luminance."""
    light = to_light(np.clip(rgb, 0, 1)) @ LUMINANCE
    return code_of(light)


def code_of(light: Any) -> Any:
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def agrees(art: Art, gray: Any, tolerance: float) -> None:
    assert art.coded.shape == np.shape(gray)
    assert np.abs(art.coded / 257 - gray).max() <= tolerance + 1e-9


def picture(bits: int = 8) -> Any:
    rng = np.random.default_rng(4)
    y, x = np.mgrid[0:60, 0:90]
    rgb = np.stack([x * 2.8, y * 4.2, (x + y) * 1.7], axis=-1) / 255
    rgb = np.clip(rgb + rng.normal(0, 0.02, rgb.shape), 0, 1)
    if bits == 32:
        return rgb.astype(np.float32)
    kind = np.uint8 if bits == 8 else np.uint16
    return np.round(rgb * (2**bits - 1)).astype(kind)


@pytest.mark.parametrize("bits", [8, 12, 16])
@pytest.mark.parametrize("form", ["jp2", "j2k"])
def test_jpeg_2000(read: Any, bits: int, form: str) -> None:
    rgb = picture(bits)
    packed = imagecodecs.jpeg2k_encode(
        rgb, level=0, codecformat=form, bitspersample=bits, reversible=True
    )
    agrees(read(packed), gray_of(rgb / (2**bits - 1)), 0.51 if bits == 8 else 0.02)


@pytest.mark.parametrize("bits", [8, 16])
def test_jpeg_xl(read: Any, bits: int) -> None:
    rgb = picture(bits)
    art = read(imagecodecs.jpegxl_encode(rgb, lossless=True))
    agrees(art, gray_of(rgb / (2**bits - 1)), 0.51 if bits == 8 else 0.02)
    assert not art.notes
    gray = rgb[..., 0]
    agrees(
        read(imagecodecs.jpegxl_encode(gray, lossless=True)), gray / (1 if bits == 8 else 257), 0
    )


def test_jpeg_xl_that_lost_something(read: Any) -> None:
    rgb = picture()
    art = read(imagecodecs.jpegxl_encode(rgb, level=95))
    assert np.abs(art.coded / 257 - gray_of(rgb / 255)).mean() < 3


def test_jpeg_xl_with_opacity(read: Any) -> None:
    rgba = np.dstack([picture(), np.tile(np.arange(90, dtype=np.uint8) * 2, (60, 1))])
    light = to_light(rgba[..., :3] / 255) @ LUMINANCE
    expected = code_of(1 - (1 - light) * rgba[..., 3] / 255)
    agrees(read(imagecodecs.jpegxl_encode(rgba, lossless=True)), expected, 0.6)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("tile", [None, (16, 32)])
@pytest.mark.parametrize("packing", [None, "lzw", "zlib", "zstd", "packbits"])
@pytest.mark.parametrize("order", ["<", ">"])
def test_planar_tiff(read: Any, bits: int, tile: Any, packing: Any, order: str) -> None:
    rgb, buffer = picture(bits), BytesIO()
    tifffile.imwrite(
        buffer, np.moveaxis(rgb, 2, 0), photometric="rgb", planarconfig="separate", tile=tile,
        compression=packing, predictor=packing in ("lzw", "zlib"), byteorder=order,
    )  # fmt: skip
    art = read(buffer.getvalue())
    agrees(art, gray_of(rgb / (2**bits - 1)), 0.51 if bits == 8 else 0.02)


@pytest.mark.parametrize("packing", ["webp", "jpeg2000", "jpegxl", "png", "lzma", "zstd"])
def test_tiff_packed_in_rare_ways(read: Any, packing: str) -> None:
    rgb, buffer = picture(), BytesIO()
    lossless = {"webp": {"lossless": True, "level": 100}, "jpeg2000": {"level": 0}}
    tifffile.imwrite(
        buffer, rgb, photometric="rgb", compression=packing, compressionargs=lossless.get(packing)
    )
    agrees(read(buffer.getvalue()), gray_of(rgb / 255), 0.51)


@pytest.mark.parametrize("kind", [np.float16, np.float64])
def test_tiff_of_short_and_long_fractions(read: Any, kind: Any) -> None:
    rgb, buffer = picture(32).astype(kind), BytesIO()
    tifffile.imwrite(buffer, rgb, photometric="rgb")
    agrees(read(buffer.getvalue()), code_of(rgb.astype(float) @ LUMINANCE), 0.05)
    buffer = BytesIO()
    tifffile.imwrite(buffer, rgb[..., 0], photometric="minisblack")
    agrees(read(buffer.getvalue()), rgb[..., 0].astype(float) * 255, 0.05)


def in_srgb() -> Any:
    """L*, a* and b* of colors that sRGB has, and their gray by scikit-image (D50)."""
    y, x = np.mgrid[0:60, 0:90]
    lab = np.stack([20 + x * 0.7, np.sin(y / 9) * 14, np.cos(x / 13) * 14], axis=-1)
    return lab, gray_of(lab2rgb(lab, illuminant="D50"))


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("photometric", ["cielab", "icclab"])
def test_cielab_tiff(read: Any, bits: int, photometric: str) -> None:
    # TIFF 6.0, section 23: a* and b* with a sign; ICCLab in its supplement: 128 in the middle.
    lab, gray = in_srgb()
    step = 1 if bits == 8 else 256
    unsigned = np.uint8 if bits == 8 else np.uint16
    most = 255 * 256 if (bits, photometric) == (16, "icclab") else 2**bits - 1
    lightness = np.round(lab[..., :1] / 100 * most).astype(unsigned)
    if photometric == "cielab":
        opposed = np.round(lab[..., 1:] * step).astype(f"i{bits // 8}").view(unsigned)
    else:
        opposed = np.round((lab[..., 1:] + 128) * step).astype(unsigned)
    buffer = BytesIO()
    tifffile.imwrite(buffer, np.concatenate([lightness, opposed], -1), photometric=photometric)
    agrees(read(buffer.getvalue()), gray, 2.5 if bits == 8 else 1)


@pytest.mark.parametrize("packing", [0, 1, 2, 3])
@pytest.mark.parametrize("version", [1, 2])
@pytest.mark.parametrize("bits", [8, 16, 32])
def test_layered_files(read: Any, packing: int, version: int, bits: int) -> None:
    """Against psd-tools, which reads them by itself."""
    psd_tools = pytest.importorskip("psd_tools")
    rgb = picture(bits)
    data = layered_file(np.moveaxis(rgb, 2, 0), mode=3, version=version, packing=packing)
    theirs = psd_tools.PSDImage.open(BytesIO(data)).numpy()
    gray = code_of(theirs @ LUMINANCE) if bits == 32 else gray_of(theirs)
    agrees(read(data), gray, {8: 0.51, 16: 0.02, 32: 0.02}[bits])


@pytest.mark.parametrize("bits", [8, 16])
def test_layered_files_in_inks_gray_and_lab(read: Any, bits: int) -> None:
    full = 2**bits - 1
    gray = picture(bits)[..., :1]
    agrees(read(layered_file(np.moveaxis(gray, 2, 0), mode=1)), gray[..., 0] / full * 255, 0)
    inks = np.zeros((60, 90, 4), gray.dtype)
    inks[..., 3] = gray[..., 0]
    stored = np.moveaxis(full - inks, 2, 0)  # upside down (from memory)
    black_plate = read(layered_file(stored, mode=4), "black")
    agrees(black_plate, (full - gray[..., 0]) / full * 255, 0)
    lab, expected = in_srgb()
    lightness = np.round(lab[..., :1] / 100 * full)
    opposed = np.round((lab[..., 1:] + 128) * (1 if bits == 8 else 256))
    planes = np.concatenate([lightness, opposed], -1).astype(gray.dtype)
    agrees(read(layered_file(np.moveaxis(planes, 2, 0), mode=9)), expected, 2.5)


def test_layered_bitmap_and_palette(read: Any) -> None:
    black = np.indices((60, 96)).sum(axis=0) % 3 == 0
    data = layered_file(np.packbits(black, axis=1)[None], mode=0)
    agrees(read(data), np.where(black, 0, 255), 0)
    plane = np.tile(np.arange(90, dtype=np.uint8), (60, 1))
    data = layered_file(plane[None], mode=2)
    table = np.stack([np.arange(256), np.arange(256)[::-1], np.full(256, 9)]).astype(np.uint8)
    with_table = data[:26] + struct.pack(">I", 768) + table.tobytes() + data[30:]
    agrees(read(with_table), gray_of(table.T[plane] / 255), 0.51)


@pytest.mark.parametrize("form", ["P1", "P2", "P4", "P6"])
def test_netpbm_against_the_base_reader(read: Any, form: str) -> None:
    data = sound("Netpbm", form)
    with Image.open(BytesIO(data)) as image:
        agrees(read(data), gray_of(np.asarray(image.convert("RGB")) / 255), 0.51)


@pytest.mark.parametrize(("most", "tolerance"), [(9, 0.51), (255, 0), (1000, 0.01), (65535, 0.01)])
def test_netpbm_of_any_largest_value(read: Any, most: int, tolerance: float) -> None:
    values = np.arange(most + 1)[:: max(1, most // 90)]
    kind = ">u2" if most > 255 else "u1"
    data = b"P5 %d 1 %d\n" % (len(values), most) + values.astype(kind).tobytes()
    agrees(read(data), values[None] / most * 255, tolerance)


@pytest.mark.parametrize("order", ["<", ">"])
def test_float_maps_lie_from_the_bottom_up(read: Any, order: str) -> None:
    rgb = picture(32)
    scale = -1.0 if order == "<" else 1.0
    data = b"PF\n90 60\n%.1f\n" % scale + rgb[::-1].astype(f"{order}f4").tobytes()
    agrees(read(data), code_of(rgb @ LUMINANCE), 0.02)


@pytest.mark.parametrize("how", [{}, {"runs": True}, {"gray": True}, {"from_below": True}])
def test_tga(read: Any, how: dict[str, bool]) -> None:
    from sound_files import _pixels

    pixels = _pixels()[..., [0, 0, 0]] if "gray" in how else _pixels()
    agrees(read(targa(**how)), gray_of(pixels / 255), 0.51)


def test_pcx_against_the_pixels(read: Any) -> None:
    image = Image.fromarray(picture()).convert("L").quantize(16).convert("P")
    for mode in ("P", "L", "RGB", "1"):
        plain, buffer = image.convert(mode), BytesIO()
        plain.save(buffer, "PCX")
        agrees(read(buffer.getvalue()), gray_of(np.asarray(plain.convert("RGB")) / 255), 0.51)


def test_bitmaps_without_their_first_header(read: Any) -> None:
    for mode in ("RGB", "L", "1", "P"):
        buffer = BytesIO()
        Image.fromarray(picture()).convert(mode).save(buffer, "BMP")
        whole, bare = read(buffer.getvalue()), read(buffer.getvalue()[14:])
        assert np.array_equal(whole.coded, bare.coded) and bare.format == "DIB"


@pytest.mark.parametrize("pixels", [{}, {"pixel_format": "DXT1"}, {"pixel_format": "DXT5"}])
def test_dds_against_imagecodecs(read: Any, pixels: dict[str, str]) -> None:
    buffer = BytesIO()
    Image.fromarray(picture()).convert("RGBA").crop((0, 0, 88, 60)).save(buffer, "DDS", **pixels)
    data = buffer.getvalue()
    rgb = imagecodecs.dds_decode(data)[..., :3] if pixels else picture()[:, :88]
    # Block codes are between two colors, which decoders round differently.
    agrees(read(data), gray_of(rgb / 255), 3 if pixels else 0.51)


def test_icons_by_their_largest_picture(read: Any) -> None:
    image = Image.fromarray(picture()).crop((0, 0, 60, 60)).convert("RGBA")
    for form in ("bmp", "png"):
        buffer = BytesIO()
        image.save(buffer, "ICO", sizes=[(16, 16), (48, 48), (32, 32)], bitmap_format=form)
        art = read(buffer.getvalue())
        assert art.coded.shape == (48, 48)
        with Image.open(BytesIO(buffer.getvalue())) as again:
            agrees(art, gray_of(np.asarray(again.convert("RGB")) / 255), 0.51)


def test_packed_drawings_are_the_same_as_plain_ones(read: Any) -> None:
    plain = sound("SVG", "shapes")
    art = read(gzip.compress(plain))
    assert np.array_equal(art.coded, read(plain).coded) and art.format == "SVG"


@pytest.mark.parametrize("bits", [12, 16])
def test_jpeg_without_loss_and_of_twelve_bits(read: Any, bits: int) -> None:
    rgb = picture(bits)
    data = imagecodecs.ljpeg_encode(rgb[..., 0], bitspersample=bits)
    agrees(read(data), rgb[..., 0] / (2**bits - 1) * 255, 0.01)
    if bits == 12:
        data = imagecodecs.jpeg8_encode(rgb[..., 0].copy(), level=98, bitspersample=12)
        assert np.abs(read(data).coded / 257 - rgb[..., 0] / 4095 * 255).mean() < 1


def test_kinds_that_are_not_read_are_neither_broken_nor_no_picture(read: Any) -> None:
    """Sorts that no library here opens: the sentence says to save as PNG, and blames nothing."""
    volume = BytesIO()
    tifffile.imwrite(volume, np.ones((60, 90, 2), np.complex64), planarconfig="contig")
    for data in (
        b"\x76\x2f\x31\x01" + bytes(90),
        b"#?RADIANCE\nFORMAT=32-bit_rle_rgbe\n",
        layered_file(np.ones((3, 60, 90), np.uint8), mode=5),
        volume.getvalue(),
    ):
        with pytest.raises(Refused) as caught:
            read(data)
        assert caught.value.reason is Reason.NOT_ART
        assert "read here" in caught.value.say and "PNG" in caught.value.do

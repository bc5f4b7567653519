"""Every mode and format, with files from writers that we did not write.

Outside sources: tifffile and imagecodecs as independent writers, zlib for PNG made by hand from
W3C PNG (third edition), littlecms through ImageCms as the reference for profiles.
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
import tifffile
from PIL import Image, ImageCms

from filmhand.art.files.open_art import Art, count_pages, open_art
from filmhand.errors import Reason, Refused

pytestmark = pytest.mark.outside
LIMITS: Any = SimpleNamespace(megapixels=400.0, megabytes=512.0, pages=50, memory=2**31)
RAMP = np.arange(256, dtype=np.uint8).reshape(16, 16)
RNG = np.random.default_rng(5)


def read(path: Path, channel: str = "luminance", page: int = 0) -> Art:
    chosen: Any = channel
    return open_art(path, name=path.name, limits=LIMITS, channel=chosen, page=page)


def srgb(light: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1, written out again here on purpose."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def light(code: np.ndarray) -> np.ndarray:
    v = np.asarray(code, float) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def luminance_code(rgb: np.ndarray) -> np.ndarray:
    return srgb(light(rgb) @ [0.2126, 0.7152, 0.0722]) * 65535


def png(path: Path, width: int, height: int, depth: int, color: int, rows: bytes, **chunks: bytes):
    """A PNG by hand (W3C PNG, third edition): unfiltered rows, extra chunks before the data."""

    def chunk(name: bytes, data: bytes) -> bytes:
        crc = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", crc)

    stride = len(rows) // height
    raw = b"".join(b"\0" + rows[y * stride : (y + 1) * stride] for y in range(height))
    head = struct.pack(">IIBBBBB", width, height, depth, color, 0, 0, 0)
    extra = b"".join(chunk(name.encode(), data) for name, data in chunks.items())
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + extra
        + chunk(b"IDAT", zlib.compress(raw))
        + chunk(b"IEND", b"")
    )
    return path


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.bmp", "a.gif", "lossless.webp"])
def test_8_bit_gray_is_exactly_257_times_its_code(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    Image.fromarray(RAMP).save(path, **({"lossless": True} if name.endswith("webp") else {}))
    art = read(path)
    assert np.array_equal(art.coded, RAMP.astype(np.uint16) * 257)
    assert art.coded.flags.c_contiguous and art.coded.dtype == np.uint16


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P", "LA"])
def test_neutral_color_is_exactly_gray(tmp_path: Path, mode: str) -> None:
    path = tmp_path / "a.png"
    Image.fromarray(RAMP).convert(mode).save(path)
    assert np.array_equal(read(path).coded, RAMP.astype(np.uint16) * 257)


def test_color_follows_iec_61966_2_1_to_a_hundredth_of_an_8_bit_step(tmp_path: Path) -> None:
    rgb = RNG.integers(0, 256, (300, 211, 3), np.uint8)
    path = tmp_path / "a.png"
    Image.fromarray(rgb).save(path)
    assert np.abs(read(path).coded - luminance_code(rgb)).max() <= 2.5


def test_1_bit(tmp_path: Path) -> None:
    bits = RNG.integers(0, 2, (31, 45)).astype(bool)
    expected = bits.astype(np.uint16) * 65535
    for name in ("a.png", "a.tif", "a.bmp"):
        Image.fromarray(bits).save(tmp_path / name)
        assert np.array_equal(read(tmp_path / name).coded, expected)
    Image.fromarray(bits).save(tmp_path / "g4.tif", compression="group4")
    assert np.array_equal(read(tmp_path / "g4.tif").coded, expected)
    tifffile.imwrite(tmp_path / "w.tif", bits, photometric="miniswhite")
    assert np.array_equal(read(tmp_path / "w.tif").coded, 65535 - expected)


@pytest.mark.parametrize("compression", [None, "deflate", "lzw"])
@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("photometric", ["minisblack", "miniswhite"])
def test_16_bit_gray_is_unchanged(
    tmp_path: Path, compression: str | None, order: str, photometric: str
) -> None:
    gray = RNG.integers(0, 65536, (40, 53)).astype(np.uint16)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, gray, byteorder=order, compression=compression, photometric=photometric)
    expected = gray if photometric == "minisblack" else 65535 - gray
    assert np.array_equal(read(path).coded, expected)


@pytest.mark.parametrize("compression", [None, "deflate"])
def test_8_bit_white_is_zero(tmp_path: Path, compression: str | None) -> None:
    tifffile.imwrite(tmp_path / "a.tif", RAMP, photometric="miniswhite", compression=compression)
    assert np.array_equal(read(tmp_path / "a.tif").coded, (255 - RAMP.astype(np.uint16)) * 257)


def test_16_bit_gray_png_with_and_without_a_transparent_gray(tmp_path: Path) -> None:
    gray = np.array([[0, 1, 438, 2191], [30000, 40000, 65534, 65535]], np.uint16)
    rows = gray.astype(">u2").tobytes()
    assert np.array_equal(read(png(tmp_path / "a.png", 4, 2, 16, 0, rows)).coded, gray)
    keyed = png(tmp_path / "k.png", 4, 2, 16, 0, rows, tRNS=struct.pack(">H", 438))
    expected = gray.copy()
    expected[0, 2] = 65535
    assert np.array_equal(read(keyed).coded, expected)
    ink = read(keyed, "alpha").coded
    assert ink[0, 2] == 65535 and ink.sum() == 65535


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
def test_transparent_gray_of_small_depths(tmp_path: Path, depth: int) -> None:
    top = 2**depth - 1
    path = png(tmp_path / "a.png", 8 // depth, 1, depth, 0, b"\x00", tRNS=struct.pack(">H", 0))
    assert (read(path).coded == 65535).all()
    path = png(tmp_path / "b.png", 8 // depth, 1, depth, 0, b"\x00", tRNS=struct.pack(">H", top))
    assert (read(path).coded == 0).all()


def test_palette_with_one_transparent_index_and_with_a_table(tmp_path: Path) -> None:
    palette = bytes([0, 0, 0, 255, 0, 0, 0, 0, 128])
    rows = bytes([0, 1, 2])
    plain = read(png(tmp_path / "a.png", 3, 1, 8, 3, rows, PLTE=palette)).coded[0]
    expected = luminance_code(np.array([[0, 0, 0], [255, 0, 0], [0, 0, 128]]))
    assert np.abs(plain - expected).max() <= 2
    one = read(png(tmp_path / "b.png", 3, 1, 8, 3, rows, PLTE=palette, tRNS=b"\0")).coded[0]
    assert one[0] == 65535 and np.array_equal(one[1:], plain[1:])
    half = read(png(tmp_path / "c.png", 3, 1, 8, 3, rows, PLTE=palette, tRNS=b"\x80\xff"))
    # Composited in linear light: 128/255 of black on white.
    assert half.coded[0, 0] == pytest.approx(float(srgb(np.array(1 - 128 / 255))) * 65535, abs=2)


def test_rgb_with_a_transparent_color(tmp_path: Path) -> None:
    rows = bytes([10, 20, 30, 40, 50, 60])
    path = png(tmp_path / "a.png", 2, 1, 8, 2, rows, tRNS=struct.pack(">HHH", 10, 20, 30))
    coded = read(path).coded[0]
    assert coded[0] == 65535 and coded[1] < 20000


def test_transparency_lies_over_white_in_linear_light(tmp_path: Path) -> None:
    rgba = RNG.integers(0, 256, (64, 64, 4), np.uint8)
    Image.fromarray(rgba).save(tmp_path / "a.png")
    share = rgba[..., 3] / 255
    y = light(rgba[..., :3]) @ [0.2126, 0.7152, 0.0722]
    expected = srgb(1 - share * (1 - y)) * 65535
    for name in ("a.png", "a.tif", "a.webp"):
        extra: dict[str, Any] = {"lossless": True, "exact": True} if name == "a.webp" else {}
        Image.fromarray(rgba).save(tmp_path / name, **extra)
        assert np.abs(read(tmp_path / name).coded - expected).max() <= 3


def test_16_bit_color_without_its_library_is_cut_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("filmhand.art.files.deep_color.library", lambda: None)
    deep = RNG.integers(0, 65536, (20, 30, 3)).astype(np.uint16)
    tifffile.imwrite(tmp_path / "a.tif", deep, photometric="rgb")
    rows = deep.astype(">u2").tobytes()
    png(tmp_path / "a.png", 30, 20, 16, 2, rows)
    for name in ("a.tif", "a.png"):
        art = read(tmp_path / name)
        assert any("filmhand[art]" in note for note in art.notes)
        assert np.abs(art.coded - luminance_code(deep >> 8)).max() <= 3


def test_12_bit_gray_is_spread_to_16(tmp_path: Path) -> None:
    # Two 12-bit samples in three bytes, most significant first (TIFF 6.0, fill order 1).
    path = tmp_path / "a.tif"
    entries = [
        (256, 3, 2), (257, 3, 1), (258, 3, 12), (259, 3, 1), (262, 3, 1),
        (273, 4, 8), (277, 3, 1), (278, 3, 1), (279, 4, 3),
    ]  # fmt: skip
    directory = struct.pack("<H", len(entries)) + b"".join(
        struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in entries
    )
    path.write_bytes(b"II*\0" + struct.pack("<I", 12) + b"\xff\xf8\x00\0" + directory + b"\0" * 4)
    assert read(path).coded.tolist() == [[65535, 2048 * 65535 // 4095]]


@pytest.mark.parametrize("white", [1.0, 255.0, 65535.0])
def test_float_gray(tmp_path: Path, white: float) -> None:
    values = (np.linspace(0, 1, 256).reshape(16, 16) * white).astype(np.float32)
    tifffile.imwrite(tmp_path / "a.tif", values, photometric="minisblack")
    art = read(tmp_path / "a.tif")
    assert np.abs(art.coded - np.linspace(0, 65535, 256).reshape(16, 16)).max() <= 1
    assert any(f"white at {white:g}" in note for note in art.notes)


@pytest.mark.parametrize("odd", [np.nan, np.inf, -np.inf])
def test_float_that_is_no_number_is_damaged(tmp_path: Path, odd: float) -> None:
    values = np.full((64, 64), 0.5, np.float32)
    values[40, 20] = odd
    tifffile.imwrite(tmp_path / "a.tif", values, photometric="minisblack")
    with pytest.raises(Refused) as refused:
        read(tmp_path / "a.tif")
    assert refused.value.reason is Reason.DAMAGED


@pytest.mark.parametrize("kind", [np.uint32, np.int32])
def test_32_bit_whole_numbers(tmp_path: Path, kind: Any) -> None:
    values = np.linspace(0, np.iinfo(kind).max, 256).astype(kind).reshape(16, 16)
    tifffile.imwrite(tmp_path / "a.tif", values, photometric="minisblack")
    expected = np.linspace(0, 65535, 256).reshape(16, 16)
    assert np.abs(read(tmp_path / "a.tif").coded - expected).max() <= 1


def test_cmyk_without_a_profile_is_mixed_plainly(tmp_path: Path) -> None:
    inks = np.array([[[0, 0, 0, 128], [255, 0, 0, 0], [0, 0, 0, 255], [0, 0, 0, 0]]], np.uint8)
    tifffile.imwrite(tmp_path / "a.tif", inks, photometric="separated")
    art = read(tmp_path / "a.tif")
    expected = luminance_code(np.array([[127] * 3, [0, 255, 255], [0] * 3, [255] * 3]))
    assert np.abs(art.coded[0] - expected).max() <= 2
    assert any("mixed plainly" in note for note in art.notes)
    assert read(tmp_path / "a.tif", "black").coded[0].tolist() == [127 * 257, 65535, 0, 65535]
    assert read(tmp_path / "a.tif", "cyan").coded[0].tolist() == [65535, 0, 65535, 65535]


def test_cmyk_jpeg_has_the_right_polarity(tmp_path: Path) -> None:
    inks = np.zeros((64, 64, 4), np.uint8)
    inks[:, :32, 3] = 255
    Image.fromarray(inks, "CMYK").save(tmp_path / "a.jpg", quality=95)
    art = read(tmp_path / "a.jpg")
    assert art.coded[:, :30].max() < 2000 and art.coded[:, 34:].min() > 63000
    assert any("Only the black ink" in note for note in art.notes)


def test_ycbcr_and_lab_tiff(tmp_path: Path) -> None:
    rgb = np.zeros((32, 32, 3), np.uint8)
    rgb[:, 16:] = (222, 184, 155)
    tifffile.imwrite(tmp_path / "y.tif", rgb, photometric="rgb", compression="jpeg",
                     compressionargs={"level": 98})  # fmt: skip
    assert read(tmp_path / "y.tif").coded[10, 28] == pytest.approx(191 * 257, abs=400)
    lab = np.zeros((8, 8, 3), np.uint8)
    lab[..., 0] = 136  # L* 53.33, neutral: sRGB code 127 to 128
    tifffile.imwrite(tmp_path / "l.tif", lab, photometric="cielab")
    assert read(tmp_path / "l.tif").coded[0, 0] == pytest.approx(127.4 * 257, abs=300)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "webp", "lzw.tif"])
def test_orientation_is_applied_once(tmp_path: Path, orientation: int, suffix: str) -> None:
    # Exif 2.32, 4.6.4 A: what the 0th row and the 0th column of the stored picture are.
    upright = np.full((48, 32), 255, np.uint8)
    upright[:16, :8] = 0  # the upper left corner
    stored = {
        1: upright, 2: upright[:, ::-1], 3: upright[::-1, ::-1], 4: upright[::-1],
        5: upright.T, 6: np.rot90(upright, 1), 7: upright[::-1, ::-1].T, 8: np.rot90(upright, -1),
    }[orientation]  # fmt: skip
    exif = Image.Exif()
    exif[274] = orientation
    path = tmp_path / f"a.{suffix}"
    extra: dict[str, Any] = {"quality": 95} if suffix == "jpg" else {}
    extra |= {"compression": "tiff_lzw"} if suffix == "lzw.tif" else {}
    Image.fromarray(np.ascontiguousarray(stored)).convert("RGB").save(
        path, exif=exif, dpi=(300, 150), **extra
    )
    art = read(path)
    assert art.coded.shape == (48, 32) and (art.width_px, art.height_px) == (32, 48)
    assert art.coded[4, 4] < 5000 and art.coded[4, 28] > 60000 and art.coded[44, 4] > 60000
    if suffix != "webp":
        across, down = art.ppi or (0, 0)
        wanted = (150, 300) if orientation >= 5 else (300, 150)
        assert (across, down) == pytest.approx(wanted, abs=0.1)


def test_embedded_profile_is_followed_as_littlecms_does(tmp_path: Path) -> None:
    profile = wide_profile()
    rgb = RNG.integers(0, 256, (50, 60, 3), np.uint8)
    Image.fromarray(rgb).save(tmp_path / "a.png", icc_profile=profile)
    out = ImageCms.profileToProfile(
        Image.fromarray(rgb),
        ImageCms.ImageCmsProfile(BytesIO(profile)),
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    assert out is not None
    art = read(tmp_path / "a.png")
    assert np.abs(art.coded - luminance_code(np.asarray(out))).max() <= 3
    assert np.abs(art.coded - luminance_code(rgb)).max() > 2000  # it really did something
    assert any("profile" in note for note in art.notes)


def wide_profile() -> bytes:
    """An RGB profile like sRGB with red and green exchanged, made by editing littlecms' sRGB."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = struct.unpack_from(">I", data, 128)[0]
    places = {bytes(data[132 + 12 * i : 136 + 12 * i]): 136 + 12 * i for i in range(count)}
    red, green = places[b"rXYZ"], places[b"gXYZ"]
    data[red : red + 8], data[green : green + 8] = data[green : green + 8], data[red : red + 8]
    return bytes(data)


def test_the_profile_of_a_palette_is_followed_too(tmp_path: Path) -> None:
    indexed = Image.fromarray(RAMP, "P")
    indexed.putpalette(RNG.integers(0, 256, 768, np.uint8).tobytes())
    for name, image in (("p", indexed), ("rgb", indexed.convert("RGB"))):
        image.save(tmp_path / f"{name}.png", icc_profile=wide_profile())
    with Image.open(tmp_path / "p.png") as stored:
        assert stored.mode == "P"
    one, other = read(tmp_path / "p.png"), read(tmp_path / "rgb.png")
    assert np.array_equal(one.coded, other.coded) and one.notes == other.notes


def gray_profile(gamma: float) -> bytes:
    """A gray profile with one gamma (ICC.1:2001-04: header, wtpt, kTRC, desc, cprt)."""
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    white = b"XYZ \0\0\0\0" + struct.pack(">iii", 63190, 65536, 54061)
    text = b"text\0\0\0\0test\0\0\0\0"
    desc = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + b"\0" * 79
    parts = [(b"desc", desc), (b"cprt", text), (b"wtpt", white), (b"kTRC", curve)]
    offset, table, body = 128 + 4 + 12 * len(parts), b"", b""
    for name, data in parts:
        padded = data + b"\0" * (-len(data) % 4)
        table += name + struct.pack(">II", offset + len(body), len(data))
        body += padded
    head = struct.pack(">I4sI4s4s4s", 0, b"lcms", 0x02200000, b"mntr", b"GRAY", b"XYZ ")
    head += struct.pack(">6H", 2024, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28
    head += struct.pack(">iii", 63190, 65536, 54061)
    head = head.ljust(128, b"\0")
    whole = head + struct.pack(">I", len(parts)) + table + body
    return struct.pack(">I", len(whole)) + whole[4:]


@pytest.mark.parametrize("depth", [8, 16])
def test_gray_profile_bends_gray(tmp_path: Path, depth: int) -> None:
    # Gamma 1 means that the code is light itself: the sRGB code is its encoding.
    gray = RAMP if depth == 8 else RAMP.astype(np.uint16) * 257
    path = tmp_path / "a.png"
    Image.fromarray(gray).save(path, icc_profile=gray_profile(1.0))
    art = read(path)
    assert np.abs(art.coded - srgb(RAMP / 255) * 65535).max() <= 257
    assert any("gray profile" in note for note in art.notes)


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
@pytest.mark.parametrize("broken", [b"not a profile", b"\0" * 5_000_000, "other"])
def test_broken_or_foreign_profile_is_left_aside(
    tmp_path: Path, mode: str, broken: bytes | str
) -> None:
    foreign = gray_profile(1.8) if mode != "L" else b"nothing"
    profile = foreign if isinstance(broken, str) else broken
    image = Image.fromarray(RAMP).convert(mode)
    image.save(tmp_path / "a.tif", icc_profile=profile)
    image.save(tmp_path / "b.tif")
    with_it, without = read(tmp_path / "a.tif"), read(tmp_path / "b.tif")
    assert np.array_equal(with_it.coded, without.coded)
    if mode != "CMYK":
        assert any("broken or does not fit" in note for note in with_it.notes)


def test_srgb_profile_changes_nothing(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    image = Image.fromarray(RNG.integers(0, 256, (20, 20, 3), np.uint8))
    image.save(tmp_path / "a.png", icc_profile=profile)
    image.save(tmp_path / "b.png")
    art = read(tmp_path / "a.png")
    assert np.array_equal(art.coded, read(tmp_path / "b.png").coded) and not art.notes


def test_png_gamma_of_its_own(tmp_path: Path) -> None:
    # W3C PNG 11.3.2.2: gAMA is in 1/100000; 100000 means that the values are light.
    rows = RAMP.tobytes()
    linear = read(png(tmp_path / "a.png", 16, 16, 8, 0, rows, gAMA=struct.pack(">I", 100000)))
    assert np.abs(linear.coded - srgb(RAMP / 255) * 65535).max() <= 2
    usual = read(png(tmp_path / "b.png", 16, 16, 8, 0, rows, gAMA=struct.pack(">I", 45455)))
    assert np.array_equal(usual.coded, RAMP.astype(np.uint16) * 257)


def test_animations_give_their_first_frame(tmp_path: Path) -> None:
    frames = [Image.new("L", (20, 20), gray) for gray in (40, 200, 90)]
    for name in ("a.gif", "a.webp", "a.png"):
        extra: dict[str, Any] = {"lossless": True} if name == "a.webp" else {}
        frames[0].save(tmp_path / name, save_all=True, append_images=frames[1:], **extra)
        art = read(tmp_path / name)
        assert (art.coded == 40 * 257).all()
        assert any("first frame" in note for note in art.notes)


def test_pages_of_a_tiff(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        for gray in (10, 20, 30):
            writer.write(np.full((9, 9), gray, np.uint8))
        writer.write(np.full((4, 4), 99, np.uint8), subfiletype=1)  # a thumbnail is no page
    assert count_pages(path, name="a.tif", limits=LIMITS) == 3
    assert [int(read(path, page=page).coded[0, 0]) for page in range(3)] == [2570, 5140, 7710]
    with pytest.raises(IndexError):
        read(path, page=3)


@pytest.mark.parametrize("tile", [None, (16, 16)])
@pytest.mark.parametrize("big", [False, True])
def test_tiled_and_big_tiff(tmp_path: Path, tile: tuple[int, int] | None, big: bool) -> None:
    gray = RNG.integers(0, 256, (40, 53)).astype(np.uint8)
    tifffile.imwrite(tmp_path / "a.tif", gray, tile=tile, bigtiff=big, compression="deflate")
    assert np.array_equal(read(tmp_path / "a.tif").coded, gray.astype(np.uint16) * 257)


def test_spot_channel_is_left_out_aloud(tmp_path: Path) -> None:
    inks = np.zeros((8, 8, 5), np.uint8)
    tifffile.imwrite(tmp_path / "a.tif", inks, photometric="separated", extrasamples=[0])
    assert any("5 color channels" in note for note in read(tmp_path / "a.tif").notes)


@pytest.mark.parametrize(
    ("dpi", "wanted"),
    [(300, 300), (72, None), (96, None), (96.012, None), (72.009, None), (1, None), (29, None),
     (150, 150), (None, None)],
)  # fmt: skip
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_own_resolution(
    tmp_path: Path, dpi: float | None, wanted: float | None, suffix: str
) -> None:
    path = tmp_path / f"a.{suffix}"
    Image.fromarray(RAMP).save(path, **({"dpi": (dpi, dpi)} if dpi else {}))
    ppi = read(path).ppi
    assert ppi == wanted if wanted is None else ppi == pytest.approx((wanted, wanted), rel=1e-4)


def test_resolution_in_centimeters(tmp_path: Path) -> None:
    tifffile.imwrite(
        tmp_path / "a.tif", RAMP, resolution=(118.11, 118.11), resolutionunit="CENTIMETER"
    )
    assert read(tmp_path / "a.tif").ppi == pytest.approx((300, 300), rel=1e-4)


@pytest.mark.parametrize(
    ("picture", "mode"),
    [("camera", "L"), ("astronaut", "RGB"), ("coffee", "RGB"), ("horse", "1"), ("logo", "RGBA")],
)
def test_pictures_of_scikit_image(picture: str, mode: str) -> None:
    skimage = pytest.importorskip("skimage")
    path = Path(skimage.__file__).parent / "data" / f"{picture}.png"
    if not path.exists():
        pytest.skip("this picture is not in the installed package")
    art = read(path)
    with Image.open(path) as image:
        rgba = np.asarray(image.convert("RGBA"))
    share = rgba[..., 3] / 255
    y = light(rgba[..., :3]) @ [0.2126, 0.7152, 0.0722]
    assert np.abs(art.coded - srgb(1 - share * (1 - y)) * 65535).max() <= 3

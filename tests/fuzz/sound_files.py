"""Small sound files of every kind that is read, in the forms that decoders treat differently.

The kinds are named as :class:`filmhand.art.files.file_types.FileType` names them.
"""

from __future__ import annotations

import gzip
import struct
import zlib
from collections.abc import Callable
from functools import cache, partial
from io import BytesIO
from typing import Any

import numpy as np
import tifffile
from PIL import Image, ImageCms

WIDTH, HEIGHT = 72, 56


def _pixels(seed: int = 9) -> np.ndarray[Any, np.dtype[np.uint8]]:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    rgb = np.stack([x * 3, y * 4, (x + y) * 2 % 256], axis=-1)
    return np.clip(rgb + rng.integers(-8, 8, rgb.shape), 0, 255).astype(np.uint8)


def _image(mode: str) -> Image.Image:
    image = Image.fromarray(_pixels())
    if mode in ("RGBA", "LA"):
        image.putalpha(Image.fromarray(_pixels()[:, :, 0]))
    if mode == "I;16":
        return Image.fromarray(_pixels()[:, :, 0].astype(np.uint16) * 257)
    return image.convert(mode)


def _saved(kind: str, mode: str = "RGB", *, more: int = 0, **options: Any) -> bytes:
    buffer = BytesIO()
    if more:
        options |= {"save_all": True, "append_images": [_image(mode)] * more}
    _image(mode).save(buffer, kind, **options)
    return buffer.getvalue()


def _exif() -> Image.Exif:
    exif = Image.Exif()
    exif[274], exif[282], exif[283], exif[296] = 6, 300.0, 300.0, 2
    return exif


def _profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def _jpeg_inks() -> bytes:
    return _saved("JPEG", "CMYK", quality=80)


def _tiff(*, planes: bool = False, **options: Any) -> bytes:
    buffer = BytesIO()
    data: Any = _pixels()
    kind = options.pop("dtype", None)
    if kind:
        data = data[:, :, 0].astype(kind) / (255 if kind == np.float32 else 1)
        data = data.astype(kind)
    if planes:
        data = np.moveaxis(data, 2, 0)
        options |= {"planarconfig": "separate", "photometric": "rgb"}
    tifffile.imwrite(buffer, data, **options)
    return buffer.getvalue()


def _tiff_of_words(*, planes: bool = False, photometric: str = "rgb", **options: Any) -> bytes:
    buffer = BytesIO()
    data = _pixels().astype(np.uint16) * 257
    if planes:
        data = np.moveaxis(data, 2, 0)
        options["planarconfig"] = "separate"
    tifffile.imwrite(buffer, data, photometric=photometric, **options)
    return buffer.getvalue()


def png_chunk(name: bytes, data: bytes) -> bytes:
    """One chunk with its length and check sum (PNG, second edition, 5.3)."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def _png_woven() -> bytes:
    """A small interlaced PNG: Pillow reads them but does not write them (8.2, Adam7)."""
    width = height = 8
    starts = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2))
    passes = (*starts, (0, 1, 1, 2))
    rows = b""
    for x, y, across, down in passes:
        columns = len(range(x, width, across))
        for row in range(y, height, down):
            rows += b"\0" + bytes((row * 31 + column * 7) % 256 for column in range(columns))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 1)
    body = png_chunk(b"IHDR", head) + png_chunk(b"IDAT", zlib.compress(rows))
    return b"\x89PNG\r\n\x1a\n" + body + png_chunk(b"IEND", b"")


def _bmp_runs() -> bytes:
    """Eight bits a pixel in run lengths: encoded runs, a literal run, ends of line and bitmap."""
    width, height = 16, 8
    line = b"\x08\x20\x00\x04\x30\x40\x50\x60\x04\x90\x00\x00"
    data = line * height + b"\x00\x01"
    palette = b"".join(bytes((v, v, v, 0)) for v in range(256))
    start = 14 + 40 + len(palette)
    info = struct.pack("<IiiHHIIiiII", 40, width, height, 1, 8, 1, len(data), 2835, 2835, 256, 0)
    return b"BM" + struct.pack("<IHHI", start + len(data), 0, 0, start) + info + palette + data


def _bmp_old() -> bytes:
    """The 12-byte header of the first form, 24 bits a pixel."""
    rows = b"".join(bytes(range(16 * 3)) for _ in range(8))
    info = struct.pack("<IHHHH", 12, 16, 8, 1, 24)
    return b"BM" + struct.pack("<IHHI", 26 + len(rows), 0, 0, 26) + info + rows


def _bmp_masks() -> bytes:
    """Sixteen bits a pixel with masks for 5, 6 and 5 bits."""
    rows = b"".join(struct.pack("<16H", *range(0, 65536, 4096)) for _ in range(8))
    masks = struct.pack("<III", 0xF800, 0x07E0, 0x001F)
    info = struct.pack("<IiiHHIIiiII", 40, 16, -8, 1, 16, 3, len(rows), 2835, 2835, 0, 0)
    start = 14 + 40 + 12
    return b"BM" + struct.pack("<IHHI", start + len(rows), 0, 0, start) + info + masks + rows


def _heic(mode: str = "RGB") -> bytes:
    import pillow_heif

    buffer = BytesIO()
    pillow_heif.from_pillow(_image(mode)).save(buffer, quality=60)
    return buffer.getvalue()


def _svg(*, rich: bool = False) -> bytes:
    shapes = "".join(
        f"<circle cx='{x}' cy='{x % 50 + 3}' r='{x % 7 + 4}' fill='#{x * 3:02x}4060'/>"
        for x in range(5, 70, 6)
    )
    more = (
        "<defs><linearGradient id='g'><stop offset='0' stop-color='#fff'/>"
        "<stop offset='1' stop-color='#123'/></linearGradient><filter id='f'>"
        "<feGaussianBlur stdDeviation='2'/></filter>"
        "<g id='u'><path d='M5 5l20 9-8 20z'/></g></defs>"
        "<rect width='72' height='56' fill='url(#g)'/><use href='#u' x='20' filter='url(#f)'/>"
        "<style>.a{fill:#333}</style><text class='a' x='8' y='40'>Fair</text>"
    )
    start = (
        "<svg xmlns='http://www.w3.org/2000/svg' width='72mm' height='56mm' viewBox='0 0 72 56'>"
    )
    return f"<?xml version='1.0'?>{start}{more if rich else ''}{shapes}</svg>".encode()


def _pdf(*, pages: int = 1) -> bytes:
    """Drawn with lines and a small picture, with a table of its objects (ISO 32000, 7.5)."""
    content = b"q 0.2 g 10 10 50 30 re f 0 0 1 RG 4 w 5 5 m 60 50 l S 40 0 0 40 12 8 cm /P Do Q"
    pixels = bytes(range(0, 256, 4))
    objects = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Count %d/Kids[" % pages
        + b" ".join(b"%d 0 R" % (5 + page) for page in range(pages))
        + b"]>>",
        b"<</Length %d>>stream\n%b\nendstream" % (len(content), content),
        b"<</Type/XObject/Subtype/Image/Width 8/Height 8/ColorSpace/DeviceGray"
        b"/BitsPerComponent 8/Length %d>>stream\n%b\nendstream" % (len(pixels), pixels),
    ]
    objects += [
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 72 56]/Contents 3 0 R"
        b"/Resources<</XObject<</P 4 0 R>>>>>>"
    ] * pages
    data, places = b"%PDF-1.4\n", []
    for number, one in enumerate(objects, 1):
        places.append(len(data))
        data += b"%d 0 obj%b\nendobj\n" % (number, one)
    table = b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    table += b"".join(b"%010d 00000 n \n" % place for place in places)
    trailer = b"trailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n"
    return data + table + trailer % (len(objects) + 1, len(data))


def _layered(*, packed: bool = False, channels: int = 3) -> bytes:
    """Header, three empty sections, and the flattened picture, plain or packed in runs."""
    planes = _pixels()[:, :, [0, 1, 2, 0][:channels]]
    mode = {1: 1, 3: 3, 4: 4}[channels]
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, channels, HEIGHT, WIDTH, 8, mode)
    rows = [planes[y, :, c].tobytes() for c in range(channels) for y in range(HEIGHT)]
    if not packed:
        return head + bytes(12) + struct.pack(">H", 0) + b"".join(rows)
    coded = [bytes((WIDTH - 1,)) + row for row in rows]
    lengths = b"".join(struct.pack(">H", len(row)) for row in coded)
    return head + bytes(12) + struct.pack(">H", 1) + lengths + b"".join(coded)


def layered_file(
    planes: np.ndarray[Any, np.dtype[Any]], *, mode: int, version: int = 1, packing: int = 0
) -> bytes:
    """Any flattened picture (C, H, W) of 1 bit (packed), 8, 16 or 32 bits, packed in four ways."""
    channels, height, row = planes.shape
    kind = planes.dtype
    bits = 1 if mode == 0 else 8 * kind.itemsize
    width = 8 * row if mode == 0 else row
    stored = planes.astype(kind.newbyteorder(">"))
    head = b"8BPS" + struct.pack(">H6xHIIHH", version, channels, height, width, bits, mode)
    body = stored.tobytes()
    if packing == 1:
        rows = [stored[c, y].tobytes() for c in range(channels) for y in range(height)]
        coded = [
            b"".join(
                bytes((len(row[i : i + 100]) - 1,)) + row[i : i + 100]
                for i in range(0, len(row), 100)
            )
            for row in rows
        ]
        form = ">I" if version == 2 else ">H"
        body = b"".join(struct.pack(form, len(row)) for row in coded) + b"".join(coded)
    elif packing == 2:
        body = zlib.compress(body)
    elif packing == 3:
        if bits == 16:
            moved = np.diff(planes, axis=-1, prepend=np.zeros_like(planes[..., :1])).astype(">u2")
            body = zlib.compress(moved.tobytes())
        else:
            octets = np.frombuffer(body, np.uint8).reshape(channels, height, width, kind.itemsize)
            octets = np.moveaxis(octets, 3, 2).reshape(channels, height, -1)
            body = zlib.compress(
                np.diff(octets, axis=-1, prepend=np.zeros_like(octets[..., :1])).tobytes()
            )
    sections = bytes(4 + 4 + (8 if version == 2 else 4))
    return head + sections + struct.pack(">H", packing) + body


def _deep_layered(kind: type[np.generic], **how: Any) -> bytes:
    full = 1 if kind is np.float32 else np.iinfo(kind).max
    planes = np.moveaxis(_pixels(), 2, 0) / 255 * full
    return layered_file(planes.astype(kind), mode=3, **how)


def targa(*, runs: bool = False, gray: bool = False, from_below: bool = False) -> bytes:
    """A TGA file by hand (Truevision, TGA file format 2.0)."""
    pixels = _pixels()[..., :1] if gray else _pixels()[..., ::-1]
    rows = pixels[::-1] if from_below else pixels
    kind = (3 if gray else 2) + 8 * runs
    head = struct.pack("<BBB5xHHHHBB", 0, 0, kind, 0, 0, WIDTH, HEIGHT, 8 * pixels.shape[2],
                       0 if from_below else 32)  # fmt: skip
    if not runs:
        return head + rows.tobytes()
    packets = b"".join(b"\x47" + row.tobytes() for row in rows)  # 72 literal pixels
    return head + packets


def icon(*, png: bool = False) -> bytes:
    """An icon of one picture."""
    return _saved("ICO", "RGBA", sizes=[(48, 48)], bitmap_format="png" if png else "bmp")


def _codec(name: str, dtype: type[np.generic] = np.uint8, **options: Any) -> bytes:
    import imagecodecs

    pixels = _pixels().astype(dtype) * dtype(257 if dtype is np.uint16 else 1)
    return bytes(getattr(imagecodecs, f"{name}_encode")(pixels, **options))


def _netpbm(kind: str) -> bytes:
    pixels = _pixels()
    gray = pixels[..., 0]
    size = b"# by hand\n%d %d\n" % (WIDTH, HEIGHT)
    pam = b"P7\nWIDTH %d\nHEIGHT %d\nDEPTH 4\nMAXVAL 255\nTUPLTYPE RGB_ALPHA\nENDHDR\n"
    fractions = (pixels / 255).astype("<f4")
    made: dict[str, tuple[bytes, bytes]] = {
        "P1": (b"P1\n" + size, b"".join(b"%d" % (v > 128) for v in gray.ravel()) + b"\n"),
        "P2": (b"P2\n" + size + b"255\n", b" ".join(b"%d" % v for v in gray.ravel()) + b"\n"),
        "P4": (b"P4\n" + size, np.packbits(gray > 128, axis=1).tobytes()),
        "P6": (b"P6\n" + size + b"255\n", pixels.tobytes()),
        "P7": (pam % (WIDTH, HEIGHT), np.dstack([pixels, gray]).tobytes()),
        "PF": (b"PF\n%d %d\n-1.0\n" % (WIDTH, HEIGHT), fractions.tobytes()),
        "16 bits": (b"P6\n" + size + b"65535\n", (pixels.astype(">u2") * 257).tobytes()),
    }
    head, body = made[kind]
    return head + body


MAKE: dict[str, dict[str, Callable[[], bytes]]] = {
    "JPEG": {
        "plain": partial(_saved, "JPEG", quality=80),
        "gray": partial(_saved, "JPEG", "L"),
        "progressive, exif, profile": lambda: _saved(
            "JPEG", progressive=True, exif=_exif(), icc_profile=_profile(), dpi=(300, 300)
        ),
        "inks": _jpeg_inks,
        "restarts": partial(_saved, "JPEG", restart_marker_rows=1, subsampling=0),
    },
    "PNG": {
        "color": partial(_saved, "PNG", dpi=(300, 300)),
        "alpha, exif, profile": lambda: _saved("PNG", "RGBA", exif=_exif(), icc_profile=_profile()),
        "palette, see-through": lambda: _saved("PNG", "P", transparency=3),
        "1 bit": partial(_saved, "PNG", "1"),
        "16 bits": partial(_saved, "PNG", "I;16"),
        "interlaced": _png_woven,
        "moving": partial(_saved, "PNG", more=2),
    },
    "TIFF": {
        "plain": partial(_saved, "TIFF", dpi=(300, 300)),
        "lzw": partial(_saved, "TIFF", compression="tiff_lzw"),
        "deflate, predictor": lambda: _tiff(compression="zlib", predictor=True),
        "packbits": partial(_saved, "TIFF", "L", compression="packbits"),
        "jpeg": partial(_saved, "TIFF", compression="jpeg"),
        "group 4": partial(_saved, "TIFF", "1", compression="group4"),
        "group 3": partial(_saved, "TIFF", "1", compression="group3"),
        "tiles": lambda: _tiff(tile=(16, 32), compression="zlib"),
        "planes": lambda: _tiff(planes=True),
        "planes in tiles, 16 bits": lambda: _tiff_of_words(tile=(16, 32), planes=True),
        "zstd, 16 bits": lambda: _tiff_of_words(compression="zstd"),
        "lab, 16 bits": lambda: _tiff_of_words(photometric="cielab"),
        "big": lambda: _tiff(bigtiff=True),
        "other byte order": lambda: _tiff(byteorder=">"),
        "16 bits": lambda: _tiff(dtype=np.uint16),
        "float": lambda: _tiff(dtype=np.float32),
        "pages": partial(_saved, "TIFF", "L", more=2, compression="tiff_lzw"),
        "inks": partial(_saved, "TIFF", "CMYK"),
        "alpha": partial(_saved, "TIFF", "RGBA"),
    },
    "WEBP": {
        "lossy": partial(_saved, "WEBP", quality=70),
        "lossless": partial(_saved, "WEBP", lossless=True),
        "alpha, exif, profile": lambda: _saved(
            "WEBP", "RGBA", exif=_exif(), icc_profile=_profile()
        ),
        "moving": partial(_saved, "WEBP", more=2),
    },
    "BMP": {
        "color": partial(_saved, "BMP"),
        "gray": partial(_saved, "BMP", "L"),
        "1 bit": partial(_saved, "BMP", "1"),
        "run lengths": _bmp_runs,
        "old header": _bmp_old,
        "masks": _bmp_masks,
    },
    "GIF": {
        "plain": partial(_saved, "GIF", "P"),
        "interlaced, see-through": lambda: _saved("GIF", "P", interlace=1, transparency=3),
        "moving": partial(_saved, "GIF", "P", more=2, duration=50, loop=0),
        "comment": lambda: _saved("GIF", "P", comment=b"from the fair " * 9),
    },
    "AVIF": {
        "plain": partial(_saved, "AVIF", quality=60, speed=10),
        "alpha, exif": lambda: _saved("AVIF", "RGBA", exif=_exif(), speed=10),
    },
    "HEIC": {"plain": _heic, "alpha": lambda: _heic("RGBA")},
    "layered": {
        "plain": _layered,
        "runs": lambda: _layered(packed=True),
        "gray": lambda: _layered(channels=1),
        "inks": lambda: _layered(packed=True, channels=4),
        "large": lambda: _deep_layered(np.uint8, version=2, packing=1),
        "16 bits": lambda: _deep_layered(np.uint16, packing=1),
        "16 bits, differences": lambda: _deep_layered(np.uint16, packing=3),
        "fractions": lambda: _deep_layered(np.float32, packing=2),
    },
    "JPEG 2000": {
        "boxes": lambda: _codec("jpeg2k", level=0, codecformat="jp2"),
        "bare": lambda: _codec("jpeg2k", level=0, codecformat="j2k"),
        "16 bits": lambda: _codec("jpeg2k", np.uint16, level=0),
    },
    "JPEG XL": {
        "lossless": lambda: _codec("jpegxl", lossless=True),
        "lossy": lambda: _codec("jpegxl", level=90),
        "16 bits": lambda: _codec("jpegxl", np.uint16, lossless=True),
    },
    "Netpbm": {
        kind: partial(_netpbm, kind) for kind in ("P1", "P2", "P4", "P6", "P7", "PF", "16 bits")
    },
    "TGA": {
        "plain": targa,
        "runs": lambda: targa(runs=True),
        "gray": lambda: targa(gray=True),
        "from below": lambda: targa(from_below=True),
    },
    "PCX": {
        "color": partial(_saved, "PCX"),
        "palette": partial(_saved, "PCX", "P"),
        "1 bit": partial(_saved, "PCX", "1"),
    },
    "ICO": {"bitmap": icon, "png": lambda: icon(png=True)},
    "DDS": {"plain": partial(_saved, "DDS"), "blocks": lambda: _saved("DDS", pixel_format="DXT1")},
    "DIB": {"color": partial(_saved, "DIB"), "palette": partial(_saved, "DIB", "P")},
    "SVG": {
        "packed": lambda: gzip.compress(_svg(), mtime=0),
        "shapes": _svg,
        "gradient, filter, text": lambda: _svg(rich=True),
    },
    "PDF": {"page": _pdf, "pages": lambda: _pdf(pages=3)},
}
NAMES = [(kind, form) for kind, forms in MAKE.items() for form in forms]


@cache
def sound(kind: str, form: str) -> bytes:
    """The file; the same bytes each time."""
    return MAKE[kind][form]()

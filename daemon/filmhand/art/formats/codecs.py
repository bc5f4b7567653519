"""Kinds that the libraries imagecodecs and tifffile decode: JPEG XL, JPEG 2000 of deep color, and
TIFF and JPEG files of sorts that the other readers do not know.
"""

from __future__ import annotations

import io
import logging
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand.arrays import UInt16Array
from filmhand.art.files import extras
from filmhand.art.files.file_words import AdditionWord, FileNote
from filmhand.art.files.tiff_structure import Directory, Tag
from filmhand.art.formats.decoded_pixels import Colors, DecodedPixels
from filmhand.art.raster import row_strips
from filmhand.tone import FULL

_CIELAB, _ICCLAB = 8, 9
_ICC_PROFILE = 34675
_STRIP_PIXELS = 2**19  # of inks that are worked out at once
# Photometric interpretation to colors; YCbCr becomes RGB while it is decoded.
_COLORS: dict[int, Colors] = {0: "L", 1: "L", 2: "RGB", 5: "CMYK", 6: "RGB", 8: "LAB", 9: "LAB"}


def decode_jpeg_xl(data: bytes, *, name: str) -> DecodedPixels:
    """The first frame of a JPEG XL file, turned upright by the library."""
    codecs = extras.load("imagecodecs", name=name, what=AdditionWord.JPEG_XL)
    return _plain_colors(codecs.jpegxl_decode(data, index=0))


def decode_jpeg_2000(data: bytes, *, name: str) -> DecodedPixels:
    """A JPEG 2000 picture with all its bits."""
    codecs = extras.load("imagecodecs", name=name, what=AdditionWord.DEEP_JPEG_2000)
    return _plain_colors(codecs.jpeg2k_decode(data, planar=False))


def decode_unusual_jpeg(data: bytes, *, name: str) -> DecodedPixels:
    """A JPEG picture without loss, or of more than eight bits a color."""
    codecs = extras.load("imagecodecs", name=name, what=AdditionWord.RARE_JPEG)
    return _plain_colors(codecs.jpeg_decode(data))


def fill(made: DecodedPixels, bits: int) -> None:
    """Makes numbers of so many bits fill their type, in place."""
    room = 8 * made.pixels.dtype.itemsize
    if made.pixels.dtype.kind == "u" and bits < room:
        most, full = (1 << bits) - 1, (1 << room) - 1
        table = (np.minimum(np.arange(full + 1), most) * full + most // 2) // most
        made.pixels = table.astype(made.pixels.dtype)[made.pixels]


def _plain_colors(pixels: NDArray[Any]) -> DecodedPixels:
    """Gray or RGB, with or without opacity, by the number of channels."""
    if pixels.ndim == 2:
        pixels = pixels[..., None]
    if pixels.ndim != 3:
        raise ValueError("several pictures in one")
    channels = pixels.shape[2]
    return DecodedPixels(
        _standard(pixels), "L" if channels < 3 else "RGB", opacity=channels in (2, 4)
    )


def _standard(pixels: NDArray[Any]) -> NDArray[Any]:
    """uint8, uint16 or float32; of wider whole numbers the upper half."""
    if pixels.dtype in (np.uint8, np.uint16, np.float32):
        return pixels
    if pixels.dtype == np.uint32:
        return (pixels >> 16).astype(np.uint16)
    if pixels.dtype.kind == "f":
        return pixels.astype(np.float32)
    raise ValueError(f"numbers of the kind {pixels.dtype}")


def decode_unusual_tiff(
    path: Path, frame: int, directory: Directory, *, name: str
) -> DecodedPixels | None:
    """A page of a TIFF; None where these libraries do not know its kind of pixels either."""
    colors = _COLORS.get(directory.one(Tag.PHOTOMETRIC, 1))
    stored = None if colors is None else stored_tiff(path, frame, directory, name=name)
    if colors is None or stored is None:
        return None
    pixels, profile, ppi = stored
    if directory.has_own_inks and pixels.dtype.kind == "u":
        notes = [FileNote.OWN_INKS.say()]
        gray = inks_as_gray(planes_of_inks(pixels, directory.bits))
        return DecodedPixels(gray[..., None], "L", ppi=ppi, coded=True, notes=notes)
    return _tiff_pixels(pixels, colors, directory, profile, ppi)


def stored_tiff(
    path: Path, frame: int, directory: Directory, *, name: str
) -> tuple[NDArray[Any], bytes | None, tuple[float, float] | None] | None:
    """(H, W, C) the numbers of a page as they are stored, its color profile, and its resolution.

    None where these libraries do not know its kind of pixels either.
    """
    tifffile = extras.load("tifffile", name=name, what=AdditionWord.RARE_TIFF)
    extras.load("imagecodecs", name=name, what=AdditionWord.RARE_TIFF)
    logging.getLogger("tifffile").setLevel(logging.CRITICAL)  # its faults become sentences here
    with tifffile.TiffFile(io.BytesIO(path.read_bytes())) as opened:
        page = opened.pages[frame]
        try:
            pixels = page.asarray()
        except (NotImplementedError, KeyError, ValueError) as fault:
            if "not supported" in str(fault) or isinstance(fault, NotImplementedError):
                return None
            raise
        profile = page.tags[_ICC_PROFILE].value if _ICC_PROFILE in page.tags else None
        ppi = page.get_resolution(2) if 282 in page.tags and 283 in page.tags else None
    if pixels.ndim == 3 and directory.one(Tag.PLANAR, 1) == 2:
        pixels = np.moveaxis(pixels, 0, -1)
    if pixels.ndim == 2:
        pixels = pixels[..., None]
    if pixels.ndim != 3 or pixels.dtype.kind not in "uf":
        return None
    return pixels, profile, ppi


def _tiff_pixels(
    pixels: NDArray[Any],
    colors: Colors,
    directory: Directory,
    profile: bytes | None,
    ppi: tuple[float, float] | None,
) -> DecodedPixels:
    count = 1 if colors == "L" else len(colors)
    more = pixels.shape[2] - count
    opacity = more > 0 and directory.one(Tag.EXTRA_SAMPLES, 0) in (1, 2)
    notes = [FileNote.FURTHER_CHANNELS.say()] if more > opacity else []
    photometric = directory.one(Tag.PHOTOMETRIC, 1)
    is_lab = photometric in (_CIELAB, _ICCLAB)
    pixels = pixels[..., : count + opacity]
    pixels = _lab(pixels, photometric) if is_lab else _standard(pixels)
    coded = colors == "L" and not opacity
    made = DecodedPixels(pixels, colors, opacity, profile, ppi, coded, notes)
    fill(made, directory.bits)
    if photometric == 0:
        made.pixels = _upside_down(made.pixels)
    return made


def planes_of_inks(pixels: NDArray[Any], bits: int) -> UInt16Array:
    """(H, W, C) inks of so many bits, whole numbers -> (C, H, W) uint16, 65535 for all of one.

    The least number is no ink and the largest a solid, which is how a file without a range of its
    own means it (TIFF 6.0, section 16).
    """
    planes: UInt16Array = np.empty((pixels.shape[-1], *pixels.shape[:2]), np.uint16)
    most = (1 << bits) - 1
    for place, plane in enumerate(planes):
        for rows in row_strips(plane.shape, _STRIP_PIXELS):
            plane[rows] = np.rint(np.minimum(pixels[rows, :, place] / most, 1) * FULL)
    return planes


def inks_as_gray(planes: UInt16Array) -> UInt16Array:
    """(C, H, W) inks -> (H, W) uint16 gray codes of what each would print in black."""
    gray: UInt16Array = np.empty(planes.shape[1:], np.uint16)
    for rows in row_strips(gray.shape, _STRIP_PIXELS):
        bare = np.ones(gray[rows].shape)
        for plane in planes:
            bare *= 1 - plane[rows] / FULL
        gray[rows] = np.rint(bare * FULL)
    return gray


def _upside_down(pixels: NDArray[Any]) -> NDArray[Any]:
    """White is zero in the file (the first channel only)."""
    pixels = pixels.copy()
    most = 1 if pixels.dtype == np.float32 else np.iinfo(pixels.dtype).max
    pixels[..., 0] = most - pixels[..., 0]
    return pixels


def _lab(pixels: NDArray[Any], photometric: int) -> NDArray[np.float32]:
    """L* 0..100, a* and b* of the two encodings (TIFF 6.0, section 23, and its supplement).

    CIELab counts a* and b* with a sign; ICCLab with 128 in the middle, and of 16 bits L* to 65280.
    """
    if pixels.dtype == np.float32:
        return pixels
    step = 1 if pixels.dtype == np.uint8 else 256
    signed = photometric == _CIELAB
    color = pixels[..., 1:3]
    opposed = color.view(f"i{pixels.dtype.itemsize}") if signed else color.astype(np.int32)
    lab = np.empty(pixels.shape, np.float32)
    most = 65280 if step == 256 and not signed else np.iinfo(pixels.dtype).max
    lab[..., 0] = pixels[..., 0] * np.float32(100 / most)
    lab[..., 1:3] = opposed.astype(np.float32) / step - (0 if signed else 128)
    lab[..., 3:] = pixels[..., 3:] / np.float32(np.iinfo(pixels.dtype).max)
    return lab

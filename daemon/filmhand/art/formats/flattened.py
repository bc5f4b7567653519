"""The flattened picture of a layered working file, plane by plane, by the same description."""

from __future__ import annotations

import zlib
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.arrays import UInt16Array
from filmhand.art.files.file_words import FileNote
from filmhand.art.formats.codecs import inks_as_gray
from filmhand.art.formats.decoded_pixels import Colors, DecodedPixels
from filmhand.art.formats.layered import ColorMode, LayeredFile, Packing, row_lengths, table_bytes
from filmhand.tone import FULL

# Image resources.
_RESOLUTION, _PROFILE = 1005, 1039
_COLORS: dict[int, Colors] = {
    ColorMode.BITMAP: "L",
    ColorMode.GRAY: "L",
    ColorMode.INDEXED: "L",
    ColorMode.RGB: "RGB",
    ColorMode.CMYK: "CMYK",
    ColorMode.DUOTONE: "L",
    ColorMode.LAB: "LAB",
}


def _at(file: BinaryIO, offset: int, length: int) -> bytes:
    file.seek(offset)
    return file.read(length)


def read_flattened(file: BinaryIO, found: LayeredFile) -> DecodedPixels:
    """The flattened picture, with its opacity behind the colors where the file has it.

    Raises
    ------
    ValueError, zlib.error
        Where the packed planes break off or contradict themselves.
    """
    if found.mode == ColorMode.SPOTS:
        return _inks(file, found)
    colors = _COLORS[found.mode]
    count = 1 if colors == "L" else len(colors)
    opacity = found.see_through and found.channels > count
    planes = stored_planes(file, found, count + opacity)
    notes = []
    if found.channels > count + opacity:
        notes.append(FileNote.FURTHER_LAYERED_CHANNELS.say())
    if found.mode == ColorMode.BITMAP:
        planes = 255 * (1 - np.unpackbits(planes, axis=-1)[..., : found.width])
    if found.mode == ColorMode.INDEXED:
        colors, planes = "RGB", _through_palette(file, found, planes[0])
    if colors == "CMYK":
        planes = np.iinfo(planes.dtype).max - planes  # stored upside down: nothing is full ink
    if colors == "LAB" and found.bits == 16:
        planes = _lab_of_words(planes)
    profile = _at(file, *found.resources[_PROFILE]) if _PROFILE in found.resources else None
    return DecodedPixels(
        np.moveaxis(planes, 0, -1), colors, opacity, profile, layered_ppi(file, found), notes=notes
    )


def _inks(file: BinaryIO, found: LayeredFile) -> DecodedPixels:
    """Inks that no colors are known of, each as black."""
    planes = stored_planes(file, found, found.channels)
    gray = inks_as_gray(FULL - as_words(planes))
    notes = [FileNote.OWN_INKS.say()]
    return DecodedPixels(
        gray[..., None], "L", ppi=layered_ppi(file, found), coded=True, notes=notes
    )


def as_words(planes: NDArray[Any]) -> UInt16Array:
    """Numbers of eight or sixteen bits as sixteen; an 8-bit g is exactly 257 g."""
    words: UInt16Array = planes.astype(np.uint16)
    return words * np.uint16(257) if planes.dtype == np.uint8 else words


def stored_planes(file: BinaryIO, found: LayeredFile, count: int) -> NDArray[Any]:
    """The first channels: (count, H, W) uint8, uint16 or float32; one bit a color stays packed."""
    kind = {1: "u1", 8: "u1", 16: ">u2", 32: ">f4"}[found.bits]
    wide = (found.width + 7) // 8 if found.bits == 1 else found.width
    row_bytes, rows = wide * np.dtype(kind).itemsize, found.height
    size = row_bytes * rows
    if found.packing in (Packing.ZIP, Packing.ZIP_DIFFERENCES):
        file.seek(found.at)
        data = zlib.decompressobj().decompress(file.read(), size * count)
    elif found.packing == Packing.PLAIN:
        data = _at(file, found.at, size * count)
    else:
        data = b"".join(_unpacked_rows(file, found, count, row_bytes))
    if len(data) < size * count:
        raise ValueError("the flattened picture breaks off")
    if found.packing == Packing.ZIP_DIFFERENCES:
        return _summed(np.frombuffer(data, np.uint8).reshape(count, rows, row_bytes), found)
    planes = np.frombuffer(data, kind).reshape(count, rows, wide)
    return planes.astype(planes.dtype.newbyteorder("="), copy=False)


def _unpacked_rows(file: BinaryIO, found: LayeredFile, count: int, row_bytes: int) -> list[bytes]:
    """Each plane unpacked by the base reader's own decoder of such rows."""
    rows, every = found.height, found.height * found.channels
    lengths = row_lengths(file, found.at, every, found.version)
    at, planes = found.at + table_bytes(every, found.version), []
    for plane in range(count):
        length = sum(lengths[plane * rows : (plane + 1) * rows])
        packed = _at(file, at, length)
        at += length
        planes.append(Image.frombytes("L", (row_bytes, rows), packed, "packbits", "L").tobytes())
    return planes


def _summed(differences: NDArray[np.uint8], found: LayeredFile) -> NDArray[Any]:
    """Planes that were stored as differences along each row; of fractions, byte by byte."""
    if found.bits == 16:
        words = differences.view(">u2").astype(np.uint16)
        return np.cumsum(words, axis=-1, dtype=np.uint16)
    sums = np.cumsum(differences, axis=-1, dtype=np.uint8)
    if found.bits != 32:
        return sums
    # The first bytes of all numbers of a row stand before all second ones, and so on.
    parts = sums.reshape(*sums.shape[:2], 4, found.width)
    whole = np.ascontiguousarray(np.moveaxis(parts, 2, 3))
    return whole.view(">f4")[..., 0].astype(np.float32)


def _through_palette(file: BinaryIO, found: LayeredFile, plane: NDArray[Any]) -> NDArray[np.uint8]:
    data = _at(file, found.palette[0], min(768, found.palette[1])).ljust(768, b"\0")
    table: NDArray[np.uint8] = np.frombuffer(data, np.uint8).reshape(3, 256)
    return table[:, plane]


def _lab_of_words(planes: NDArray[Any]) -> NDArray[np.float32]:
    """(C, H, W) uint16 -> float32: L* 0..100, a* and b* with 32768 for none, 256 for one."""
    lab = planes.astype(np.float32)
    lab[0] *= np.float32(100 / 65535)
    lab[1:3] = lab[1:3] / np.float32(256) - np.float32(128)
    lab[3:] /= np.float32(65535)
    return lab


def layered_ppi(file: BinaryIO, found: LayeredFile) -> tuple[float, float] | None:
    """Resource 1005: pixels to the inch across and down, each in 65536ths."""
    at, length = found.resources.get(_RESOLUTION, (0, 0))
    if length < 16:
        return None
    data = _at(file, at, 12)
    return int.from_bytes(data[:4], "big") / 65536, int.from_bytes(data[8:12], "big") / 65536

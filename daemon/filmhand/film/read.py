"""Any one-bit film read back as a sheet of bits, black = ink.

Memory. A TIFF whose strips are of moderate size, a PNG without row filters or interlace, a PWG
Raster and a PDF that :mod:`filmhand.film.pdf` wrote are read some rows at a time. Everything
else (a TIFF in tiles or in one large strip, a PNG as other software compresses it) is decoded
whole by Pillow at a byte a pixel.

Size. Films are larger than the pictures Pillow's limit on pixels is meant for, so that limit is
not asked here, and is left in force for everybody else: the picture classes are called directly
and the size in the file's head is held against :data:`MOST_PIXELS` before anything is decoded.
"""

from __future__ import annotations

import os
import struct
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from math import ceil
from pathlib import Path
from typing import BinaryIO

import numpy as np
from PIL import Image, PngImagePlugin, TiffImagePlugin

from filmhand.arrays import UInt8Array
from filmhand.errors import Quantity, Refused
from filmhand.film import deflate, group4, pdf, pdf_reader, png, pwg
from filmhand.film.bits import BitSheet
from filmhand.film.film_words import FilmFileRefusal
from filmhand.film.formats import BrokenFilm
from filmhand.film.tiff_strip import decode_strip
from filmhand.units import Resolution
from filmhand.values import dataclass

MOST_PIXELS = 2_000_000_000
"""Largest film that is read, in pixels."""

_MOST_STRIP_PIXELS = 1 << 26
_BAND_PIXELS = 1 << 24
_TIFF_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_ORIENTATION, _PHOTOMETRIC, _SAMPLES = 274, 262, 277
# Tags that change how a strip's bytes are read: FillOrder, Predictor, T4Options, T6Options.
_READING = (266, 317, 292, 293)
_ON_THEIR_SIDE = {5, 6, 7, 8}
_PER_UNIT = {2: 1.0, 3: 2.54}
# What Pillow raises over damaged files; OSError without a number comes on top.
_PILLOW = (SyntaxError, ValueError, KeyError, TypeError, IndexError, OverflowError, struct.error)

PackedRows = Iterator[UInt8Array]


@dataclass(frozen=True, slots=True)
class FilmFile:
    """What the head of a film says; nothing is decoded before its rows are asked for."""

    width: int
    height: int
    dpi: Resolution | None
    rows: PackedRows


def read_film(path: Path, scratch: Path) -> tuple[BitSheet, Resolution | None]:
    """The bits of a film and its resolution (None if the file says none).

    Of a TIFF with several pages the first is read.

    Parameters
    ----------
    path : Path
        A one-bit TIFF, PNG or PWG Raster, an 8-bit gray PNG or TIFF in which every pixel is 0
        or 255, or a PDF that this package wrote.
    scratch : Path
        A folder for the sheet's file. The file has no name there any more when this returns and
        goes when the sheet is closed.

    Raises
    ------
    Refused
        NOT_ART if the file is no such film, DAMAGED if it cannot be decoded, TOO_BIG if it has
        more than :data:`MOST_PIXELS` pixels.
    OSError
        If the file cannot be read or the scratch folder is full.
    """
    with path.open("rb") as file, warnings.catch_warnings():
        # Pillow warns of odd metadata, which says nothing about the bits.
        warnings.simplefilter("ignore")
        try:
            found = _open_film(file, path.name)
            must_fit(found.width, found.height, path.name)
            return collect_rows(found, scratch=scratch), found.dpi
        except (BrokenFilm, OSError) as error:
            # Pillow raises OSError without a number for damaged files.
            if isinstance(error, OSError) and error.errno is not None:
                raise
            raise FilmFileRefusal.DAMAGED.refused(name=path.name) from error


def _open_film(file: BinaryIO, name: str) -> FilmFile:
    start = file.read(8)
    file.seek(0)
    if start[:4] in _TIFF_STARTS:
        return _open_tiff(file, name)
    if start == png.PNG_SIGNATURE:
        return _open_png(file, name)
    if start.startswith(pdf_reader.PDF_SIGNATURE):
        return _open_pdf(file, name)
    if start[:4] == pwg.SYNC:
        return _open_pwg(file)
    raise FilmFileRefusal.NO_FILM.refused(name=name)


def not_pure(name: str) -> Refused:
    """The refusal of what has grays or colors."""
    return FilmFileRefusal.NOT_PURE.refused(name=name)


@contextmanager
def _pillow() -> Iterator[None]:
    try:
        yield
    except _PILLOW as error:
        raise BrokenFilm(str(error)) from error


def must_fit(width: int, height: int, name: str) -> None:
    """Refused, too-big, where a film has more than :data:`MOST_PIXELS`."""
    pixels = width * height
    if pixels > MOST_PIXELS:
        raise FilmFileRefusal.TOO_MANY_PIXELS.refused(
            name=name,
            millions=ceil(pixels / 1e6),
            allowed=f"{MOST_PIXELS / 1e6:.0f}",
            found=Quantity(pixels, "pixels"),
            needed=Quantity(MOST_PIXELS, "pixels"),
        )


def _bands(width: int, height: int) -> Iterator[tuple[int, int]]:
    """First row and number of rows of bands of moderate size."""
    rows = max(1, min(256, _BAND_PIXELS // width))
    for top in range(0, height, rows):
        yield top, min(rows, height - top)


def collect_rows(film: FilmFile, *, scratch: Path) -> BitSheet:
    """The sheet of all rows of a film; BrokenFilm where there are too few or too many."""
    with tempfile.NamedTemporaryFile(dir=scratch, suffix=".bits") as place:
        # The name goes with `place`, the sheet keeps the file.
        sheet = BitSheet.create(Path(place.name), width=film.width, height=film.height)
    try:
        y = 0
        for rows in film.rows:
            sheet.write(y, rows)
            y += len(rows)
        if y != film.height:
            raise BrokenFilm(f"has {y} of {film.height} rows")
    except BaseException:
        sheet.close()
        raise
    return sheet


def _open_tiff(file: BinaryIO, name: str) -> FilmFile:
    with _pillow():
        picture = TiffImagePlugin.TiffImageFile(file)
        strips = _strips(picture) if picture.mode == "1" else []
        density = _tiff_density(picture)
    rows = _strip_rows(file, picture, strips) if strips else _whole_rows(picture, name)
    return FilmFile(*picture.size, density, rows)


def _tiff_density(picture: TiffImagePlugin.TiffImageFile) -> Resolution | None:
    tags = picture.tag_v2
    per_inch = _PER_UNIT.get(tags.get(296, 2))
    across, down = tags.get(282), tags.get(283)
    if not per_inch or across is None or down is None:
        return None
    if tags.get(_ORIENTATION, 1) in _ON_THEIR_SIDE:
        across, down = down, across
    return _resolution(float(across) * per_inch, float(down) * per_inch)


def _resolution(x: float, y: float) -> Resolution | None:
    """Whole pixels per inch, or None for what is none (a zero, a bare ratio, not a number)."""
    if not (1 < x < 100_000 and 1 < y < 100_000):
        return None
    return Resolution(round(x), round(y))


def _strips(picture: TiffImagePlugin.TiffImageFile) -> list[tuple[int, int, int]]:
    """Offset, byte count and rows of each strip, or nothing if they are better read whole."""
    tags = picture.tag_v2
    height = int(tags[257])
    rows = min(int(tags.get(278) or height), height)
    offsets, counts = tags.get(273), tags.get(279)
    upright = tags.get(_ORIENTATION, 1) == 1
    if not offsets or not counts or not upright or tags.get(_SAMPLES, 1) != 1 or rows < 1:
        return []
    tops = range(0, height, rows)
    if not len(offsets) == len(counts) == len(tops) or rows * picture.width > _MOST_STRIP_PIXELS:
        return []
    return [
        (offset, count, min(rows, height - top))
        for offset, count, top in zip(offsets, counts, tops, strict=True)
    ]


def _strip_rows(
    file: BinaryIO, picture: TiffImagePlugin.TiffImageFile, strips: list[tuple[int, int, int]]
) -> PackedRows:
    tags = picture.tag_v2
    compression = int(tags.get(259, 1))
    options = {tag: int(tags[tag]) for tag in _READING if tag in tags}
    # Stored 0 is black in MinIsBlack (1) and white in MinIsWhite (0, and where nothing is said).
    turned = int(tags.get(_PHOTOMETRIC, 0)) == 1
    end = os.fstat(file.fileno()).st_size
    for offset, count, rows in strips:
        if offset + count > end:
            raise BrokenFilm("ends too early")
        file.seek(offset)
        payload = file.read(count)
        stored = decode_strip(
            payload, width=picture.width, rows=rows, compression=compression, options=options
        )
        yield np.invert(stored) if turned else stored


def _whole_rows(picture: Image.Image, name: str) -> PackedRows:
    """All rows of a picture that Pillow decodes in one piece."""
    if picture.mode not in {"1", "L", "P"}:
        raise not_pure(name)
    with _pillow():
        if isinstance(picture, TiffImagePlugin.TiffImageFile):
            # A TIFF asks for the limit on pixels where it makes room for them: here is room.
            stored = (picture.tag_v2[256], picture.tag_v2[257])
            picture.im = Image.new(picture.mode, stored).im
        picture.load()
    for top, rows in _bands(*picture.size):
        gray = np.asarray(picture.crop((0, top, picture.width, top + rows)).convert("L"))
        if not np.isin(gray, (0, 255)).all():
            raise not_pure(name)
        yield np.packbits(gray == 0, axis=1)


def _open_png(file: BinaryIO, name: str) -> FilmFile:
    head = png.read_png_head(file)
    density = head.per_meter and _resolution(*(side * 0.0254 for side in head.per_meter))
    return FilmFile(head.width, head.height, density, _png_rows(file, head, name))


def _png_rows(file: BinaryIO, head: png.PngHead, name: str) -> PackedRows:
    if head.plain and all(not stored[:, 0].any() for stored in _png_stored(file, head)):
        for stored in _png_stored(file, head):
            yield np.invert(stored[:, 1:])
        return
    file.seek(0)
    with _pillow():
        picture = PngImagePlugin.PngImageFile(file)
    yield from _whole_rows(picture, name)


def _png_stored(file: BinaryIO, head: png.PngHead) -> PackedRows:
    """Rows as stored: the kind of filter, then the row, a band at a time."""
    row_bytes = (head.width + 7) // 8 + 1
    return _inflated(png.picture_data(file, head), row_bytes, head.width, head.height)


def _inflated(chunks: Iterator[bytes], row_bytes: int, width: int, height: int) -> PackedRows:
    sizes = (rows * row_bytes for _, rows in _bands(width, height))
    for piece in deflate.inflate_exactly(chunks, sizes):
        yield np.frombuffer(piece, np.uint8).reshape(-1, row_bytes)


def _open_pdf(file: BinaryIO, name: str) -> FilmFile:
    if not pdf_reader.is_ours(file):
        raise FilmFileRefusal.CHANGED_PDF.refused(name=name)
    film = pdf_reader.read_pdf_head(file)
    rows = _group4_rows(file, film) if film.group4 else _sampled_rows(file, film)
    return FilmFile(film.width, film.height, film.dpi, rows)


def _group4_rows(file: BinaryIO, film: pdf_reader.PdfFilm) -> PackedRows:
    if film.rows_per_strip * film.width > _MOST_STRIP_PIXELS:
        raise BrokenFilm("has strips of an unlikely size")
    before, left = None, film.height
    for code in pdf_reader.stream_codes(file, film):
        n = min(film.rows_per_strip, left)
        if not n:
            raise BrokenFilm("has more strips than rows")
        rows = group4.decode_group4(code, n, width=film.width, before=before)
        yield rows
        before, left = rows[-1:], left - n


def _sampled_rows(file: BinaryIO, film: pdf_reader.PdfFilm) -> PackedRows:
    chunks = pdf_reader.stream_chunks(file, film)
    for samples in _inflated(chunks, (film.width + 7) // 8, film.width, film.height):
        yield pdf.to_samples(samples, film.width)


def _open_pwg(file: BinaryIO) -> FilmFile:
    head = pwg.read_pwg_head(file)
    rows = (
        np.broadcast_to(np.frombuffer(line, np.uint8), (count, head.row_bytes))
        for count, line in pwg.decode_lines(file, head)
    )
    return FilmFile(head.width, head.height, _resolution(head.dpi.x, head.dpi.y), rows)

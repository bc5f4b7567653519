"""Films that other programs wrote as PDF (ISO 32000), read at their own resolution.

A page that holds nothing but images of one resolution, square to the page, is laid down pixel for
pixel: each image is moved to whole device pixels, by less than half of one, and the page is drawn
at just that resolution. Everything else, such as letters, lines or images of several resolutions,
has no device pixels of its own and is drawn at a resolution that is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from ctypes import c_uint
from dataclasses import field
from pathlib import Path
from typing import Any

import numpy as np

from filmhand.arrays import Float64Array, UInt8Array
from filmhand.art.drawings.pdf import open_document
from filmhand.errors import Refused
from filmhand.film.bits import BitSheet
from filmhand.film.film_words import FilmFileNote, FilmFileRefusal
from filmhand.film.pdf_reader import PDF_SIGNATURE, is_ours
from filmhand.film.read import FilmFile, collect_rows, must_fit, not_pure, read_film
from filmhand.units import Resolution
from filmhand.values import dataclass

_POINTS = 72.0
_BAND_PIXELS = 1 << 24
_MOST_OBJECTS = 100_000
_DEEPEST = 8
# Programs round the sizes that they give images: to 1/100 pt, or to the whole page. Resolutions
# are alike where an image comes out less than half a pixel too long for its share of a page.
_ALIKE = 0.002
_SQUARE = 1e-3
# The library fills every device pixel that an image touches, and counts in single precision.
_INSET = 0.02
_FINEST = 100_000  # pixels per inch
_BLACK_AND_WHITE = (0, 255)


@dataclass(frozen=True, slots=True)
class FoundFilm:
    """A film that was read: its bits, its resolution if known, and sentences on how it was read."""

    bits: BitSheet
    dpi: Resolution | None
    notes: tuple[str, ...] = ()


def read_any_film(
    path: Path,
    scratch: Path,
    *,
    resolution: Resolution | None = None,
    otherwise: Resolution | None = None,
) -> FoundFilm:
    """A film in any of the forms that :func:`read_film` reads, or in a PDF of whatever origin.

    Parameters
    ----------
    resolution : what is asked for: in place of what a picture says; a PDF that has none of its own
        is drawn at it
    otherwise : the same, where the file says none and none is asked for

    Raises
    ------
    Refused
        as :func:`read_film`; not-art also for a PDF without a resolution where none is given, and
        where the library for PDF is not there; locked
    """
    with path.open("rb") as file:
        foreign = file.read(len(PDF_SIGNATURE)) == PDF_SIGNATURE and not is_ours(file)
    if foreign:
        return _read_foreign(path, scratch, resolution, otherwise)
    bits, own = read_film(path, scratch)
    return FoundFilm(bits, resolution or own or otherwise)


@dataclass(slots=True)
class _PlacedImage:
    """An image object: its handle, its pixels, and what maps its unit square to the page's points.

    ``within`` maps the form that holds it to the page.
    """

    handle: Any
    width: int
    height: int
    bits: int
    placed: Float64Array
    within: Float64Array


@dataclass(slots=True)
class _PageContent:
    """What a page holds; ``drawn`` are letters, lines and shades, ``gray`` what is no film's."""

    images: list[_PlacedImage] = field(default_factory=list)
    drawn: bool = False
    gray: bool = False


def _read_foreign(
    path: Path, scratch: Path, resolution: Resolution | None, otherwise: Resolution | None
) -> FoundFilm:
    with open_document(path, path.name) as (document, raw):
        pages = len(document)
        notes = [FilmFileNote.FIRST_PAGE.say(pages=pages)] if pages > 1 else []
        sheet = document[0]
        content = _content_of(raw, sheet)
        page = _PageFrame.of(raw, sheet)
        own = None if content.drawn else _own_resolution(content.images, page)
        if own is not None:
            width, height = (max(1, round(side)) for side in page.pixels(own))
            dpi = Resolution(round(own[0]), round(own[1]))
            must_fit(width, height, path.name)
            _snap(raw, content.images, page.device((width, height)))
            rows = _drawn_rows(raw, sheet, (width, height), path.name, pure=True)
            notes += _told_of_own(own, resolution)
        else:
            dpi_asked = resolution or otherwise
            if dpi_asked is None or not (content.images or content.drawn):
                raise _without_resolution(path.name, content)
            if content.gray or any(image.bits > 1 for image in content.images):
                raise not_pure(path.name)
            dpi = dpi_asked
            width, height = (max(1, round(side)) for side in page.pixels((dpi.x, dpi.y)))
            must_fit(width, height, path.name)
            rows = _drawn_rows(raw, sheet, (width, height), path.name, pure=False)
            drawn = FilmFileNote.DRAWN_AT if content.drawn else FilmFileNote.SEVERAL_DRAWN_AT
            notes.append(drawn.say(dpi=dpi))
        bits = collect_rows(FilmFile(width, height, dpi, rows), scratch=scratch)
        if _is_one_flat(bits):
            notes.append(FilmFileNote.ONE_FLAT.say())
        return FoundFilm(bits, dpi, tuple(notes))


def _is_one_flat(bits: BitSheet) -> bool:
    step = max(1, _BAND_PIXELS // bits.width)
    ink = sum(
        int(np.bitwise_count(bits.read(top, min(step, bits.height - top))).sum())
        for top in range(0, bits.height, step)
    )
    return ink in (0, bits.width * bits.height)


def _told_of_own(own: tuple[float, float], asked: Resolution | None) -> list[str]:
    notes = []
    whole = Resolution(round(own[0]), round(own[1]))
    if abs(own[0] / whole.x - 1) > _ALIKE / 2 or abs(own[1] / whole.y - 1) > _ALIKE / 2:
        shown = f"{own[0]:.1f} x {own[1]:.1f}"
        notes.append(FilmFileNote.COUNTED_AS.say(own=shown, whole=whole))
    if asked is not None and asked != whole:
        notes.append(FilmFileNote.ASKED_LEFT_ASIDE.say(whole=whole, asked=asked))
    return notes


def _without_resolution(name: str, content: _PageContent) -> Refused:
    if not content.images and not content.drawn:
        return FilmFileRefusal.EMPTY_PAGE.refused(name=name)
    row = FilmFileRefusal.DRAWN_PAGE if content.drawn else FilmFileRefusal.PAGE_OF_SEVERAL
    return row.refused(name=name)


# --- the page ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _PageFrame:
    """What of a page is seen, in points, and by how many quarters it is turned clockwise."""

    left: float
    bottom: float
    right: float
    top: float
    quarters: int

    @classmethod
    def of(cls, raw: Any, sheet: Any) -> _PageFrame:
        box = raw.FS_RECTF()
        raw.FPDF_GetPageBoundingBox(sheet, box)
        turned = raw.FPDFPage_GetRotation(sheet) % 4
        return cls(box.left, box.bottom, box.right, box.top, turned)

    def pixels(self, dpi: tuple[float, float]) -> tuple[float, float]:
        """Width and height as it is seen."""
        sides = self.right - self.left, self.top - self.bottom
        across, down = sides if self.quarters % 2 == 0 else sides[::-1]
        return across * dpi[0] / _POINTS, down * dpi[1] / _POINTS

    def device(self, pixels: tuple[float, float]) -> Float64Array:
        """What maps points of the page to device pixels, rows counted from the top."""
        width, height = self.right - self.left, self.top - self.bottom
        to_square = np.array(
            [[1 / width, 0, -self.left / width], [0, -1 / height, self.top / height], [0, 0, 1]]
        )
        quarter = np.array([[0.0, -1, 1], [1, 0, 0], [0, 0, 1]])
        turn = np.linalg.matrix_power(quarter, self.quarters)
        return np.asarray(np.diag([*pixels, 1.0]) @ turn @ to_square)


def _matrix(raw: Any, handle: Any) -> Float64Array:
    m = raw.FS_MATRIX()
    raw.FPDFPageObj_GetMatrix(handle, m)
    return np.array([[m.a, m.c, m.e], [m.b, m.d, m.f], [0, 0, 1]], np.float64)


def _content_of(raw: Any, sheet: Any) -> _PageContent:
    """All objects of a page, those within forms too; what nobody sees is left out."""
    found = _PageContent()
    left = _MOST_OBJECTS
    waiting = [
        (sheet, raw.FPDFPage_GetObject, raw.FPDFPage_CountObjects(sheet), 0, np.eye(3))
    ]  # fmt: skip
    while waiting:
        holder, get, count, depth, within = waiting.pop()
        for i in range(count):
            left -= 1
            handle = get(holder, i)
            kind = raw.FPDFPageObj_GetType(handle)
            if left < 0 or (kind == raw.FPDF_PAGEOBJ_FORM and depth >= _DEEPEST):
                found.drawn = found.gray = True
                return found
            if kind == raw.FPDF_PAGEOBJ_FORM:
                inner = raw.FPDFFormObj_CountObjects(handle)
                placed = within @ _matrix(raw, handle)
                waiting.append((handle, raw.FPDFFormObj_GetObject, inner, depth + 1, placed))
            elif kind == raw.FPDF_PAGEOBJ_IMAGE:
                found.images.append(_image(raw, sheet, handle, within))
            elif not _is_invisible(raw, handle, kind):
                found.drawn = True
                found.gray |= _is_gray(raw, handle, kind)
    return found


def _image(raw: Any, sheet: Any, handle: Any, within: Float64Array) -> _PlacedImage:
    about = raw.FPDF_IMAGEOBJ_METADATA()
    raw.FPDFImageObj_GetImageMetadata(handle, sheet, about)
    placed = within @ _matrix(raw, handle)
    return _PlacedImage(handle, about.width, about.height, about.bits_per_pixel, placed, within)


def _is_invisible(raw: Any, handle: Any, kind: int) -> bool:
    """Letters that only a search finds, as programs lay them over what they read in a scan."""
    if kind != raw.FPDF_PAGEOBJ_TEXT:
        return False
    return bool(raw.FPDFTextObj_GetTextRenderMode(handle) == raw.FPDF_TEXTRENDERMODE_INVISIBLE)


def _is_gray(raw: Any, handle: Any, kind: int) -> bool:
    """Whether an object is in any other color than full black and full white."""
    if kind not in (raw.FPDF_PAGEOBJ_TEXT, raw.FPDF_PAGEOBJ_PATH):
        return True
    for get in (raw.FPDFPageObj_GetFillColor, raw.FPDFPageObj_GetStrokeColor):
        red, green, blue, opacity = c_uint(), c_uint(), c_uint(), c_uint()
        if get(handle, red, green, blue, opacity) and (
            len({red.value, green.value, blue.value}) > 1
            or red.value not in _BLACK_AND_WHITE
            or opacity.value != 255
        ):
            return True
    return False


def _own_resolution(images: list[_PlacedImage], page: _PageFrame) -> tuple[float, float] | None:
    """Device pixels per inch across and down the page as it is seen; None where they differ."""
    inches = page.device(page.pixels((1.0, 1.0)))
    found = [_resolution_of(inches @ image.placed, image) for image in images]
    # The largest image says it most exactly; one of few pixels may be off by half of one.
    largest = max(range(len(images)), key=lambda i: images[i].width * images[i].height, default=-1)
    own = found[largest] if found else None
    if own is None or not all(1 < side < _FINEST for side in own[:2]):
        return None
    for one in found:
        if one is None:
            return None
        across, down, columns, rows = one
        if abs(across / own[0] - 1) > max(_ALIKE, 0.5 / columns):
            return None
        if abs(down / own[1] - 1) > max(_ALIKE, 0.5 / rows):
            return None
    # An image that fills its page has as many pixels as the page, whatever room is left around it.
    fills = [
        count / side if abs(count - side * density) < 1 else density
        for count, side, density in zip(own[2:], page.pixels((1.0, 1.0)), own[:2], strict=True)
    ]
    return fills[0], fills[1]


def _resolution_of(
    placed: Float64Array, image: _PlacedImage
) -> tuple[float, float, int, int] | None:
    """Pixels per inch across and down the page, and pixels; None where it stands not square.

    ``placed`` maps the image's unit square to inches of the page as it is seen.
    """
    (wide, high), (columns, rows) = placed[:2, :2].T, (image.width, image.height)
    if abs(wide[0]) < abs(wide[1]):
        wide, high, columns, rows = high, wide, rows, columns
    if not (columns and rows and wide[0] and high[1]):
        return None
    if abs(wide[1] / wide[0]) > _SQUARE or abs(high[0] / high[1]) > _SQUARE:
        return None
    return float(columns / abs(wide[0])), float(rows / abs(high[1])), columns, rows


def _snap(raw: Any, images: list[_PlacedImage], device: Float64Array) -> None:
    """Move each image to whole device pixels, one of its own for each."""
    back = np.linalg.inv(device)
    for image in images:
        seen = device @ image.placed
        turned = abs(seen[0, 0]) < abs(seen[1, 0])
        columns, rows = (image.height, image.width) if turned else (image.width, image.height)
        x, y = (1, 0) if turned else (0, 1)
        corner = [min(seen[i, 2], seen[i, 2] + seen[i, k]) for i, k in ((0, x), (1, y))]
        left, top = (round(float(side)) for side in corner)
        exact = np.zeros((3, 3))
        for i, k, first, count in ((0, x, left, columns), (1, y, top, rows)):
            length = count - 2 * _INSET
            backward = seen[i, k] < 0
            exact[i, k] = -length if backward else length
            exact[i, 2] = first + (count - _INSET if backward else _INSET)
        exact[2, 2] = 1
        meant = np.linalg.inv(image.within) @ back @ exact
        (a, c, e), (b, d, f) = meant[0], meant[1]
        raw.FPDFPageObj_SetMatrix(image.handle, raw.FS_MATRIX(a, b, c, d, e, f))


def _drawn_rows(
    raw: Any, sheet: Any, size: tuple[int, int], name: str, *, pure: bool
) -> Iterator[UInt8Array]:
    """Packed rows of the page, black = ink; refused where it must be pure and is not."""
    width, height = size
    flags = raw.FPDF_PRINTING | raw.FPDF_RENDER_NO_SMOOTHTEXT | raw.FPDF_RENDER_NO_SMOOTHPATH
    flags |= raw.FPDF_RENDER_NO_SMOOTHIMAGE
    step = max(1, _BAND_PIXELS // width)
    for top in range(0, height, step):
        count = min(step, height - top)
        gray = np.empty((count, width), np.uint8)
        bitmap = raw.FPDFBitmap_CreateEx(width, count, raw.FPDFBitmap_Gray, gray.ctypes.data, width)
        if not bitmap:
            raise MemoryError
        try:
            raw.FPDFBitmap_FillRect(bitmap, 0, 0, width, count, 0xFFFFFFFF)
            raw.FPDF_RenderPageBitmap(bitmap, sheet, 0, -top, width, height, 0, flags)
        finally:
            raw.FPDFBitmap_Destroy(bitmap)
        if pure and not np.isin(gray, _BLACK_AND_WHITE).all():
            raise not_pure(name)
        yield np.packbits(gray < 128, axis=1)

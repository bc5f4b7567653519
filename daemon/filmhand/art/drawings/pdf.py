"""Pages of PDF documents (ISO 32000) drawn with the film's own pixels, in strips.

Nothing in a page is run or fetched: the library is used without its script engine and without
forms, and files that a page points to are never opened. The library is C code and not safe to
use from two threads; a page is drawn by one.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from ctypes import c_uint, create_string_buffer
from dataclasses import field
from functools import lru_cache
from io import BytesIO
from math import inf
from pathlib import Path
from typing import Any

import numpy as np

from filmhand.arrays import UInt8Array
from filmhand.art.drawings.drawing_words import DrawingNote, DrawingRefusal
from filmhand.art.drawings.vector import (
    FilmSize,
    InkTest,
    Sizing,
    own_ppi,
    pixels_of,
    shape_of_white,
)
from filmhand.art.files import extras
from filmhand.art.files.decode import ExaminedFile, check_pixels
from filmhand.art.files.file_words import AdditionWord, FileRefusal
from filmhand.art.files.gray import Codes
from filmhand.art.opened_art import Art, DrawnColors
from filmhand.art.raster import row_strips
from filmhand.profile.model import Limits
from filmhand.values import dataclass

_STRIP_PIXELS = 4_000_000
_BYTES_A_PIXEL = 12  # of the memory limit: two for the page as gray, the rest for what follows
_MOST_OBJECTS = 100_000
_DEEPEST = 8
_POINTS = 72.0
_COARSE_PPI = 100.0
# How the fonts that the library brings along call themselves.
_STAND_INS = ("Chrom ", "Chrome ")


@contextmanager
def open_document(path: Path, name: str, content: bytes | None = None) -> Iterator[tuple[Any, Any]]:
    """The open document and the library's own functions; every fault a refusal.

    Parameters
    ----------
    name : the customer's file name
    content : what to read in place of the file
    """
    library = extras.load("pypdfium2", name=name, what=AdditionWord.PDF)
    raw = extras.load("pypdfium2.raw", name=name, what=AdditionWord.PDF)
    try:
        # Held in memory: a file that another program changes meanwhile would be read twice.
        document = library.PdfDocument(path.read_bytes() if content is None else content)
    except library.PdfiumError as fault:
        if getattr(fault, "err_code", None) == raw.FPDF_ERR_PASSWORD:
            raise DrawingRefusal.NEEDS_PASSWORD.refused(name=name) from fault
        raise DrawingRefusal.BROKEN_DOCUMENT.refused(name=name) from fault
    try:
        yield document, raw
    except library.PdfiumError as fault:
        raise DrawingRefusal.BROKEN_DOCUMENT.refused(name=name) from fault
    finally:
        document.close()


def count_pdf_pages(path: Path, *, name: str) -> int:
    """How many pages the document has.

    Raises Refused: not-art without the library, locked, or damaged.
    """
    with open_document(path, name) as (document, _):
        pages = len(document)
    if pages < 1:
        raise DrawingRefusal.BROKEN_DOCUMENT.refused(name=name)
    return pages


def page_labels(path: Path, *, name: str) -> tuple[str, ...]:
    """What the pages are called (ISO 32000-1, 12.4.2), empty for those without a label.

    Raises Refused as :func:`count_pdf_pages` does.
    """
    with open_document(path, name) as (document, _):
        labels = [document.get_page_label(page) for page in range(len(document))]
    return tuple("".join(c for c in label if c.isprintable()).strip()[:60] for label in labels)


def draw_page(
    file: ExaminedFile,
    *,
    page: int,
    channel: str,
    limits: Limits,
    sizing: Sizing | None,
    content: bytes | None = None,
) -> Art:
    """One page on white, as coded gray.

    Parameters
    ----------
    page : from 0
    channel : as in the profile; alpha takes whatever the page draws, in any color
    sizing : what size the page gets on film
    content : another document with the same pages, to be drawn in place of the file

    Raises
    ------
    Refused
        locked, damaged, or too-big (pictures within the page of more pixels than allowed).
    """
    with _opened_page(file, page=page, limits=limits, sizing=sizing, content=content) as opened:
        notes = opened.notes
        coded = _render(opened, InkTest(channel))
        if channel == "luminance":
            coded = shape_of_white(coded, lambda: _render(opened, InkTest("alpha")), notes)
    return Art(coded, opened.ppi, file.kind.value, opened.is_drawn, notes)


@contextmanager
def page_colors(
    file: ExaminedFile, *, page: int, limits: Limits, sizing: Sizing | None, content: bytes
) -> Iterator[DrawnColors]:
    """One page on nothing, in color, to be drawn inside the ``with``.

    Parameters
    ----------
    content : another document with the same pages, to be drawn in place of the file
    page, limits, sizing : as for :func:`draw_page`, and so is what is raised
    """
    with _opened_page(file, page=page, limits=limits, sizing=sizing, content=content) as opened:
        shape = opened.film.height_px, opened.film.width_px
        strips = (strip for _, strip in _strips(opened, on_nothing=True))
        yield DrawnColors(shape, opened.ppi, file.kind.value, opened.notes, strips)


@dataclass(frozen=True, slots=True)
class _OpenedPage:
    """A page that can be drawn: the library's handle and functions, and with which pixels."""

    sheet: Any
    raw: Any
    film: FilmSize
    ppi: tuple[float, float]
    is_drawn: bool
    notes: list[str]


@contextmanager
def _opened_page(
    file: ExaminedFile,
    *,
    page: int,
    limits: Limits,
    sizing: Sizing | None,
    content: bytes | None = None,
) -> Iterator[_OpenedPage]:
    with open_document(file.path, file.name, content) as (document, raw):
        sheet = _page(document, raw, page)
        inches = (sheet.get_width() / _POINTS, sheet.get_height() / _POINTS)
        most = min(limits.megapixels * 1e6, limits.memory / _BYTES_A_PIXEL)
        film = pixels_of(inches, sizing=sizing, most_pixels=most, name=file.name)
        ppi = own_ppi(film, inches)
        found = _look_through(sheet, raw)
        for width, height, _ in found.pictures:
            check_pixels(
                width,
                height,
                name=file.name,
                limits=limits,
                refusal=FileRefusal.PICTURE_HAS_TOO_MANY_PIXELS,
            )
        for handle, is_stroke, gray, opacity in found.blacks:
            put = raw.FPDFPageObj_SetStrokeColor if is_stroke else raw.FPDFPageObj_SetFillColor
            put(handle, gray, gray, gray, opacity)
        is_drawn = not found.pictures and not found.unknown
        yield _OpenedPage(sheet, raw, film, ppi, is_drawn, file.notes + found.notes(ppi[0]))
        sheet.close()


def _page(document: Any, raw: Any, page: int) -> Any:
    """The page, with what was filled into its form as part of it.

    Fields would be drawn only by the library's form engine, which could also run scripts.
    """
    sheet = document[page]
    if raw.FPDF_GetFormType(document) == raw.FORMTYPE_NONE:
        return sheet
    raw.FPDFPage_Flatten(sheet, raw.FLAT_PRINT)
    sheet.close()
    return document[page]


def _render(opened: _OpenedPage, inking: InkTest) -> Codes:
    """What is kept of the page, strip by strip, so that color is only held for one strip."""
    coded = np.empty((opened.film.height_px, opened.film.width_px), np.uint16)
    for rows, strip in _strips(opened, on_nothing=inking.alpha):
        coded[rows] = inking.coded(strip)
    return coded


def _strips(opened: _OpenedPage, *, on_nothing: bool) -> Iterator[tuple[slice, UInt8Array]]:
    """Rows of the page, and (h, W, 4) uint8 R, G, B and opacity of them, or on white."""
    sheet, raw, film = opened.sheet, opened.raw, opened.film
    width, height, part = film.width_px, film.height_px, film.part
    whole_width = round(width / (part.right - part.left))
    whole_height = round(height / (part.bottom - part.top))
    left, first = round(part.left * whole_width), round(part.top * whole_height)
    layout = raw.FPDFBitmap_BGRA if on_nothing else raw.FPDFBitmap_BGRx
    flags = raw.FPDF_ANNOT | raw.FPDF_PRINTING | raw.FPDF_REVERSE_BYTE_ORDER
    background = 0 if on_nothing else 0xFFFFFFFF
    for rows in row_strips((height, width), _STRIP_PIXELS):
        top, count = rows.start, rows.stop - rows.start
        strip = np.empty((count, width, 4), np.uint8)
        bitmap = raw.FPDFBitmap_CreateEx(width, count, layout, strip.ctypes.data, width * 4)
        if not bitmap:
            raise MemoryError
        try:
            raw.FPDFBitmap_FillRect(bitmap, 0, 0, width, count, background)
            raw.FPDF_RenderPageBitmap(
                bitmap, sheet, -left, -first - top, whole_width, whole_height, 0, flags
            )
        finally:
            raw.FPDFBitmap_Destroy(bitmap)
        yield rows, strip


@dataclass(slots=True)
class _Found:
    """What a page holds.

    pictures : (width px, height px, least ppi on the page) of each picture
    fonts : names of fonts that the document does not bring along, drawn in a stand-in
    own_fonts : the same, drawn in a font of this computer
    blacks : (object, is its stroke, gray code, opacity) of what is drawn in black ink alone
    unknown : True where there was more than is looked through
    """

    pictures: list[tuple[int, int, float]] = field(default_factory=list)
    fonts: set[str] = field(default_factory=set)
    own_fonts: set[str] = field(default_factory=set)
    blacks: list[tuple[Any, bool, int, int]] = field(default_factory=list)
    unknown: bool = False

    def notes(self, ppi: float) -> list[str]:
        notes = []
        if self.fonts:
            notes.append(DrawingNote.STAND_IN_FONTS.say(fonts=_listed(self.fonts)))
        if self.own_fonts:
            notes.append(DrawingNote.FONTS_OF_COMPUTER.say(fonts=_listed(self.own_fonts)))
        coarse = [own for _, _, own in self.pictures if own < min(_COARSE_PPI, ppi)]
        if coarse:
            notes.append(DrawingNote.COARSE_PICTURE.say(ppi=f"{min(coarse):.0f}"))
        if self.blacks:
            notes.append(DrawingNote.BLACK_INK.say())
        return notes


def _listed(fonts: set[str]) -> str:
    return ", ".join(sorted(fonts)[:5])


def _look_through(sheet: Any, raw: Any) -> _Found:
    """All objects of a page, those within forms too, as far as is reasonable."""
    found = _Found()
    budget = _MOST_OBJECTS
    waiting: list[tuple[Any, Any, int, int, float]] = [
        (sheet, raw.FPDFPage_GetObject, raw.FPDFPage_CountObjects(sheet), 0, 1.0)
    ]
    while waiting:
        holder, get, count, depth, scale = waiting.pop()
        for i in range(count):
            budget -= 1
            if budget < 0:
                found.unknown = True
                return found
            handle = get(holder, i)
            kind = raw.FPDFPageObj_GetType(handle)
            if kind == raw.FPDF_PAGEOBJ_FORM:
                if depth >= _DEEPEST:
                    found.unknown = True
                    continue
                inner = raw.FPDFFormObj_CountObjects(handle)
                within = scale * (max(_lengths(raw, handle)) or 1.0)
                waiting.append((handle, raw.FPDFFormObj_GetObject, inner, depth + 1, within))
            else:
                _note_object(found, raw, handle, kind, scale)
    return found


def _note_object(found: _Found, raw: Any, handle: Any, kind: int, scale: float) -> None:
    if kind == raw.FPDF_PAGEOBJ_IMAGE:
        found.pictures.append(_picture(raw, handle, scale))
    elif kind in (raw.FPDF_PAGEOBJ_TEXT, raw.FPDF_PAGEOBJ_PATH):
        if kind == raw.FPDF_PAGEOBJ_TEXT:
            name, is_own = _missing_font(raw, handle)
            if name is not None:
                (found.own_fonts if is_own else found.fonts).add(name)
        for stroke in (False, True):
            ink = _black_ink(raw, handle, stroke=stroke)
            if ink is not None:
                found.blacks.append((handle, stroke, *ink))


def _lengths(raw: Any, handle: Any) -> tuple[float, float]:
    """How many points of the page a unit within the object is, across and down; 0 if unknown."""
    matrix = raw.FS_MATRIX()
    raw.FPDFPageObj_GetMatrix(handle, matrix)
    return float(np.hypot(matrix.a, matrix.b)), float(np.hypot(matrix.c, matrix.d))


def _picture(raw: Any, handle: Any, scale: float) -> tuple[int, int, float]:
    across, down = c_uint(), c_uint()
    raw.FPDFImageObj_GetImagePixelSize(handle, across, down)
    pixels = across.value, down.value
    sides = zip(pixels, _lengths(raw, handle), strict=True)
    least = min((px * _POINTS / (pt * scale) for px, pt in sides if pt * scale > 0), default=inf)
    return *pixels, least


def _missing_font(raw: Any, handle: Any) -> tuple[str | None, bool]:
    """The name of the text's font where the document does not embed it.

    And whether this computer has a font for it: else the library draws it in one that it brings
    along itself.
    """
    font = raw.FPDFTextObj_GetFont(handle)
    if not font or raw.FPDFFont_GetIsEmbedded(font) != 0:
        return None, False
    name = _told_by(raw.FPDFFont_GetBaseFontName, font) or DrawingNote.NAMELESS_FONT.say()
    return name, not _told_by(raw.FPDFFont_GetFamilyName, font).startswith(_STAND_INS)


def _told_by(ask: Any, font: Any) -> str:
    text = create_string_buffer(128)
    ask(font, text, len(text))
    return "".join(c for c in text.value.decode("utf-8", "replace") if c.isprintable())[:40]


def _black_ink(raw: Any, handle: Any, *, stroke: bool) -> tuple[int, int] | None:
    """The gray code and the opacity of a color that is black ink and no other, else None."""
    red, green, blue, opacity = c_uint(), c_uint(), c_uint(), c_uint()
    get = raw.FPDFPageObj_GetStrokeColor if stroke else raw.FPDFPageObj_GetFillColor
    if not get(handle, red, green, blue, opacity):
        return None
    color = red.value, green.value, blue.value
    # Grays proper have three equal numbers; the library's black ink is a little colored.
    if len(set(color)) == 1 or max(color) - min(color) > 12:
        return None
    gray = _black_inks().get(color)
    return None if gray is None else (gray, opacity.value)


@lru_cache(maxsize=1)
def _black_inks() -> dict[tuple[int, int, int], int]:
    """The screen color that the library gives each amount of black ink -> 255 x (1 - ink).

    The library shows inks as an offset press would print them, and so makes black a dark gray;
    on film it would get holes. Asked of the library itself, with one square for each amount.
    """
    squares = b"".join(b"0 0 0 %.6f k %d 0 1 1 re f\n" % (i / 255, i) for i in range(256))
    library = importlib.import_module("pypdfium2")
    page = library.PdfDocument(BytesIO(_one_page(squares, width=256)))[0]
    row = page.render(scale=1, rev_byteorder=True).to_numpy()[0]
    return {
        (int(r), int(g), int(b)): 255 - ink
        for ink, (r, g, b) in reversed(list(enumerate(row[:, :3])))
    }


def _one_page(content: bytes, *, width: int) -> bytes:
    objects = (
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 %d 1]/Contents 4 0 R>>" % width,
        b"<</Length %d>>stream\n%s\nendstream" % (len(content), content),
    )
    out, places = b"%PDF-1.4\n", []
    for i, one in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (i, one)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    return (
        out
        + b"xref\n0 5\n0000000000 65535 f \n"
        + table
        + b"trailer<</Size 5/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n" % len(out)
    )

"""SVG drawings (W3C SVG 1.1 and 2, static) drawn with up to 600 pixels to the inch.

Scripts are not run and animation does not move. A drawing that wants pictures from other files,
or fonts that this computer has not, is refused: the film would lack them without a word.

The renderer draws a whole picture at once and ends the process when memory runs out, so the
pixels are bounded by the memory limit beforehand.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator, Sequence
from html import escape
from io import BytesIO
from itertools import chain
from typing import Any

import numpy as np
from PIL import Image

from filmhand.arrays import UInt8Array
from filmhand.art.drawings.drawing_words import DrawingNote, DrawingRefusal
from filmhand.art.drawings.svg_scan import (
    BrokenSvg,
    SvgScan,
    SwollenSvg,
    resized,
    scan_svg,
    text_of,
    windowed,
)
from filmhand.art.drawings.vector import (
    InkTest,
    Sizing,
    kept_drawing,
    own_ppi,
    pixels_of,
    shape_of_white,
)
from filmhand.art.files import extras
from filmhand.art.files.decode import ExaminedFile
from filmhand.art.files.file_words import AdditionWord
from filmhand.art.files.gray import Codes
from filmhand.art.opened_art import Art, DrawnColors
from filmhand.art.raster import row_strips
from filmhand.errors import Quantity, Refused
from filmhand.profile.model import Limits
from filmhand.values import dataclass

_MOST_PPI = 600.0
_MOST_BYTES = 64_000_000
# Picture, packed picture and unpacked picture, four bytes each, and as much again to be safe;
# filters, masks and see-through groups draw on pictures of their own.
_BYTES_A_PIXEL, _BYTES_A_PIXEL_LAYERED = 24, 48
_STRIP_PIXELS = 2_000_000
_PROBE, _PROBES = "Handgloves 0123", 200
_NO_FONT = "no font has this name"
# Fonts that systems commonly have (from memory); the first that is there is taken.
_STAND_INS = {
    "sans-serif": ("DejaVu Sans", "Liberation Sans", "Noto Sans", "FreeSans", "Arial", "Helvetica",
                   "Nimbus Sans", "Open Sans", "Roboto", "Ubuntu", "Segoe UI"),
    "serif": ("DejaVu Serif", "Liberation Serif", "Noto Serif", "FreeSerif", "Times New Roman",
              "Times", "Nimbus Roman"),
    "monospace": ("DejaVu Sans Mono", "Liberation Mono", "Noto Sans Mono", "Courier New",
                  "FreeMono", "Courier", "Nimbus Mono PS", "Ubuntu Mono"),
}  # fmt: skip
# What the renderer takes for each kind of font, and for text that names none.
_WISHES = {
    "font_family": "serif",
    "serif_family": "serif",
    "sans_serif_family": "sans-serif",
    "monospace_family": "monospace",
    "cursive_family": "sans-serif",
    "fantasy_family": "sans-serif",
}
# What the renderer itself takes for a kind of font (in small letters only), or for no wish.
_GENERIC = frozenset(
    {"serif", "sans-serif", "monospace", "cursive", "fantasy", "inherit", "initial", "unset"}
)


def draw(file: ExaminedFile, *, channel: str, limits: Limits, sizing: Sizing | None) -> Art:
    """The drawing on white, as coded gray.

    Raises
    ------
    Refused
        not-art (library or fonts missing), damaged, or too-big.
    """
    planned = _planned(file, limits, sizing)

    def coded(inking: InkTest) -> Codes:
        pixels = _render(planned, None if inking.alpha else "#ffffff")
        drawn = np.empty(pixels.shape[:2], np.uint16)
        for rows in row_strips(drawn.shape, _STRIP_PIXELS):
            drawn[rows] = inking.coded(pixels[rows])
        return drawn

    drawn = coded(InkTest(channel))
    if channel == "luminance":
        drawn = shape_of_white(drawn, lambda: coded(InkTest("alpha")), planned.notes)
    return Art(drawn, planned.ppi, file.kind.value, not planned.has_pictures, planned.notes)


def drawn_colors(
    file: ExaminedFile, *, limits: Limits, sizing: Sizing | None, content: str
) -> DrawnColors:
    """The drawing on nothing, in color.

    Parameters
    ----------
    content : what to draw in place of the file's own text
    limits, sizing : as for :func:`draw`, and so is what is raised
    """
    planned = _planned(file, limits, sizing, content)

    def strips() -> Iterator[UInt8Array]:
        pixels = _render(planned, None, keep=False)
        for rows in row_strips(pixels.shape, _STRIP_PIXELS):
            yield pixels[rows]

    width, height = planned.size
    return DrawnColors((height, width), planned.ppi, file.kind.value, planned.notes, strips())


@dataclass(frozen=True, slots=True)
class _Planned:
    """A drawing that can be drawn: its text, for the renderer, and with which pixels."""

    library: Any
    name: str
    text: str
    size: tuple[int, int]
    ppi: tuple[float, float]
    has_pictures: bool
    notes: list[str]
    fonts: dict[str, Any]


def _planned(
    file: ExaminedFile, limits: Limits, sizing: Sizing | None, content: str | None = None
) -> _Planned:
    name = file.name
    library = extras.load("resvg_py", name=name, what=AdditionWord.SVG)
    try:
        text = svg_text(file) if content is None else content
        found = scan_svg(text)
    except BrokenSvg as fault:
        raise DrawingRefusal.NOT_WELL_FORMED.refused(name=name) from fault
    except SwollenSvg as fault:
        raise _too_much(name) from fault
    inches = _checked_size(found, name)
    bytes_a_pixel = _BYTES_A_PIXEL_LAYERED if found.layers else _BYTES_A_PIXEL
    film = pixels_of(
        inches,
        sizing=sizing,
        most_pixels=min(limits.megapixels * 1e6, limits.memory / bytes_a_pixel),
        most_ppi=_MOST_PPI,
        name=name,
    )
    size, part = (film.width_px, film.height_px), film.part
    text = resized(text, found, size) if part.is_whole else windowed(text, found, size, part)
    notes = file.notes + _notes(found)
    fonts = _fonts(library, found, name, notes) if found.has_text else {}
    pictures = bool(found.pictures)
    return _Planned(library, name, text, size, own_ppi(film, inches), pictures, notes, fonts)


def svg_text(file: ExaminedFile) -> str:
    """The text of a drawing, packed or not.

    Raises
    ------
    BrokenSvg
        where it is no text
    Refused
        too-big
    """
    path = file.path
    data = _unpacked(path.read_bytes()) if path.stat().st_size <= _MOST_BYTES else None
    if data is None:
        raise _too_much(file.name)
    return text_of(data)


def _unpacked(data: bytes) -> bytes | None:
    """The drawing, where it is packed (SVG 1.1, C.4: gzip); None where it is too large."""
    if data[:2] != b"\x1f\x8b":
        return data
    unpacker = zlib.decompressobj(31)
    plain = unpacker.decompress(data, _MOST_BYTES)
    return None if unpacker.unconsumed_tail else plain


def _render(planned: _Planned, background: str | None, *, keep: bool = True) -> UInt8Array:
    """(H, W, 4) uint8 R, G, B and opacity; ``keep`` tells that it may be asked for again."""
    text, (width, height) = planned.text, planned.size

    def draw() -> bytes:
        drawn: bytes = planned.library.svg_to_bytes(
            svg_string=text,
            width=width,
            height=height,
            dpi=96,
            background=background,
            **planned.fonts,
        )
        return bytes(drawn)

    key = text, planned.size, background, tuple(sorted(planned.fonts.items(), key=str))
    try:
        packed = kept_drawing(key, draw) if keep else draw()
    except BaseException as fault:
        # A fault within the renderer arrives as PanicException, which is no Exception.
        if isinstance(fault, ValueError) or type(fault).__name__ == "PanicException":
            raise DrawingRefusal.NOT_DRAWN.refused(name=planned.name) from fault
        raise
    with Image.open(BytesIO(packed), formats=("PNG",)) as image:
        pixels: UInt8Array = np.asarray(image if image.mode == "RGBA" else image.convert("RGBA"))
    return pixels


def _too_much(name: str) -> Refused:
    return DrawingRefusal.TOO_MUCH.refused(
        name=name, found=Quantity(DrawingNote.TOO_MANY.say(), "elements")
    )


def _checked_size(found: SvgScan, name: str) -> tuple[float, float]:
    if found.outside:
        other = "".join(c for c in found.outside[0] if c.isprintable())[:60]
        raise DrawingRefusal.POINTS_OUTSIDE.refused(name=name, other=other)
    if found.inches is None:
        raise DrawingRefusal.SAYS_NO_SIZE.refused(name=name)
    return found.inches


def _notes(found: SvgScan) -> list[str]:
    notes = []
    if found.scripts:
        notes.append(DrawingNote.SCRIPTS.say())
    if found.moving:
        notes.append(DrawingNote.ANIMATED.say())
    if found.foreign:
        notes.append(DrawingNote.FOREIGN_PARTS.say())
    return notes


def _fonts(library: Any, found: SvgScan, name: str, notes: list[str]) -> dict[str, Any]:
    """The renderer's wishes about fonts; raises Refused where text would get lost."""
    wanted = [_split(families) for families in sorted(found.families)]
    there = _shown(library, sorted({*chain(*_STAND_INS.values()), *chain(*wanted)}))
    stand_ins = {
        kind: next((one for one in names if one in there), None)
        for kind, names in _STAND_INS.items()
    }
    any_font = next((one for one in stand_ins.values() if one), min(there, default=None))
    fonts = {kind: one or any_font for kind, one in stand_ins.items()}
    missing = [one for one in wanted if there.isdisjoint(one) and _GENERIC.isdisjoint(one)]
    if missing:
        raise DrawingRefusal.LACKS_FONT.refused(
            name=name, fonts=_printable(chain(*missing[:3]))[:80]
        )
    if any_font is None:
        raise DrawingRefusal.NO_FONTS.refused(name=name)
    replaced = sorted({one[0] for one in wanted if one[0] not in there | _GENERIC})
    if replaced:
        notes.append(DrawingNote.SECOND_FONTS.say(fonts=_printable(replaced[:5])))
    return {wish: fonts[kind] for wish, kind in _WISHES.items()}


def _split(families: str) -> list[str]:
    return [one.strip().strip("'\"") for one in families.split(",") if one.strip(" '\"")]


def _printable(families: Iterable[str]) -> str:
    return "".join(c for c in ", ".join(families) if c.isprintable())


def _shown(library: Any, families: Sequence[str]) -> frozenset[str]:
    """Those families in which the renderer draws a few letters: asked of itself, a row for each.

    It draws in its serif what it has no font for, so here its serif is a font that is nowhere.
    """
    nowhere = dict.fromkeys(_WISHES, _NO_FONT)
    shown: list[str] = []
    for start in range(0, len(families), _PROBES):
        some = families[start : start + _PROBES]
        rows = "".join(
            f'<svg y="{30 * row}" width="160" height="30"><text x="2" y="22" font-size="18" '
            f"font-family=\"'{escape(family)}'\">{_PROBE}</text></svg>"
            for row, family in enumerate(some)
        )
        size = f'width="160" height="{30 * len(some)}"'
        packed = library.svg_to_bytes(
            svg_string=f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{rows}</svg>',
            dpi=96,
            **nowhere,
        )
        with Image.open(BytesIO(packed), formats=("PNG",)) as image:
            seen = np.asarray(image.convert("RGBA"))[..., 3]
        shown += [one for row, one in enumerate(some) if seen[30 * row : 30 * row + 30].any()]
    return frozenset(shown)

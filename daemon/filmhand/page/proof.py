"""The proof: a picture of a film as it will look, its facts in words, and a detail of its print.

At the top lies the film, its art upright, with a point at each mended place and a circle around the
weakest ones. Below it stands what one would ask about it, and 25 x 25 mm, enlarged, of the place
that matters most: where a mesh is known, of the print that is to be expected, so that lost dots,
filled holes and bands can be seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from filmhand.arrays import BoolArray, Float32Array, Int64Array
from filmhand.art.raster import block_sums
from filmhand.film.bits import BitSheet
from filmhand.mesh.printing.losses import PrintedPiece, print_piece
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips
from filmhand.page.film_picture import light_seen
from filmhand.page.page_words import ProofCaption
from filmhand.page.predicted_print import FILLED, LOST, coded, detail
from filmhand.page.proof_page import (
    INSIDE,
    Color,
    Detail,
    ProofPage,
    ProofWords,
    Symbol,
    turned_quarters,
)
from filmhand.sheet.layout import Box
from filmhand.speaking_pool import SpeakingPool
from filmhand.units import MM_PER_INCH, PixelsPerInch, SheetSize, size_text

NO_WORDS = ProofWords()
HIGHEST_FILM = 1400
DETAIL_MM, DETAIL_SIDE = 25.0, 640
# A mended place is some tenths of a millimeter wide, about a pixel of the proof, and no fault: its
# mark is a point, and the smallest that there is where there are many.
_MENDED_REACH, _MANY_MENDED = 2, 40
_CIRCLE_REACH, _CLEARED_REACH = 16, 5
_MOST_POINTS = 4000
# Cells of the print to a pixel of the detail, about: each is some micrometers wide.
_BLOCK = 8
# The busiest place is looked for on a picture this much coarser, so that dots do not count as busy,
# and a place without any change still counts this much.
_COARSER, _CALM = 6, 0.1
# Each kind of mark has a shape of its own too, and all have a light edge, to be seen on black.
_MENDED, _CIRCLE, _FRAME, _EDGE = (50, 90, 210), (235, 120, 0), (0, 125, 125), (255, 255, 255)
_GONE, _MOST_BOXES = (130, 50, 170), 40
_CLEARED, _CLEARED_TINT, _TINT_COVER = (20, 140, 40), (120, 205, 120), 110


def write_proof(
    bits: BitSheet,
    path: Path,
    *,
    resolution: PixelsPerInch,
    mended: Sequence[tuple[int, int]],
    circled: Sequence[tuple[int, int]] = (),
    conditions: PrintConditions | None = None,
    art: Box | None = None,
    cleared: Sequence[tuple[int, int]] = (),
    bared: Sequence[tuple[Box, BoolArray]] = (),
    gone: Sequence[Box] = (),
    detail_at: tuple[int, int] | None = None,
    words: ProofWords = NO_WORDS,
    sheet: SheetSize | None = None,
) -> None:
    """Write a JPEG of the film, as the eye sees it, with its facts and the detail below it.

    Parameters
    ----------
    bits : the film
    path : ends in ``.jpg``
    mended : (column, row) of places on the film that were mended
    circled : (column, row) of the weakest places
    conditions : of mesh, light and ink; without them the detail shows the film itself
    art : where the art lies on the film; the detail is taken from there
    cleared : (column, row) of small islands that were taken away
    gone : boxes on the film of shapes of the art that do not show on it
    bared : a box of the film and (h, w) bool over it, at any size: where background was made bare
    detail_at : (column, row) of the middle of the detail; else it is the busiest place of the art
    words : name, facts and warnings, and which way the film's art stands upright
    sheet : in whose unit lengths are told first; without it in millimeters alone
    """
    size = _film_size(bits, resolution, sideways=words.turn != 0)
    with SpeakingPool(2) as aside:
        # The words are drawn while the film is made small, and the detail as soon as it is known
        # where it lies.
        box = None if detail_at is None else _about(detail_at, bits, resolution)
        closer = None if box is None else aside.submit(_close, bits, box, resolution, conditions)
        seen = aside.submit(light_seen, bits, resolution, size)
        page = ProofPage((size[1], size[0]) if words.turn % 180 else size, words)
        light = seen.result()
        if box is None or closer is None:
            box = _busiest(light, bits, resolution, art)
            closer = aside.submit(_close, bits, box, resolution, conditions)
        film = Image.fromarray(coded(light)).convert("RGB")
        scale = (film.width / bits.width, film.height / bits.height)
        for area, where in bared:
            _tint(film, where, area, scale)
        for places, symbol in (
            (cleared, _square_mark),
            (mended, _point if len(mended) <= _MANY_MENDED else _small_point),
            (circled, _ring),
        ):
            _mark(film, places, scale, symbol)
        for shape in gone[:_MOST_BOXES]:
            _corners(film, shape, scale)
        _frame(film, box, scale)
        close, losses = closer.result()
    shown = ProofCaption.PIECE_OF_FILM if conditions is None else ProofCaption.PIECE_OF_PRINT
    place = ProofCaption.WEAKEST_PLACE if detail_at else ProofCaption.BUSIEST_PLACE
    found: _Told = [
        (_little_frame, shown.say(size=_told_size(sheet))),
        (None, place.say()),
        *losses,
    ]
    found += [
        (symbol, caption.say())
        for there, symbol, caption in (
            (mended, _point, ProofCaption.SPOTTED_OUT),
            (circled, _ring, ProofCaption.WEAKEST_PLACES),
            (cleared, _square_mark, ProofCaption.ISLANDS_CLEARED),
            (bared, _tinted, ProofCaption.BACKGROUND_CLEARED),
            (gone, _little_corners, ProofCaption.NOT_ON_FILM),
        )
        if there
    ]
    enlarged = Detail(turned_quarters(close, words.turn), found)
    picture = page.picture(turned_quarters(film, words.turn), enlarged)
    # Color at full resolution, for the marks are thin. JPEG by the ending: given its name, Pillow
    # would load the codecs of other formats, too.
    picture.save(path, quality=85, subsampling=0)


_Told = list[tuple[Symbol | None, str]]


def _close(
    bits: BitSheet, box: Box, resolution: PixelsPerInch, conditions: PrintConditions | None
) -> tuple[Image.Image, _Told]:
    """The detail, and what the mesh loses in it."""
    if conditions is None:
        return _enlarged(bits, box), []
    piece = _piece(bits, box, resolution, conditions)
    return detail(piece, _detail_size(piece)), _told_losses(piece)


def _told_size(sheet: SheetSize | None) -> str:
    """How large what the detail shows is."""
    if sheet is None:
        return f"{DETAIL_MM:g} x {DETAIL_MM:g} mm"
    return size_text((DETAIL_MM, DETAIL_MM), sheet)


def _told_losses(piece: PrintedPiece) -> _Told:
    """What the mesh loses in the detail."""
    lost, filled = piece.lost_count, piece.filled_count
    if not lost and not filled:
        return [(None, ProofCaption.NOTHING_LOST.say())]
    return [
        (_swatch(LOST), ProofCaption.LOST.say(count=lost)),
        (_swatch(FILLED), ProofCaption.FILLED.say(count=filled)),
    ]


def _film_size(bits: BitSheet, resolution: PixelsPerInch, *, sideways: bool) -> tuple[int, int]:
    """Width and height of the film's picture, in the sheet's proportions, as the sheet is read.

    It is turned afterwards where that is ``sideways``.
    """
    across, down = bits.width / resolution.x, bits.height / resolution.y
    room = (HIGHEST_FILM, INSIDE) if sideways else (INSIDE, HIGHEST_FILM)
    scale = min(room[0] / across, room[1] / down)
    return max(1, round(across * scale)), max(1, round(down * scale))


def _mark(
    picture: Image.Image,
    places: Sequence[tuple[int, int]],
    scale: tuple[float, float],
    symbol: Symbol,
) -> None:
    """A mark about each place, spread over the sheet where there are too many."""
    draw = ImageDraw.Draw(picture)
    for column, line in places[:: max(1, len(places) // _MOST_POINTS)]:
        symbol(draw, (column * scale[0], line * scale[1]))


def _about_place(at: tuple[float, float], reach: float) -> tuple[float, float, float, float]:
    return at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach


def _point(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    draw.ellipse(_about_place(at, _MENDED_REACH + 1), fill=_EDGE)
    draw.ellipse(_about_place(at, _MENDED_REACH), fill=_MENDED)


def _small_point(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    draw.ellipse(_about_place(at, 1), fill=_MENDED)


def _ring(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    draw.ellipse(_about_place(at, _CIRCLE_REACH + 1), outline=_EDGE, width=5)
    draw.ellipse(_about_place(at, _CIRCLE_REACH), outline=_CIRCLE, width=3)


def _square_mark(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    draw.rectangle(_about_place(at, _CLEARED_REACH + 1), outline=_EDGE, width=4)
    draw.rectangle(_about_place(at, _CLEARED_REACH), outline=_CLEARED, width=2)


def _tinted(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    draw.rectangle(_about_place(at, 14), fill=_CLEARED_TINT)


def _little_frame(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    draw.rectangle(_about_place(at, 14), outline=_FRAME, width=4)


def _little_corners(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
    _draw_corners(draw, _about_place(at, 14))


def _draw_corners(draw: ImageDraw.ImageDraw, box: tuple[float, float, float, float]) -> None:
    left, top, right, bottom = box
    x, y = (min(12.0, (far - near) / 3) for near, far in ((left, right), (top, bottom)))
    for across, step_x in ((left, x), (right, -x)):
        for down, step_y in ((top, y), (bottom, -y)):
            corner = [(across + step_x, down), (across, down), (across, down + step_y)]
            draw.line(corner, fill=_EDGE, width=6)
            draw.line(corner, fill=_GONE, width=3)


def _swatch(color: Color) -> Symbol:
    def draw_swatch(draw: ImageDraw.ImageDraw, at: tuple[float, float]) -> None:
        draw.ellipse(_about_place(at, 9), fill=color)

    return draw_swatch


def _tint(picture: Image.Image, where: BoolArray, area: Box, scale: tuple[float, float]) -> None:
    """Tint what is bare film because the background was cleared there."""
    left, top = round(area.left * scale[0]), round(area.top * scale[1])
    size = (round(area.right * scale[0]) - left, round(area.bottom * scale[1]) - top)
    if min(size) < 1:
        return
    shown = Image.fromarray(where.astype(np.uint8) * _TINT_COVER)
    picture.paste(_CLEARED_TINT, (left, top), shown.resize(size, Image.Resampling.BOX))


def _frame(picture: Image.Image, box: Box, scale: tuple[float, float]) -> None:
    """The frame around what the detail shows."""
    draw = ImageDraw.Draw(picture)
    left, top, right, bottom = _scaled(box, scale)
    draw.rectangle((left - 1, top - 1, right, bottom), outline=_EDGE, width=6)
    draw.rectangle((left, top, right - 1, bottom - 1), outline=_FRAME, width=4)


def _corners(picture: Image.Image, box: Box, scale: tuple[float, float]) -> None:
    """The corners of a frame around something that is not on the film."""
    left, top, right, bottom = _scaled(box, scale)
    _draw_corners(ImageDraw.Draw(picture), (left - 2, top - 2, right + 1, bottom + 1))


def _scaled(box: Box, scale: tuple[float, float]) -> tuple[float, float, float, float]:
    return box.left * scale[0], box.top * scale[1], box.right * scale[0], box.bottom * scale[1]


def _square(bits: BitSheet, resolution: PixelsPerInch) -> tuple[int, int]:
    """Device pixels of the detail, across and down: whole blocks, whatever the resolution."""
    across, down = (
        max(1, min(round(DETAIL_MM / MM_PER_INCH * dpi), side) // _BLOCK) * _BLOCK
        for dpi, side in ((resolution.x, bits.width), (resolution.y, bits.height))
    )
    return across, down


def _about(place: tuple[int, int], bits: BitSheet, resolution: PixelsPerInch) -> Box:
    """The square about a place, moved so that it lies on the film."""
    width, height = _square(bits, resolution)
    left = max(0, min(place[0] - width // 2, bits.width - width))
    top = max(0, min(place[1] - height // 2, bits.height - height))
    return Box(left, top, width, height)


def _busiest(
    light: Float32Array, bits: BitSheet, resolution: PixelsPerInch, art: Box | None
) -> Box:
    """The square of the art with the most change in middle tones, in device pixels."""
    width, height = _square(bits, resolution)
    tone = 1 - block_sums(light, _COARSER) / np.float32(_COARSER**2)
    rows, columns = tone.shape
    change = np.zeros_like(tone)
    change[1:] += np.abs(np.diff(tone, axis=0))
    change[:, 1:] += np.abs(np.diff(tone, axis=1))
    busy = tone * (1 - tone) * (_CALM + change)
    sums = np.pad(busy.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    within = art or Box(0, 0, bits.width, bits.height)
    down = bits.height / light.shape[0] * _COARSER
    tops = _places(within.top, within.bottom - height, bits.height - height, down)
    first, last = _edges(tops, height, down, rows)
    across = bits.width / light.shape[1] * _COARSER
    lefts = _places(within.left, within.right - width, bits.width - width, across)
    before, after = _edges(lefts, width, across, columns)
    totals = sums[last][:, after] - sums[first][:, after] - sums[last][:, before]
    totals += sums[first][:, before]
    row, column = np.unravel_index(totals.argmax(), totals.shape)
    return Box(int(lefts[column]), int(tops[row]), width, height)


def _places(first: int, last: int, most: int, step: float) -> Int64Array:
    """Where the square may begin, in device pixels; at one place at least."""
    places = np.arange(first, max(first, last) + 1, step).astype(np.int64)
    return np.clip(places, 0, max(0, most))


def _edges(places: Int64Array, side: int, step: float, count: int) -> tuple[Int64Array, Int64Array]:
    """First and last edge of squares on the coarser picture."""
    first, last = (
        np.clip(np.rint(edge / step).astype(np.int64), 0, count) for edge in (places, places + side)
    )
    return first, last


def _piece(
    bits: BitSheet, box: Box, resolution: PixelsPerInch, conditions: PrintConditions
) -> PrintedPiece:
    """What prints there."""
    impression = PrintedStrips(conditions, resolution, left=box.left, width=box.width)
    halo_x, halo_y = impression.halo
    film = np.zeros((box.height + 2 * halo_y, box.width + 2 * halo_x), np.bool_)
    first, stop = max(0, box.top - halo_y), min(bits.height, box.bottom + halo_y)
    left, right = max(0, box.left - halo_x), min(bits.width, box.right + halo_x)
    rows = np.unpackbits(bits.read(first, stop - first)[:, left // 8 : (right + 7) // 8], axis=1)
    down, across = first - box.top + halo_y, left - box.left + halo_x
    film[down : down + stop - first, across : across + right - left] = rows[
        :, left % 8 : left % 8 + right - left
    ]
    return print_piece(impression, film, row=box.top, column=box.left, block=(_BLOCK, _BLOCK))


def _enlarged(bits: BitSheet, box: Box) -> Image.Image:
    """A part of the film itself."""
    rows = np.unpackbits(bits.read(box.top, box.height), axis=1)[:, box.left : box.right]
    light = Image.fromarray((1 - rows).astype(np.float32))
    # Square whatever the resolution; that of a film smaller than the detail is cut as it comes.
    picture = light.resize((DETAIL_SIDE, DETAIL_SIDE), Image.Resampling.BOX)
    return Image.fromarray(coded(np.asarray(picture))).convert("RGB")


def _detail_size(piece: PrintedPiece) -> tuple[int, int]:
    """Pixels of the detail: its own blocks, which are the sharpest, where there are enough."""
    height, width = piece.share.shape
    longest = max(width, height)
    if DETAIL_SIDE * 3 // 4 <= longest <= DETAIL_SIDE:
        return width, height
    return max(1, width * DETAIL_SIDE // longest), max(1, height * DETAIL_SIDE // longest)

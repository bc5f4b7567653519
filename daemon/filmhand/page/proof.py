"""The proof: a small picture of a film as it will look, and a detail of its expected print.

On the left lies the film, with a point at each mended place and a circle around the weakest ones.
Where a mesh is known, the right shows 25 x 25 mm of the print that is to be expected, enlarged:
dots that are lost and holes that fill are colored there, and bands can be seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from filmhand.arrays import BoolArray, Float32Array, Int64Array
from filmhand.film.bits import BitSheet, box_sums
from filmhand.mesh.printing.losses import PrintedPiece, print_piece
from filmhand.mesh.printing.print_model import PrintConditions, PrintedStrips
from filmhand.page.predicted_print import coded, detail
from filmhand.sheet.layout import Box
from filmhand.units import MM_PER_INCH, Resolution

LONGEST_PROOF_SIDE = 1000
DETAIL_MM, DETAIL_SIDE = 25.0, 640
# A mended place is some tenths of a millimeter wide, about a pixel of the proof, and no fault: its
# mark is a point, and the smallest that there is where there are many.
_MENDED_REACH, _MANY_MENDED = 2, 40
_MOST_POINTS = 4000
_ROWS_AT_ONCE = 256
# Cells of the print to a pixel of the detail, about: each is some micrometers wide.
_BLOCK = 8
# The busiest place is looked for on a picture this much coarser, so that dots do not count as busy,
# and a place without any change still counts this much.
_COARSER, _CALM = 6, 0.1
_MENDED, _CIRCLE, _FRAME = (50, 90, 210), (235, 120, 0), (0, 125, 125)
_GONE, _MOST_BOXES = (130, 50, 170), 40
_CLEARED, _CLEARED_TINT, _TINT_COVER = (20, 140, 40), (120, 205, 120), 110
_AROUND, _TEXT, _SPACE, _LINE = (226, 226, 226), (30, 30, 30), 20, 20


def write_proof(
    bits: BitSheet,
    path: Path,
    *,
    resolution: Resolution,
    mended: Sequence[tuple[int, int]],
    circled: Sequence[tuple[int, int]] = (),
    conditions: PrintConditions | None = None,
    art: Box | None = None,
    cleared: Sequence[tuple[int, int]] = (),
    bared: Sequence[tuple[Box, BoolArray]] = (),
    gone: Sequence[Box] = (),
    detail_at: tuple[int, int] | None = None,
) -> None:
    """Write a JPEG of the film, as the eye sees it, 1000 pixels long, and the detail beside it.

    Parameters
    ----------
    bits : the film
    mended : (column, row) of places on the film that were mended
    circled : (column, row) of the weakest places
    conditions : of mesh, light and ink; without them there is no detail
    art : where the art lies on the film; the detail is taken from there
    cleared : (column, row) of small islands that were taken away
    gone : boxes on the film of shapes of the art that do not show on it
    bared : a box of the film and (h, w) bool over it, at any size: where background was made bare
    detail_at : (column, row) of the middle of the detail; else it is the busiest place of the art
    """
    light = _seen(bits, resolution)
    picture: Image.Image = Image.fromarray(coded(light))
    if mended or circled or cleared or bared or gone or conditions is not None:
        picture = picture.convert("RGB")
        scale = (picture.width / bits.width, picture.height / bits.height)
        for box, where in bared:
            _tint(picture, where, box, scale)
        _mark(picture, cleared, scale, 4, _CLEARED, square=True)
        reach = _MENDED_REACH if len(mended) <= _MANY_MENDED else 1
        _mark(picture, mended, scale, reach, _MENDED, width=reach + 1)
        _mark(picture, circled, scale, 14, _CIRCLE, width=3)
        for box in gone[:_MOST_BOXES]:
            _frame(picture, box, scale, _GONE)
        if conditions is not None:
            if detail_at is None:
                box = _busiest(light, bits, resolution, art)
            else:
                box = _about(detail_at, bits, resolution)
            _frame(picture, box, scale, _FRAME)
            piece = _piece(bits, box, resolution, conditions)
            marks = ["blue points: spotted out"] * bool(mended)
            marks += ["orange circles: weakest places"] * bool(circled)
            marks += ["green: cleared"] * bool(cleared or bared)
            marks += ["purple frames: of the art, but not on the film"] * bool(gone)
            told = _told(piece, conditions, marks)
            picture = _side_by_side(picture, detail(piece, _detail_size(piece)), told)
    # Color at full resolution, for the marks are thin.
    picture.save(path, "JPEG", quality=85, subsampling=0)


def _seen(bits: BitSheet, resolution: Resolution) -> Float32Array:
    """The light that the film lets through, 0..1, at the size of the proof."""
    # Averaged to twice the proof's size and then reduced with a proper filter: averaging all the
    # way would let the dots beat with the proof's own pixels.
    factor = max(1, max(bits.width, bits.height) // (2 * LONGEST_PROOF_SIDE))
    coarser = max(resolution.x, resolution.y)
    across = max(1, round(factor * resolution.x / coarser))
    down = max(1, round(factor * resolution.y / coarser))
    width, height = bits.width // across, bits.height // down
    light = np.empty((height, width), np.float32)
    # Many rows at a time: the film is being coded beside this, and each step waits for its turn.
    rows = max(1, _ROWS_AT_ONCE // down)
    for top in range(0, height, rows):
        count = min(rows, height - top)
        ink = np.unpackbits(bits.read(top * down, count * down), axis=1)[:, : width * across]
        light[top : top + count] = 1 - box_sums(ink, across=across, down=down) / (across * down)
    # Light averages, so the mean of the light is what the eye sees; sRGB codes it.
    size = _proof_size(bits, resolution)
    return np.asarray(Image.fromarray(light).resize(size, Image.Resampling.LANCZOS))


def _proof_size(bits: BitSheet, resolution: Resolution) -> tuple[int, int]:
    """Width and height of the proof, in the proportions of the sheet."""
    across, down = bits.width / resolution.x, bits.height / resolution.y
    scale = LONGEST_PROOF_SIDE / max(across, down)
    return max(1, round(across * scale)), max(1, round(down * scale))


def _mark(
    picture: Image.Image,
    places: Sequence[tuple[int, int]],
    scale: tuple[float, float],
    reach: int,
    color: tuple[int, int, int],
    *,
    square: bool = False,
    width: int = 1,
) -> None:
    """A ring or a square around each place, spread over the sheet where there are too many."""
    draw = ImageDraw.Draw(picture)
    shape = draw.rectangle if square else draw.ellipse
    for column, line in places[:: max(1, len(places) // _MOST_POINTS)]:
        x, y = column * scale[0], line * scale[1]
        shape((x - reach, y - reach, x + reach, y + reach), outline=color, width=width)


def _tint(picture: Image.Image, where: BoolArray, area: Box, scale: tuple[float, float]) -> None:
    """Tint what is bare film because the background was cleared there."""
    left, top = round(area.left * scale[0]), round(area.top * scale[1])
    size = (round(area.right * scale[0]) - left, round(area.bottom * scale[1]) - top)
    if min(size) < 1:
        return
    shown = Image.fromarray(where.astype(np.uint8) * _TINT_COVER)
    picture.paste(_CLEARED_TINT, (left, top), shown.resize(size, Image.Resampling.BOX))


def _frame(
    picture: Image.Image, box: Box, scale: tuple[float, float], color: tuple[int, int, int]
) -> None:
    """A frame around a part of the film."""
    left, top, right, bottom = box.left, box.top, box.right, box.bottom
    ImageDraw.Draw(picture).rectangle(
        (left * scale[0] - 2, top * scale[1] - 2, right * scale[0] + 1, bottom * scale[1] + 1),
        outline=color,
        width=2,
    )


def _square(bits: BitSheet, resolution: Resolution) -> tuple[int, int]:
    """Device pixels of the detail, across and down: whole blocks, whatever the resolution."""
    across, down = (
        max(1, min(round(DETAIL_MM / MM_PER_INCH * dpi), side) // _BLOCK) * _BLOCK
        for dpi, side in ((resolution.x, bits.width), (resolution.y, bits.height))
    )
    return across, down


def _about(place: tuple[int, int], bits: BitSheet, resolution: Resolution) -> Box:
    """The square about a place, moved so that it lies on the film."""
    width, height = _square(bits, resolution)
    left = max(0, min(place[0] - width // 2, bits.width - width))
    top = max(0, min(place[1] - height // 2, bits.height - height))
    return Box(left, top, width, height)


def _busiest(light: Float32Array, bits: BitSheet, resolution: Resolution, art: Box | None) -> Box:
    """The square of the art with the most change in middle tones, in device pixels."""
    width, height = _square(bits, resolution)
    rows, columns = light.shape[0] // _COARSER, light.shape[1] // _COARSER
    blocks = light[: rows * _COARSER, : columns * _COARSER].reshape(rows, _COARSER, columns, -1)
    tone = 1 - blocks.mean(axis=(1, 3))
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
    bits: BitSheet, box: Box, resolution: Resolution, conditions: PrintConditions
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


def _detail_size(piece: PrintedPiece) -> tuple[int, int]:
    """Pixels of the detail: its own blocks, which are the sharpest, where there are enough."""
    height, width = piece.share.shape
    longest = max(width, height)
    if DETAIL_SIDE * 3 // 4 <= longest <= DETAIL_SIDE:
        return width, height
    return max(1, width * DETAIL_SIDE // longest), max(1, height * DETAIL_SIDE // longest)


def _told(
    piece: PrintedPiece, conditions: PrintConditions, marks: list[str]
) -> tuple[list[str], list[str]]:
    """What stands below the film and below the detail."""
    left = ["The film. The frame shows where the detail is from."]
    if marks:
        left.append(", ".join(marks).capitalize() + ".")
    size = f"{DETAIL_MM:g} x {DETAIL_MM:g} mm"
    right = [f"{size} of the expected print, mesh {conditions.mesh.label}."]
    lost, filled = piece.lost_count, piece.filled_count
    right.append(f"Lost dots here: {lost} (red). Filled shadow dots: {filled} (blue).")
    return left, right


def _side_by_side(
    film: Image.Image, close: Image.Image, told: tuple[list[str], list[str]]
) -> Image.Image:
    """The film and the detail, each with its lines of text below."""
    below = _LINE * max(len(lines) for lines in told) + _SPACE
    height = max(film.height, close.height) + below + _SPACE
    font = ImageFont.load_default(15)
    widths = [
        max(picture.width, *(ceil(font.getlength(line)) for line in lines))
        for picture, lines in zip((film, close), told, strict=True)
    ]
    page = Image.new("RGB", (sum(widths) + 3 * _SPACE, height), _AROUND)
    draw = ImageDraw.Draw(page)
    left = _SPACE
    for picture, lines, width in zip((film, close), told, widths, strict=True):
        page.paste(picture, (left, _SPACE))
        for number, line in enumerate(lines):
            at = (left, _SPACE + picture.height + 6 + number * _LINE)
            draw.text(at, line, fill=_TEXT, font=font)
        left += width + _SPACE
    return page

"""What drawings of commands (PDF, SVG) have in common: how many pixels they are drawn with."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace
from math import ceil

from filmhand.arrays import UInt8Array
from filmhand.art.crop_window import WHOLE, CropWindow
from filmhand.art.drawings.drawing_words import DrawingNote, DrawingRefusal
from filmhand.art.files.gray import WHITE, Codes, GrayTables, opacity_as_ink
from filmhand.units import MM_PER_INCH
from filmhand.values import dataclass

_OWN_PPI = 300.0
_SMALLEST_IN, _LARGEST_IN = 0.02, 400.0
_MOST_SIDE = 60_000
_MOST_LENGTHY = 200
_WHITE_CODE = 65_200  # 254 of 255, with what lossy coding makes of white
_MOST_OPAQUE = 0.9


@dataclass(frozen=True, slots=True)
class FilmSize:
    """The size that art gets on film: square pixels, and how many of them make an inch.

    Where only a part of the art is kept, these are the pixels of that part.
    """

    width_px: int
    height_px: int
    ppi: float
    part: CropWindow = WHOLE


_kept: ContextVar[dict[Hashable, bytes] | None] = ContextVar("kept drawings", default=None)


@contextmanager
def drawn_once() -> Iterator[None]:
    """Inside the ``with``, a drawing that is asked for again is drawn once.

    Art in color is read a channel at a time. What is kept is packed, and small beside the pixels.
    """
    before = _kept.set({})
    try:
        yield
    finally:
        _kept.reset(before)


def kept_drawing(key: Hashable, draw: Callable[[], bytes]) -> bytes:
    """A packed drawing; ``key`` is all that it depends on."""
    kept = _kept.get()
    if kept is None:
        return draw()
    if key not in kept:
        kept[key] = draw()
    return kept[key]


def own_ppi(film: FilmSize, inches: tuple[float, float]) -> tuple[float, float]:
    """Pixels to the inch of the drawing, across and down, with its whole size given."""
    part = film.part
    return (
        film.width_px / (inches[0] * (part.right - part.left)),
        film.height_px / (inches[1] * (part.bottom - part.top)),
    )


# Width and height of the art in inches -> what it gets on film.
Sizing = Callable[[float, float], FilmSize]


def pixels_of(
    inches: tuple[float, float],
    *,
    sizing: Sizing | None,
    most_pixels: float,
    most_ppi: float = 1e9,
    name: str,
) -> FilmSize:
    """The pixels to draw with, and what of the drawing: the film's own, unless that is too many.

    Parameters
    ----------
    inches : the size that the drawing says it has
    sizing : what size it gets on film; None draws it at its own size with 300 ppi
    most_pixels, most_ppi : the bounds; what the film has more is enlarged from these

    Raises
    ------
    Refused
        damaged, where the size makes no sense; and what ``sizing`` raises.
    """
    width, height = inches
    if not (
        _SMALLEST_IN <= width <= _LARGEST_IN
        and _SMALLEST_IN <= height <= _LARGEST_IN
        and max(width, height) <= _MOST_LENGTHY * min(width, height)
    ):
        raise DrawingRefusal.NO_SUCH_SIZE.refused(
            name=name,
            width=f"{width:.5g}",
            width_mm=f"{width * MM_PER_INCH:.5g}",
            height=f"{height:.5g}",
            height_mm=f"{height * MM_PER_INCH:.5g}",
            smallest=f"{_SMALLEST_IN:g}",
            smallest_mm=f"{_SMALLEST_IN * MM_PER_INCH:.1g}",
            largest=f"{_LARGEST_IN:g}",
            largest_mm=f"{_LARGEST_IN * MM_PER_INCH:.5g}",
            times=_MOST_LENGTHY,
        )
    if sizing:
        film = sizing(width, height)
    else:
        film = FilmSize(round(width * _OWN_PPI), round(height * _OWN_PPI), _OWN_PPI)
    across, down = max(1, film.width_px), max(1, film.height_px)
    fine_enough = min(1.0, most_ppi / film.ppi)
    allowed = min((most_pixels / (across * down)) ** 0.5, _MOST_SIDE / max(across, down))
    if allowed < fine_enough:
        return replace(
            film, width_px=max(1, int(across * allowed)), height_px=max(1, int(down * allowed))
        )
    return replace(film, width_px=ceil(across * fine_enough), height_px=ceil(down * fine_enough))


class InkTest:
    """Turns drawn pixels into coded gray by the channel asked for.

    Parameters
    ----------
    channel : str
        As in the profile. With alpha the pixels must be drawn on nothing, else on white.
    """

    def __init__(self, channel: str) -> None:
        """Builds the tables."""
        self.alpha = channel == "alpha"
        self._tables = None if self.alpha else GrayTables(channel)

    def coded(self, pixels: UInt8Array) -> Codes:
        """(H, W, 4) uint8 R, G, B and opacity -> (H, W) uint16 coded gray."""
        if self._tables is None:
            return opacity_as_ink(pixels[..., 3])
        return self._tables.coded(pixels, alpha=False)


def shape_of_white(coded: Codes, opacity: Callable[[], Codes], notes: list[str]) -> Codes:
    """The art, or where only white would print of it, its opacity as ink, with a note.

    A page that is white all over stays as it is: some of it has to be opaque, and not all.

    coded : (H, W) uint16 sRGB-coded gray
    opacity : draws the opacity as ink, in the same size; asked for nothing but white art
    """
    if coded.min() < _WHITE_CODE:
        return coded
    shape = opacity()
    if not 0 < float((shape < WHITE // 2).mean()) < _MOST_OPAQUE:
        return coded
    notes.append(DrawingNote.SHAPE_OF_WHITE.say())
    return shape

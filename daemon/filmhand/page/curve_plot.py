"""Press curves as a picture: print tone over film tone, with what was read and older curves."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import numpy as np
from PIL import Image, ImageDraw

from filmhand.page.page_words import PlotWord
from filmhand.sheet.accents import draw_text, font_of, length_of
from filmhand.sheet.lettering import plain_text
from filmhand.tone import curve_through
from filmhand.values import dataclass

_SIDE, _LEFT, _TOP, _BELOW, _RIGHT = 640, 76, 84, 84, 30
_TWICE = 2  # drawn larger and reduced, so that slanted lines are smooth
_LETTERS, _LINE = 17, 23
_INK, _GRID, _QUIET = (25, 25, 25), (222, 222, 222), (150, 150, 150)
_NEWEST, _READ = (0, 90, 160), (190, 80, 0)
_OLDEST_GRAY = 205
_MOST_OLDER = 20
_EVERY = 10  # percent between two lines of the grid


@dataclass(frozen=True, slots=True)
class PlottedCurve:
    """One curve and what it was laid through, in percent.

    Attributes
    ----------
    points : film and print tones; film tones rise from 0 to 100
    tones : film tone, tone read, and its error
    """

    points: Sequence[tuple[float, float]]
    tones: Sequence[tuple[float, float, float]] = ()


def plot_curves(
    newest: PlottedCurve, *, lines: Sequence[str], older: Sequence[PlottedCurve] = ()
) -> bytes:
    """A PNG: the newest curve with its readings, older ones in gray, the older the lighter.

    Parameters
    ----------
    lines : what stands above, at most three lines
    older : the oldest first; of many the last ones
    """
    size = (_LEFT + _SIDE + _RIGHT, _TOP + _SIDE + _BELOW)
    picture = Image.new("RGB", (size[0] * _TWICE, size[1] * _TWICE), (255, 255, 255))
    draw = ImageDraw.Draw(picture)
    for value in range(0, 101, _EVERY):
        draw.line(_placed([(value, 0), (value, 100)]), _GRID, _TWICE)
        draw.line(_placed([(0, value), (100, value)]), _GRID, _TWICE)
    draw.line(_placed([(0, 0), (100, 100)]), _QUIET, _TWICE)
    for number, curve in enumerate(older[-_MOST_OLDER:]):
        share = (number + 1) / (min(len(older), _MOST_OLDER) + 1)
        gray = round(_OLDEST_GRAY * (1 - share) + 120 * share)
        draw.line(_placed(_line_of(curve)), (gray, gray, gray), 2 * _TWICE, joint="curve")
    draw.line(_placed(_line_of(newest)), _NEWEST, 3 * _TWICE, joint="curve")
    for film, read, error in newest.tones:
        draw.line(_placed([(film, read - error), (film, read + error)]), _READ, 2 * _TWICE)
        ((x, y),) = _placed([(film, read)])
        draw.ellipse((x - 3 * _TWICE, y - 3 * _TWICE, x + 3 * _TWICE, y + 3 * _TWICE), _READ)
    draw.rectangle([*_placed([(0, 100)])[0], *_placed([(100, 0)])[0]], outline=_INK, width=_TWICE)
    small = picture.resize(size, Image.Resampling.LANCZOS)
    _write_words(small, lines)
    stream = BytesIO()
    small.save(stream, "PNG", optimize=True)
    return stream.getvalue()


def _line_of(curve: PlottedCurve) -> list[tuple[float, float]]:
    press = curve_through(curve.points)
    pairs = np.column_stack([press.film, press.printed]) * 100
    return [(float(film), float(printed)) for film, printed in pairs]


def _placed(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Where percent lie on the larger picture; what was read past the ends stays inside it."""
    scale = _SIDE / 100
    return [
        (
            (_LEFT + film * scale) * _TWICE,
            (_TOP + (100 - min(max(printed, -5), 105)) * scale) * _TWICE,
        )
        for film, printed in points
    ]


def _write_words(picture: Image.Image, lines: Sequence[str]) -> None:
    draw, font = ImageDraw.Draw(picture), font_of(_LETTERS)

    def write(at: tuple[float, float], text: str) -> None:
        draw_text(draw, at, text, _INK, font, paper=(255, 255, 255))

    for number, line in enumerate(lines[:3]):
        write((_LEFT, 8 + number * _LINE), plain_text(line))
    for value in range(0, 101, 2 * _EVERY):
        text, at = f"{value}", value * _SIDE / 100
        width = length_of(text, font)
        write((_LEFT + at - width / 2, _TOP + _SIDE + 8), text)
        write((_LEFT - 10 - width, _TOP + _SIDE - at - _LETTERS * 0.6), text)
    for number, row in enumerate((PlotWord.AXES, PlotWord.COLORS)):
        write((_LEFT, _TOP + _SIDE + 10 + (number + 1) * _LINE), plain_text(row.say()))

"""The tones of a set's inks laid down on the sheets of its films."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np

from filmhand.arrays import UInt16Array
from filmhand.film.bits import BitSheet
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.press_curve import press_curve_of
from filmhand.pipeline.render.strips import AreaOfSheet, CutRows
from filmhand.pipeline.separation.geometry.film_bits import FilmToFill, ToneSource, fill_films
from filmhand.profile.model import Profile, ToneWishes
from filmhand.profile.terms import Treat
from filmhand.screen.screener import Screener
from filmhand.tone import FULL, Levels, tone_steps
from filmhand.values import dataclass


class NothingOfInkError(Exception):
    """Nothing of the art prints in these inks."""

    def __init__(self, *names: str) -> None:
        super().__init__(*names)
        self.names = names


@dataclass(frozen=True, slots=True)
class FilledFilm:
    """The bits of one film.

    Attributes
    ----------
    bits : its sheet
    beside_tints : rows that are True where the ink is solid or is not, and False in its tints; None
        where all of the film, or nothing of it, is a tint
    """

    bits: BitSheet
    beside_tints: CutRows | None = None


@dataclass(frozen=True, slots=True)
class _Turned:
    """The tones of a negative."""

    source: ToneSource

    def tones(self, first: int, count: int) -> UInt16Array:
        return np.uint16(FULL) - self.source.tones(first, count)


def filled_films(
    works: Sequence[FilmInWork], source: ToneSource, sheet: Path, stack: ExitStack
) -> list[FilledFilm]:
    """The films of a set.

    Parameters
    ----------
    works : in print order
    source : of the tones of as many inks
    sheet : what the files are named after that hold the bits
    stack : closes and removes them

    Raises
    ------
    NothingOfInkError
        where films would be bare
    """
    filled, films = [], []
    for number, work in enumerate(works, 1):
        path = sheet.with_name(f"{sheet.name}-{number}")
        bits = _sheet_of(work, path, stack)
        area, screener, beside = work.area, None, None
        if work.tile is not None:
            screener = Screener(work.tile, column=area.left, width=area.width)
        if work.treated is Treat.MIXED:
            # Whoever looks for strokes asks for the same rows many times.
            kept = _sheet_of(work, path.with_name(f"{path.name}-beside-tints"), stack)
            beside = AreaOfSheet(kept, area)
        curve = None if screener is None else _film_curve(work.profile)
        films.append(FilmToFill(AreaOfSheet(bits, area), screener, curve, beside))
        filled.append(FilledFilm(bits, None if beside is None else _rows_of(beside)))
    negative = works[0].profile.film.negative
    fill_films(films, _Turned(source) if negative else source, threads=works[0].request.threads)
    bare = [
        work.of_set.ink.name
        for work, film in zip(works, films, strict=True)
        if work.of_set is not None and not _prints(film.area, ink=not negative)
    ]
    if bare:
        raise NothingOfInkError(*bare)
    return filled


def _sheet_of(work: FilmInWork, path: Path, stack: ExitStack) -> BitSheet:
    size = work.layout.sheet
    stack.callback(path.unlink, missing_ok=True)
    return stack.enter_context(BitSheet.create(path, width=size.width, height=size.height))


def _rows_of(area: AreaOfSheet) -> CutRows:
    return lambda first, count: area.read(first, first + count)


def _prints(area: AreaOfSheet, *, ink: bool) -> bool:
    """Whether the film has any ink, or of a negative anything clear."""
    return any(
        bool((area.read(first, min(first + 512, area.area.height)) == ink).any())
        for first in range(0, area.area.height, 512)
    )


def _film_curve(profile: Profile) -> UInt16Array | None:
    """From the printed tone that is wanted to that of the film; None where they are the same.

    Of a negative both are turned, and the press adds to what is clear. What changes the art's tones
    as a whole has no place here: it would change how inks mix.
    """
    hold = profile.tone.hold
    if not profile.tone.gain and not profile.tone.dropout and not isinstance(hold, tuple):
        return None
    wishes = replace(ToneWishes(), dropout=profile.tone.dropout, hold=hold)
    negative, press = profile.film.negative, press_curve_of(profile)
    steps = tone_steps(wishes, levels=Levels(), negative=negative, press=press)
    printed = np.arange(FULL + 1) / FULL
    wanted = steps(1 - printed if negative else printed)
    curve: UInt16Array = np.rint(wanted * FULL).astype(np.uint16)
    return curve

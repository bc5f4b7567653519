"""The film of ``filmhand ruler``: what a steel rule reads on it becomes ``print.scale``."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.film.formats import Format
from filmhand.pipeline.film_language import in_film_language
from filmhand.pipeline.printer_films.drawn_film import write_drawn_film
from filmhand.pipeline.printer_films.printer_film_words import PrinterFilmRefusal, RulerFilmWord
from filmhand.profile.model import Profile
from filmhand.sheet.layout import sheet_boxes
from filmhand.sheet.long_ruler import READS_TO_MM, long_bars
from filmhand.units import size_text


def unscaled(profile: Profile) -> Profile:
    """The profile without its printer's scale."""
    if profile.print is None:
        return profile
    return replace(profile, print=replace(profile.print, scale=(1.0, 1.0)))


def make_ruler(profile: Profile, scratch: Path) -> tuple[dict[Format, Path], dict[str, Any]]:
    """Write the film as ``film.*`` in a scratch folder, and tell how long its bars are.

    Raises
    ------
    Refused
        where the sheet has no room for bars of 10 mm
    """
    plain = unscaled(profile)
    _, printable, _, _ = sheet_boxes(plain)
    with in_film_language(profile):
        bars = long_bars(printable, profile.dpi, partial(_words, profile))
    if bars is None:
        sheet = size_text(profile.sheet.mm, profile.sheet, decimals=1)
        raise PrinterFilmRefusal.NO_BARS.refused(profile=profile.name, sheet=sheet)
    return write_drawn_film(plain, bars.marks, scratch), {
        "across_mm": bars.across_mm,
        "down_mm": bars.down_mm,
        "reads_to_pct": [
            round(100 * READS_TO_MM / length, 2) for length in (bars.across_mm, bars.down_mm)
        ],
        "scale_now_pct": [round(100 * one, 6) for one in profile.scale],
    }


def _words(profile: Profile, across: int, down: int) -> list[str]:
    """What stands on the film, for bars of so many millimeters."""
    sheet = size_text(profile.sheet.mm, profile.sheet, decimals=1)
    title = RulerFilmWord.TITLE.say(
        profile=profile.name, sheet=sheet, dpi=profile.dpi, version=__version__
    )
    return [
        title,
        RulerFilmWord.WHOLE_SCALE.say(),
        RulerFilmWord.PRINT_IT.say(),
        RulerFilmWord.ACROSS.say(across=across),
        RulerFilmWord.DOWN.say(down=down),
        RulerFilmWord.SCALE.say(across=across, down=down),
        RulerFilmWord.WRITE_IT.say(),
    ]

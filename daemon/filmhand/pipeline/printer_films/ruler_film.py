"""The film of ``filmhand ruler``: what a steel rule reads on it becomes ``print.scale``."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.errors import Reason, Refused
from filmhand.film.formats import Format
from filmhand.pipeline.printer_films.drawn_film import write_drawn_film
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
    bars = long_bars(printable, profile.dpi, partial(_words, profile))
    if bars is None:
        raise Refused(
            Reason.TOO_BIG,
            f"The sheet of {profile.name} has no room for two bars of 10 mm.",
            "Make the ruler film with a profile of the same printer that has a larger sheet.",
        )
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
    return [
        f"RULER FILM of profile {profile.name}: {sheet}, {profile.dpi} dpi, filmhand {__version__}",
        "Made without print.scale: what you measure is the whole scale and replaces an older one.",
        "1. Print at 100 %, not fitted to the page, on the film you use. Let it cool and lie flat.",
        "2. Across: lay a steel rule along the upper bar; measure from the left edge of line 0 to "
        f"the left edge of line {across}.",
        "3. Down: lay it along the left bar; measure from the upper edge of line 0 to the upper "
        f"edge of line {down}.",
        f"4. Scale across = measured mm x 100 / {across}. Scale down = measured mm x 100 / {down}.",
        "5. Write both into the profile, across first: print: {scale: [99.6 %, 100.2 %]}",
    ]

"""How the printer's scale and stacked films are told, on the film, beside it and in records."""

from __future__ import annotations

from filmhand.language import Sentence
from filmhand.profile.model import Profile


class PrinterFact(Sentence):
    """What is told of the printer that a film is for."""

    DPI = "{dpi} dpi"
    DPI_AND_SCALE = "{dpi} dpi, scale {across} x {down} % taken off"
    SCALE = (
        "This printer's film measures {across} % across and {down} % down (print.scale). That was "
        "taken off art, marks and screen, so all lengths are right on the acetate where the file "
        "is printed at 100 %."
    )
    STACK = (
        "film.stack: {count} such films are laid on one another, with their four crosses in "
        "register, to make one that is black enough. The printer gets it {count} times."
    )
    STACK_BY_HAND = (
        "film.stack: {count} such films are laid on one another, with their four crosses in "
        "register, to make one that is black enough. The file is one page: print it {count} times."
    )


def dpi_words(profile: Profile) -> str:
    """The printer's resolution, and what was taken off for its scale."""
    if profile.scale == (1.0, 1.0):
        return PrinterFact.DPI.say(dpi=profile.dpi)
    across, down = _shown_scale(profile)
    return PrinterFact.DPI_AND_SCALE.say(dpi=profile.dpi, across=across, down=down)


def scale_pct(profile: Profile) -> list[float]:
    """What 100 % across and down measure on the printer's film, in percent."""
    return [round(100 * one, 6) for one in profile.scale]


def _shown_scale(profile: Profile) -> list[str]:
    return [f"{one:g}" for one in scale_pct(profile)]


def printer_notes(profile: Profile) -> list[str]:
    """What is to be known of a film before it is printed or laid on another."""
    notes = []
    if profile.scale != (1.0, 1.0):
        across, down = _shown_scale(profile)
        notes.append(PrinterFact.SCALE.say(across=across, down=down))
    count = profile.film.stack
    if count > 1:
        by_hand = profile.print is None or profile.print.printer is None
        said = PrinterFact.STACK_BY_HAND if by_hand else PrinterFact.STACK
        notes.append(said.say(count=count))
    return notes

"""How the printer's scale and stacked films are told, on the film, beside it and in records."""

from __future__ import annotations

from filmhand.profile.model import Profile


def dpi_words(profile: Profile) -> str:
    """The printer's resolution, and what was taken off for its scale."""
    words = f"{profile.dpi} dpi"
    if profile.scale != (1.0, 1.0):
        across, down = scale_pct(profile)
        words += f", scale {across:g} x {down:g} % taken off"
    return words


def scale_pct(profile: Profile) -> list[float]:
    """What 100 % across and down measure on the printer's film, in percent."""
    return [round(100 * one, 6) for one in profile.scale]


def printer_notes(profile: Profile) -> list[str]:
    """What is to be known of a film before it is printed or laid on another."""
    notes = []
    if profile.scale != (1.0, 1.0):
        across, down = scale_pct(profile)
        notes.append(
            f"This printer's film measures {across:g} % across and {down:g} % down "
            "(print.scale). That was taken off art, marks and screen, so all lengths are right on "
            "the acetate where the file is printed at 100 %."
        )
    count = profile.film.stack
    if count > 1:
        by_hand = profile.print is None or profile.print.printer is None
        sheets = (
            f"The file is one page: print it {count} times."
            if by_hand
            else (f"The printer gets it {count} times.")
        )
        notes.append(
            f"film.stack: {count} such films are laid on one another, with their four crosses in "
            f"register, to make one that is black enough. {sheets}"
        )
    return notes

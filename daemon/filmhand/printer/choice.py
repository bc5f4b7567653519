"""Which job a film becomes at a printer, or one sentence why it becomes none. Nothing is sent."""

from __future__ import annotations

from filmhand.printer.capabilities import Capabilities
from filmhand.printer.print_request import FilmSheet, PrintJobRequest
from filmhand.profile.printing import PrintWishes


def choose_job(
    can: Capabilities,
    film: FilmSheet,
    wishes: PrintWishes,
    *,
    name: str,
    person: str | None = None,
    copies: int | None = None,
) -> PrintJobRequest:
    """The job for this film, of exactly its bits.

    `copies` are those of the film, the profile's where None.

    Raises
    ------
    PrinterTrouble
        STOPPED, OTHER_SHEET (both pass) or UNABLE, in this order of what is looked at last; always
        with `nothing_sent`.
    """
    raise NotImplementedError

"""What the steps of an order ask of a printer, in their own few words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from filmhand.errors import FilmhandError
from filmhand.jobs.print_order import Order


class PrinterPause(FilmhandError):
    """The printer cannot be worked with for now: it is off, busy, out of film, or stops.

    `nothing_sent` is True where it is certain that no document has left.
    """

    def __init__(self, why: str, *, nothing_sent: bool = False) -> None:
        super().__init__(why)
        self.why, self.nothing_sent = why, nothing_sent


class OrderHeld(FilmhandError):
    """This film cannot be printed as things are, though another might be; nothing was sent."""


class Phase(StrEnum):
    """How far the printer is with a job."""

    WAITING = "waiting"
    PRINTING = "printing"
    STOPPED = "stopped"
    PRINTED = "printed"
    CANCELED = "canceled"
    ABORTED = "aborted"


ENDED = frozenset({Phase.PRINTED, Phase.CANCELED, Phase.ABORTED})


@dataclass(frozen=True, slots=True)
class JobSeen:
    """What the printer tells of a job.

    `empty`: it has no document, so that nothing was printed of it. False also where the printer
    does not say. `why` are the printer's reasons in words, or nothing.
    """

    number: int
    phase: Phase
    empty: bool
    why: str = ""


class Talk(Protocol):
    """One printer, for the orders of one profile; every method may raise PrinterPause."""

    def choose(self, order: Order) -> None:
        """Ask what the printer can do and hold it against the film; OrderHeld if it does not do."""

    def find(self, name: str) -> list[JobSeen]:
        """The printer's jobs of this name, ended ones too where it still knows them."""

    def create(self, order: Order) -> int | None:
        """Make a job without a document; None if the printer takes jobs only whole."""

    def send(self, order: Order) -> int:
        """Send the document of the order's job, or a whole job; the number of the job."""

    def seen(self, number: int) -> JobSeen | None:
        """How far the job is; None if the printer does not know it."""

    def cancel(self, number: int) -> None:
        """Ask the printer to print it no further; nothing happens to a job that has ended."""

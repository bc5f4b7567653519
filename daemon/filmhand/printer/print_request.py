"""The values that go to and come from a printer, without any word of its protocol."""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import BinaryIO, Protocol

from filmhand.printer.capabilities import Capabilities
from filmhand.units import Resolution
from filmhand.values import dataclass

PWG, PDF = "image/pwg-raster", "application/pdf"


@dataclass(frozen=True, slots=True)
class FilmSheet:
    """What a printer must be able to lay down.

    Attributes
    ----------
    width, height : of the sheet as it prints, 1/100 mm
    margin : that filmhand leaves clear; top, right, bottom, left, 1/100 mm
    dpi : of the film
    formats : of the documents that there are, "image/pwg-raster" or "application/pdf"
    in_inches : the sheet is written in inches, and so are lengths that people read
    """

    width: int
    height: int
    margin: tuple[int, int, int, int]
    dpi: Resolution
    formats: tuple[str, ...] = (PWG, PDF)
    in_inches: bool = False


@dataclass(frozen=True, slots=True)
class PrintJobRequest:
    """One job, chosen for one printer: all that is sent beside the document.

    Attributes
    ----------
    name : the job's name there
    document_format : which document to send
    size : of the media, across and along the feed, 1/100 mm
    media_name : the keyword of the media, where the printer knows media by that alone
    media_margins : top, right, bottom, left, that the printer shall keep, 1/100 mm; None: not sent
    media_type, media_source : None: not sent
    copies, quality, resolution, color_mode, scaling, sides : None: not sent, since it lists none
    warnings : plain sentences; the film goes all the same
    """

    name: str
    document_format: str
    size: tuple[int, int]
    media_name: str | None = None
    media_margins: tuple[int, int, int, int] | None = None
    media_type: str | None = None
    media_source: str | None = None
    copies: int | None = None
    quality: int | None = None
    resolution: Resolution | None = None
    color_mode: str | None = None
    scaling: str | None = None
    sides: str | None = None
    warnings: tuple[str, ...] = ()


class JobState(IntEnum):
    """The states of a job (RFC 8011, section 5.3.7)."""

    PENDING = 3
    HELD = 4
    PROCESSING = 5
    STOPPED = 6
    CANCELED = 7
    ABORTED = 8
    COMPLETED = 9

    @property
    def ended(self) -> bool:
        """True if nothing more will be printed of it."""
        return self >= JobState.CANCELED


@dataclass(frozen=True, slots=True)
class JobStatus:
    """What a printer tells of a job.

    Attributes
    ----------
    number, name, state : as the printer has them
    empty : it certainly holds no document, and nothing was printed of it
    why : the reasons of job and printer in plain words, the gravest first; may be empty
    film_low : it says that a tray will soon be empty, and goes on
    """

    number: int
    name: str
    state: JobState
    empty: bool
    why: str = ""
    film_low: bool = False


class Printer(Protocol):
    """One printer; every method may raise PrinterTrouble."""

    def capabilities(self) -> Capabilities:
        """What it can do, and how it is now."""

    def create(self, job: PrintJobRequest) -> int | None:
        """Make a job without a document, and give its number; None if it takes only whole jobs."""

    def send(
        self,
        number: int | None,
        job: PrintJobRequest,
        document: BinaryIO,
        size: int,
        seen: Callable[[JobStatus], None] = lambda status: None,
    ) -> int:
        """Send the document of `size` bytes into the job; without a number, a whole job.

        The job's number. A PrinterTrouble with `nothing_sent` says that nothing will be printed.
        A printer may take a document no faster than it prints: meanwhile `seen` is told how far
        the job is, every half minute in which nothing goes.
        """

    def job(self, number: int) -> JobStatus | None:
        """How far the job is; None if the printer does not know it."""

    def find(self, name: str) -> list[JobStatus]:
        """The jobs of exactly this name, ended ones too where it still knows them, newest first."""

    def cancel(self, number: int) -> None:
        """Ask for the job to be canceled; nothing happens if it has ended or is not known."""


OpenPrinter = Callable[[str, str | None], Printer]
"""Of an address and the SHA-256 of a certificate, or None."""

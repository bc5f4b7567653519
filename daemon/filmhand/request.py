"""What a job is given and what it gives back: one type each, from the queue to the pipeline.

Imports no array library, so that every room may use it. :mod:`filmhand.worker.wire` has the JSON.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from enum import StrEnum
from pathlib import Path
from typing import Any

from filmhand.errors import Refused
from filmhand.film.formats import Format
from filmhand.profile.model import Profile
from filmhand.values import dataclass

LARGEST_FILE = 4 * 2**30
"""Bytes of the largest file that a job may write."""

READING_ENDS = (".txt", ".json", ".png")
"""The endings of what is kept of a wedge that was read: curve, figures and plot."""

ArtSize = tuple[int, int]
"""Width and height of art on film, in device pixels."""


class Step(StrEnum):
    """What is being done to a film; ``begins`` is how much of the work then lies behind, 0 .. 1.

    The shares are about those of usual jobs, and only for people to see.
    """

    begins: float

    def __new__(cls, name: str, begins: float) -> Step:
        """A member that is its name."""
        member = str.__new__(cls, name)
        member._value_ = name
        member.begins = begins
        return member

    READING = ("reading", 0.0)
    SCREENING = ("screening", 0.3)
    MEASURING = ("measuring", 0.5)
    WRITING = ("writing", 0.75)


TellProgress = Callable[[Step, float], None]
"""Takes the step and how much of the whole work lies behind, 0 .. 1."""


def tell_nobody(step: Step, behind: float) -> None:
    """Progress that nobody asked for."""


@dataclass(frozen=True, slots=True)
class JobRequest:
    """One art and everything needed to make its films.

    Attributes
    ----------
    art : the customer's file, or a copy of it
    name : its own name, for label and record
    sub : the sub-folder of the drop folder that it lay in, as people may see it; a person or class
    profile : the profile that the job was taken with
    out : an existing folder for what is made
    scratch : an existing folder on a local disk for what is needed only meanwhile
    ticket, mask : the files beside the art, where there are any
    threads : how many strips may be worked on at once
    job : the job's id, for whoever asked
    tiles : a folder on a local disk where threshold tiles are kept between jobs, or None
    workers : the engine that makes the films, as a profile names it; None for this computer
    documents : whether the printer's documents are wanted where the profile names a printer
    is_scan : whether the art is the scan of a wedge, which is read instead of made a film of
    earlier : figures of scans that came shortly before, to be read together with this one
    progress : is told how far the work is
    """

    art: Path
    name: str
    profile: Profile
    out: Path
    scratch: Path
    ticket: Path | None = None
    mask: Path | None = None
    threads: int = 1
    job: str = ""
    tiles: Path | None = None
    workers: str | None = None
    documents: bool = False
    sub: str = ""
    is_scan: bool = False
    earlier: tuple[Path, ...] = ()
    progress: TellProgress = field(default=tell_nobody, compare=False, repr=False)

    @property
    def shown(self) -> str:
        """The art's name with its sub-folder."""
        return f"{self.sub}/{self.name}" if self.sub else self.name


@dataclass(frozen=True, slots=True)
class PrintWork:
    """What a printer gets of one film, and what it must be able to do.

    Attributes
    ----------
    documents : the film's bits in each form that a printer may take
    sheets : how many are laid down, stack and copies counted
    size : width and height of the sheet, 1/100 mm
    margin : what the printer cannot reach at the top, right, bottom and left, 1/100 mm
    dpi : across and down
    """

    documents: dict[Format, Path]
    sheets: int
    size: tuple[int, int]
    margin: tuple[int, int, int, int]
    dpi: tuple[int, int]


@dataclass(frozen=True, slots=True)
class FinishedFilm:
    """One film: its files, its proof, and its record without the names it is published under.

    ``suffix`` is ``-p01`` and so on where the art has several pages, and ``-r1c2`` (row and column)
    where it goes over several films, and ``-2-red`` (print order and ink) behind that of its page
    for a film of a set; else empty. ``printing`` is None where no printer is named.
    """

    suffix: str
    files: dict[Format, Path]
    proof: Path
    record: dict[str, Any]
    printing: PrintWork | None = None


@dataclass(frozen=True, slots=True)
class FinishedSet:
    """What the films of one set have in common: the proof that shows all of it.

    ``suffix`` is that of the page which the set is of, else empty; the suffixes of its films begin
    with it.
    """

    suffix: str
    proof: Path


@dataclass(frozen=True, slots=True)
class JobResult:
    """All films of one job, in the order of pages, rows and columns, and of inks in print order.

    ``sets`` are those that the films belong to, one a page; empty where films have no inks.
    ``reading`` is what was read of the scan of a wedge, by ending; there are no films then.
    """

    films: list[FinishedFilm] = field(default_factory=list)
    sets: list[FinishedSet] = field(default_factory=list)
    reading: dict[str, Path] = field(default_factory=dict)


@dataclass(slots=True)
class GangResult:
    """What became of each art of a shared sheet, by its number among the requests.

    Attributes
    ----------
    placed : those on the sheet; the files of all are the same, the sheet's
    refused : those that get no film, on their own grounds
    alone : those that cannot share a sheet, and why
    left : those for which there was no room; they want another sheet
    """

    placed: dict[int, FinishedFilm] = field(default_factory=dict)
    refused: dict[int, Refused] = field(default_factory=dict)
    alone: dict[int, str] = field(default_factory=dict)
    left: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class SheetSpace:
    """What a measuring found: the size of each art, None for art that will share no sheet.

    ``chosen`` are the numbers of those that find room on one sheet.
    """

    sizes: list[ArtSize | None] = field(default_factory=list)
    chosen: list[int] = field(default_factory=list)

    @property
    def full(self) -> bool:
        """True if somebody finds no room."""
        return len(self.chosen) < sum(size is not None for size in self.sizes)

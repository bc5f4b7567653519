"""What a job is given and what it gives back."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from filmhand.film.formats import Format
from filmhand.profile.model import Profile


@dataclass(frozen=True, slots=True)
class JobRequest:
    """One art and everything needed to make its films.

    Attributes
    ----------
    art : the customer's file, or a copy of it
    name : its own name, for label and record
    profile : the profile that the job was taken with
    ticket, mask : the files beside the art, where there are any
    out : an existing folder for what is made
    scratch : an existing folder on a local disk for what is needed only meanwhile
    threads : how many strips may be worked on at once
    job : the job's id, for whoever asked
    tiles : a folder on a local disk where threshold tiles are kept between jobs, or None
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


@dataclass(frozen=True, slots=True)
class FinishedFilm:
    """One film: its files, its proof, and its record without the names it is published under.

    ``suffix`` is ``-p01`` and so on where the art has several pages, and ``-r1c2`` (row and column)
    where it goes over several films; else empty.
    """

    suffix: str
    files: dict[Format, Path]
    proof: Path
    record: dict[str, Any]


@dataclass(frozen=True, slots=True)
class JobResult:
    """All films of one job, in the order of pages, rows and columns."""

    films: list[FinishedFilm] = field(default_factory=list)

"""The tools that a job is worked with: folders, ledger, renderer, clock, log.

The renderer and the two writers of text are passed in, so that the spool knows nothing of images.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError, Refused
from filmhand.jobs.film_names import Stems
from filmhand.jobs.ledger import Ledger
from filmhand.worker.gang import GangOutcome, SheetSpace, Size

MAX_STRIKES = 3


@dataclass(frozen=True, slots=True)
class RenderOrder:
    """What the renderer gets: local copies, never the customer's own files."""

    art: Path
    name: str
    profile: dict[str, Any]
    ticket: Path | None
    mask: Path | None
    out: Path
    scratch: Path
    job: str
    workers: str | None = None  # the cluster that makes the films; None: this computer


class RenderedFilm(Protocol):
    """One finished film in `out`, whose record lacks only names, time, job and earlier film."""

    @property
    def suffix(self) -> str:
        """Empty, or -p01 and so on."""

    @property
    def files(self) -> dict[str, Path]:
        """The file of each format."""

    @property
    def proof(self) -> Path:
        """The small picture."""

    @property
    def record(self) -> dict[str, Any]:
        """The record to complete."""


class JobLost(FilmhandError):
    """The job's folder is gone: another host has taken it over."""


@dataclass(slots=True)
class JobContext:
    """Everything that a job needs besides itself."""

    folders: Folders
    host: str
    ledger: Ledger
    scratch: Path
    render: Callable[[RenderOrder], list[RenderedFilm]]
    why_note: Callable[[str, Refused], str]
    render_gang: Callable[[list[RenderOrder]], GangOutcome] | None = None
    room: Callable[[list[RenderOrder], dict[int, Size | None]], SheetSpace] | None = None
    shared: Callable[[], bool] = lambda: False  # True while other hosts use the folder
    workers: Callable[[], str | None] = lambda: None  # the cluster to make films on, if any
    died: Callable[[], None] = lambda: None  # hears of every worker that died over art
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    say: Callable[..., None] = field(default=lambda event, **facts: None)
    stems: Stems = field(default_factory=Stems)

    @property
    def own(self) -> Path:
        """This host's folder of jobs in hand."""
        return self.folders.hidden / self.host

"""The tools that a job is worked with: folders, ledger, renderer, clock, log.

The renderer and the two writers of text are passed in, so that the spool knows nothing of images.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError, Refused
from filmhand.jobs.film_names import Stems
from filmhand.jobs.ledger import Ledger
from filmhand.profile.model import Profile
from filmhand.profile.read.load import from_snapshot
from filmhand.request import ArtSize, GangResult, JobRequest, JobResult, SheetSpace

MAX_STRIKES = 3


class JobLost(FilmhandError):
    """The job's folder is gone: another host has taken it over."""


@dataclass(slots=True)
class JobContext:
    """Everything that a job needs besides itself."""

    folders: Folders
    host: str
    ledger: Ledger
    scratch: Path
    render: Callable[[JobRequest], JobResult]
    why_note: Callable[[str, Refused], str]
    render_gang: Callable[[list[JobRequest]], GangResult] | None = None
    room: Callable[[list[JobRequest], dict[int, ArtSize | None]], SheetSpace] | None = None
    profile_of: Callable[[dict[str, Any]], Profile] = from_snapshot
    shared: Callable[[], bool] = lambda: False  # True while other hosts use the folder
    workers: Callable[[], str | None] = lambda: None  # the cluster to make films on, if any
    log: Path | None = None  # where the details of failures are
    died: Callable[[], None] = lambda: None  # hears of every worker that died over art
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    say: Callable[..., None] = field(default=lambda event, **facts: None)
    stems: Stems = field(default_factory=Stems)

    @property
    def own(self) -> Path:
        """This host's folder of jobs in hand."""
        return self.folders.hidden / self.host

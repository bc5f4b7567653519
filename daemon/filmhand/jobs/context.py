"""What a job is worked with: folders, ledger, renderer, clock, log.

The renderer and the two writers of text are passed in, so that the spool knows nothing of images.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, hosts_in
from filmhand.errors import FilmhandError, Refused
from filmhand.jobs.film_names import Stems
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.sheets import SheetCount
from filmhand.profile.model import Profile
from filmhand.profile.printing import Budget
from filmhand.profile.read.load import from_snapshot
from filmhand.request import ArtSize, GangResult, JobRequest, JobResult, SheetSpace, Step
from filmhand.values import dataclass

MAX_STRIKES = 3


class JobLost(FilmhandError):
    """The job's folder is gone: another host has taken it over."""


class JobSetAside(JobLost):
    """The job's folder turned out to hold what no job of filmhand can, and was set aside."""


@dataclass(slots=True)
class JobCounts:
    """What has been done since the start; `seconds` of the jobs that ended. Several threads count.

    `strikes` are the workers that died over art; `rendered` and `rendering` tell of how many
    files films were made, held or not, from the art on and in one go, and the seconds of that.
    """

    made: int = 0
    refused: int = 0
    seconds: float = 0.0
    strikes: int = 0
    rendered: int = 0
    rendering: float = 0.0
    _lock: threading.Lock = field(default_factory=threading.Lock, repr=False, compare=False)

    def add(
        self, *, made: bool = False, refused: bool = False, seconds: float = 0.0, strikes: int = 0
    ) -> None:
        """Count what has just happened."""
        with self._lock:
            self.made += made
            self.refused += refused
            self.seconds += seconds
            self.strikes += strikes

    def add_rendered(self, seconds: float, arts: int = 1) -> None:
        """Count art that was worked on from the start; the release of a held film is none."""
        with self._lock:
            self.rendered += arts
            self.rendering += seconds

    def usual(self) -> float | None:
        """Seconds that the films of a file take on average; None before any were made."""
        with self._lock:
            return round(self.rendering / self.rendered, 2) if self.rendered else None


@dataclass(slots=True)
class LiveSettings:
    """What may change while jobs are worked on: the queue sets it, jobs only read it."""

    workers: str | None = None  # the cluster that films are made on; None: this computer
    # Why files in a job's hands have not come to rest; empty once they have.
    why_wait: Callable[[list[Beneath]], str] = lambda paths: ""
    # Told of each job's progress.
    progress: Callable[[str, Step, float], None] = lambda job, step, behind: None
    budget: Budget | None = None  # sheets a day, as the profile says it now
    discards: frozenset[str] = frozenset()  # held jobs that somebody gives up


class WhyNote(Protocol):
    """The note beside a refused file, by its name as it is shown."""

    def __call__(self, name: str, refused: Refused, *, is_scan: bool) -> str:
        """All of its text; is_scan: it is the scan of a wedge."""


@dataclass(frozen=True, slots=True)
class JobContext:
    """Everything that a job needs besides itself."""

    folders: Folders
    host: str
    ledger: Ledger
    scratch: Path
    render: Callable[[JobRequest], JobResult]
    why_note: WhyNote
    render_gang: Callable[[list[JobRequest]], GangResult] | None = None
    room: Callable[[list[JobRequest], dict[int, ArtSize | None]], SheetSpace] | None = None
    profile_of: Callable[[dict[str, Any]], Profile] = from_snapshot
    log: Path | None = None  # where the details of failures are
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    say: Callable[..., None] = field(default=lambda event, **facts: None)
    stems: Stems = field(default_factory=Stems)
    live: LiveSettings = field(default_factory=LiveSettings)
    counts: JobCounts = field(default_factory=JobCounts)
    sheets: SheetCount = field(init=False)
    publishing: threading.Lock = field(default_factory=threading.Lock)  # of one job at a time

    def __post_init__(self) -> None:
        object.__setattr__(self, "sheets", SheetCount(self.folders, self.host))

    @property
    def own(self) -> Beneath:
        """This host's folder of jobs in hand."""
        return self.folders.hidden / self.host

    def shared(self) -> bool:
        """True while other hosts use the folder. OSError if it is not there."""
        return bool(hosts_in(self.folders.hidden, besides=self.host))

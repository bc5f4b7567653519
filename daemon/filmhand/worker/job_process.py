"""The process of one job as its parent sees it, whichever way it was started."""

from __future__ import annotations

from pathlib import Path
from typing import IO, Protocol

from filmhand.worker.process import CHILD


class JobProcess(Protocol):
    """A process in a session of its own, with three pipes."""

    @property
    def pid(self) -> int:
        """Its number, which is also that of its process group."""

    @property
    def parent(self) -> int:
        """The number of the process that it must not outlive."""

    @property
    def returncode(self) -> int | None:
        """Its exit code, or below zero the number of the signal that ended it.

        None as long as its end has not been seen here.
        """

    @property
    def stdin(self) -> IO[bytes] | None:
        """What is written here it reads."""

    @property
    def stdout(self) -> IO[bytes] | None:
        """Its answer."""

    @property
    def stderr(self) -> IO[bytes] | None:
        """All else that it says."""

    def poll(self) -> int | None:
        """The exit code, if it has ended."""

    def wait(self, timeout: float) -> int:
        """The exit code; raises subprocess.TimeoutExpired if it has not ended by then."""

    def kill_group(self) -> None:
        """End it and all that it started, if anything of it still runs."""

    def reap(self) -> None:
        """See the end of one that has been ended."""


class StartProcess(Protocol):
    """How the process of a job is started."""

    def __call__(self, folder: Path, *, module: str = CHILD) -> JobProcess:
        """Run a module as a program in a folder, which is also its place for temporary files.

        Raises EnvironmentTrouble where this computer cannot start another process.
        """

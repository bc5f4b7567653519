"""Where films are made: what every engine can do, and the engine of this computer.

Another kind of engine is one module with a class of this shape, and its row in
:mod:`filmhand.service.rendering`.
"""

from __future__ import annotations

from typing import Protocol

from filmhand.request import JobRequest, JobResult
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.parent import WorkerLimits, Workers, run_in_worker


class Engine(Protocol):
    """Makes the films of one job after another, for several threads at once."""

    def run(self, request: JobRequest, *, limits: WorkerLimits, workers: Workers) -> JobResult:
        """Have one job done; raises as :func:`filmhand.worker.parent.run_in_worker`."""

    def room(self) -> int:
        """How many jobs it is worth handing over at once, as far as is known."""

    def close(self) -> None:
        """Let go of whatever it holds on to."""


class LocalEngine:
    """Processes of this computer, as many at once as it was made for."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._forks = ForkServer()
        self.start = self._forks.start

    def warm(self) -> None:
        """Get ready for the first job, without waiting for it."""
        self._forks.warm()

    def run(self, request: JobRequest, *, limits: WorkerLimits, workers: Workers) -> JobResult:
        """Have one job done in a process of its own."""
        return run_in_worker(request, limits=limits, workers=workers, start=self.start)

    def room(self) -> int:
        """Its size."""
        return self._size

    def close(self) -> None:
        """End the process that forks jobs, with whatever still runs."""
        self._forks.close()

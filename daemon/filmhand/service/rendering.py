"""Films for the jobs of a service: by which engine, with which limits, how many at once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from filmhand.cluster.scheduler import Cluster
from filmhand.errors import ProfileError
from filmhand.profile.model import Profile
from filmhand.profile.read.load import from_snapshot
from filmhand.request import ArtSize, GangResult, JobRequest, JobResult, SheetSpace
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.worker.cores import threads_within, usable_cores
from filmhand.worker.engine import Engine, LocalEngine
from filmhand.worker.parent import WorkerLimits, Workers, run_gang, run_sheet_space

# By what stands before :// in `workers`, which profile/read/values.py reads.
KINDS: dict[str, Callable[[str], Engine]] = {"dask": Cluster, "dask+tls": Cluster}


class Engines:
    """The engines that profiles name; each is made when it is first asked for."""

    def __init__(self, size: int) -> None:
        self._lock = threading.Lock()
        self.here = LocalEngine(size)
        self._known: dict[str | None, Engine] = {None: self.here}

    def at(self, workers: str | None) -> Engine:
        """The engine of a profile; None is this computer. The same one each time."""
        with self._lock:
            engine = self._known.get(workers)
            if engine is None:
                assert workers is not None
                engine = self._known[workers] = KINDS[workers.partition("://")[0]](workers)
            return engine

    def close(self) -> None:
        """Let go of all of them."""
        with self._lock:
            known = list(self._known.values())
        for engine in known:
            engine.close()


class Rendering:
    """Hands requests to engines; raises as :func:`filmhand.worker.parent.run_in_worker`.

    Parameters
    ----------
    more : whether another job could be begun here at once
    """

    def __init__(
        self,
        state: Path,
        registry: ProfileRegistry,
        workers: Workers,
        more: Callable[[], bool] = lambda: False,
    ) -> None:
        self._more = more
        self._tiles = state / "tiles"
        self._registry = registry
        self._workers = workers
        self._cores = usable_cores()
        size = max(2, self._cores)
        self.engines = Engines(size)
        self._lock = threading.Lock()
        self._at_work = 0
        # Shared sheets are made here, also for profiles whose pool is as large as their cluster.
        self._sheets = threading.BoundedSemaphore(size)

    def films(self, request: JobRequest) -> JobResult:
        """The films of one job."""
        engine, limits = self.engines.at(request.workers), WorkerLimits.of(request.profile)
        if request.workers is not None:
            return engine.run(request, limits=limits, workers=self._workers)
        with self._here(request) as (here,):
            return engine.run(here, limits=limits, workers=self._workers)

    def gang(self, requests: list[JobRequest]) -> GangResult:
        """One sheet of several jobs."""
        limits = WorkerLimits.of(requests[0].profile)
        with self._sheets, self._here(*requests) as here:
            return run_gang(
                here, limits=limits, workers=self._workers, start=self.engines.here.start
            )

    def sheet_space(
        self, requests: list[JobRequest], known: dict[int, ArtSize | None]
    ) -> SheetSpace:
        """Who of them finds room on one sheet."""
        limits = WorkerLimits.of(requests[0].profile)
        with self._sheets, self._here(*requests) as here:
            return run_sheet_space(
                here, known, limits=limits, workers=self._workers, start=self.engines.here.start
            )

    def profile_of(self, snapshot: dict[str, Any]) -> Profile:
        """The profile that a job was taken with."""
        try:
            return from_snapshot(snapshot)
        except (ProfileError, KeyError, ValueError, TypeError):
            # Taken by another version of filmhand: the profile as it is now is the next best.
            name = str(snapshot.get("name"))
            if name not in self._registry.profiles:
                raise
            return self._registry.profiles[name]

    @contextmanager
    def _here(self, *requests: JobRequest) -> Iterator[list[JobRequest]]:
        """The requests of one process with what this computer adds: the cores that it has for it.

        One that is alone has all of them. Those that begin beside others have their share, which
        they keep: a job that began alone is not slowed down, and its threads take turns. Where more
        wait, one more will be beside it as soon as the last film of another is put away.
        """
        more = self._more()
        with self._lock:
            self._at_work += 1
            share = max(1, self._cores // (self._at_work + more))
        threads = threads_within(requests[0].profile.limits.memory, share)
        try:
            yield [replace(request, threads=threads, tiles=self._tiles) for request in requests]
        finally:
            with self._lock:
                self._at_work -= 1

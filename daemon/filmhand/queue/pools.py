"""The pools of a service: one for the processes of this computer, one for each cluster.

A job on a cluster keeps a thread here waiting for it. Were it a thread of the pool that makes films
here, a slow cluster would hold up all profiles that do not use it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

from filmhand.jobs.recover import Outcome
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.pool import WorkerPool
from filmhand.worker.engine import Engine


class WorkerPools:
    """All pools, to be woken, minded and stopped as one.

    Parameters
    ----------
    queues : callable
        The queues as they are now; each is served by the pool that its settings name.
    engine_at : callable
        The engine of a name in `workers`; its room is the size of its pool.
    done : callable
        Told of every job that ended.
    """

    def __init__(
        self,
        queues: Callable[[], list[JobQueue]],
        engine_at: Callable[[str | None], Engine],
        done: Callable[[JobQueue, Outcome | None], None],
    ) -> None:
        self._queues = queues
        self._engine_at = engine_at
        self._done = done
        self._lock = threading.Lock()
        self._pools: dict[str | None, WorkerPool] = {None: self._pool(None)}
        self._stopped = False

    def _pool(self, address: str | None) -> WorkerPool:
        room = self._engine_at(address).room
        return WorkerPool(partial(self._served_by, address), room, self._done)

    def _served_by(self, address: str | None) -> list[JobQueue]:
        return [queue for queue in self._queues() if queue.settings.workers == address]

    def _all(self) -> list[WorkerPool]:
        """All pools; that of a cluster begins when a profile first names it, and stays."""
        wanted = {queue.settings.workers for queue in self._queues()}
        with self._lock:
            for address in wanted - set(self._pools) if not self._stopped else ():
                self._pools[address] = self._pool(address)
            return list(self._pools.values())

    def wake(self) -> None:
        """There may be work."""
        for pool in self._all():
            pool.wake()

    def without(self, hanging: set[str]) -> None:
        """Go on with as many threads as ever while those in the hands of these queues hang."""
        for pool in self._all():
            pool.without(hanging)

    def stop(self) -> None:
        """Take nothing more; what is in hand is finished."""
        self._stopped = True
        for pool in self._all():
            pool.stop()

    def busy(self) -> bool:
        """True while a thread still works; those that hang on a dead share do not count."""
        return any(pool.busy() for pool in self._all())

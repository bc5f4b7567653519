"""The threads that do the work of several queues, in pools: one for this computer, one a cluster.

They take from the queue that has the least in hand, so that one full folder does not hold up the
others. A thread that hangs with its work on a dead share is replaced until it comes back.

A job on a cluster keeps a thread here waiting for it. Were it a thread of the pool that makes films
here, a slow cluster would hold up all profiles that do not use it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

from filmhand.jobs.recover import Outcome
from filmhand.queue.job_queue import JobQueue
from filmhand.worker.engine import Engine

_ANYWAY = 10.0  # seconds after which an idle thread asks all queues, though nobody woke it


class WorkerPool:
    """The threads that take work from queues and do it."""

    def __init__(
        self,
        queues: Callable[[], list[JobQueue]],
        size: Callable[[], int],
        done: Callable[[JobQueue, Outcome | None], None],
    ) -> None:
        self._queues = queues
        self._done = done
        self._condition = threading.Condition()
        self._stopped = False
        self._woken = 0
        self._in_hand: dict[str, int] = {}
        self._served: dict[str, int] = {}
        self._count = 0
        self._size = size
        self._lost = 0
        self._threads: set[threading.Thread] = set()
        with self._condition:
            self._fill()

    def _fill(self) -> None:
        while len(self._threads) < self._size() + self._lost:
            thread = threading.Thread(target=self._run, name="work", daemon=True)
            self._threads.add(thread)
            thread.start()

    def without(self, hanging: set[str]) -> None:
        """Go on with as many threads as ever while those in the hands of these queues hang."""
        with self._condition:
            lost = sum(self._in_hand.get(name, 0) for name in hanging)
            if lost < self._lost:
                self._wake()  # there may be more threads than are wanted
            self._lost = lost
            if not self._stopped:
                self._fill()

    def _run(self) -> None:
        while True:
            with self._condition:
                if self._stopped or len(self._threads) > self._size() + self._lost:
                    self._threads.discard(threading.current_thread())
                    return
                order, woken = self._order(), self._woken
            if not any(self._try(queue) for queue in order):
                with self._condition:
                    if not self._stopped and self._woken == woken:
                        self._condition.wait(_ANYWAY)

    def _order(self) -> list[JobQueue]:
        """Least in hand first, then the one that has not been served for longest."""
        return sorted(
            self._queues(),
            key=lambda queue: (self._in_hand.get(queue.name, 0), self._served.get(queue.name, 0)),
        )

    def _try(self, queue: JobQueue) -> bool:
        work = queue.take()
        if work is None:
            return False
        with self._condition:
            self._count += 1
            self._served[queue.name] = self._count
            self._in_hand[queue.name] = self._in_hand.get(queue.name, 0) + 1
        outcome = queue.do(work)
        with self._condition:
            self._in_hand[queue.name] -= 1
        self._done(queue, outcome)
        return True

    def wake(self) -> None:
        """There may be work."""
        with self._condition:
            self._wake()

    def _wake(self) -> None:
        self._woken += 1
        self._condition.notify_all()

    def stop(self) -> None:
        """Take nothing more; what is in hand is finished."""
        with self._condition:
            self._stopped = True
            self._condition.notify_all()

    def busy(self) -> bool:
        """True while a thread still works; those that hang on a dead share do not count."""
        with self._condition:
            return len(self._threads) > self._lost


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

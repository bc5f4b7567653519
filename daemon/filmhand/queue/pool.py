"""The threads of a service: one that looks for each queue, and a few that do the work.

The folders of different profiles may lie on different shares. Each queue is looked at by a thread
of its own, so that a share that hangs holds up nobody else; and the threads that work take from
the queue that has the least in hand, so that one full folder does not hold up the others. A thread
that hangs with its work on a dead share is replaced until it comes back.
"""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable

from filmhand.intake.watch import Watch
from filmhand.jobs.recover import Outcome
from filmhand.queue.job_queue import JobQueue

LOOKED_AT_EVERY = 0.5  # seconds between two looks at a local folder
LOOKED_AT_EVERY_NETWORK = 10.0
LATE = 30.0  # seconds after which a look counts as hanging
_AT_LEAST = 0.05
_REST = 4  # a look that took long is followed by so many times as long a rest


class FolderWatcher:
    """The thread that looks at one queue's folder, at fixed intervals and at every hint."""

    def __init__(self, queue: JobQueue, ready: Callable[[], None]) -> None:
        self.queue = queue
        self._ready = ready
        self._wake = threading.Event()
        self._stopped = False
        self._looking_since: float | None = None
        self.looked_at = time.monotonic()  # when the last look ended
        self._watch = Watch(queue.context.folders.drop, self._wake.set)
        self._thread = threading.Thread(target=self._run, name=f"look {queue.name}", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._stopped:
            self._wake.clear()
            self._looking_since = began = time.monotonic()
            try:
                self.queue.look()
                self._watch.keep(wanted=not self.queue.network)
            except Exception:
                self.queue.context.say(
                    "looking failed", profile=self.queue.name, traceback=traceback.format_exc()
                )
                self.queue.stop_for("Filmhand itself failed; its log tells how. It tries again.")
            self._looking_since, self.looked_at = None, time.monotonic()
            took = self.looked_at - began
            self.queue.trouble.answers()
            self._ready()
            self._pause(max(_AT_LEAST, _REST * took))
            self._wake.wait(self._interval())
        self._watch.close()

    def _pause(self, seconds: float) -> None:
        """Rest without regard to hints, so that a very full folder leaves time for the work."""
        until = time.monotonic() + seconds
        while not self._stopped and (left := until - time.monotonic()) > 0:
            time.sleep(min(left, 0.2))

    def hangs_for(self) -> float:
        """Seconds that the present look has taken, if that is too long; else 0."""
        since = self._looking_since
        took = 0.0 if since is None else time.monotonic() - since
        return took if took >= LATE else 0.0

    def _interval(self) -> float:
        if self.queue.network:
            return LOOKED_AT_EVERY_NETWORK
        return min(LOOKED_AT_EVERY, max(_AT_LEAST, self.queue.settle / 2))

    def wake(self) -> None:
        """Look now."""
        self._wake.set()

    def stop(self) -> None:
        """Look no more; does not wait."""
        self._stopped = True
        self._wake.set()

    def join(self, timeout: float) -> None:
        """Wait for the thread; one that hangs on a dead share is left behind."""
        self._thread.join(timeout)


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
            self._lost = sum(self._in_hand.get(name, 0) for name in hanging)
            if not self._stopped:
                self._fill()

    def _run(self) -> None:
        while True:
            with self._condition:
                if self._stopped or len(self._threads) > self._size() + self._lost:
                    self._threads.discard(threading.current_thread())
                    return
                order = self._order()
            if not any(self._try(queue) for queue in order):
                with self._condition:
                    if not self._stopped:
                        self._condition.wait(0.5)

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

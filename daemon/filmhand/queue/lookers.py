"""Looking at drop folders: one thread that knows when each is due, and a few that look.

The folders of different profiles may lie on different shares. While a look hangs, another thread
takes its place, so that a share that hangs holds up nobody else.

How often a folder is looked at hangs on what is there. While anything in it may change by itself,
or while nothing proves that the system would tell of a drop, twice a second; at rest under a watch
that works, at each hint and every fifteen seconds, in case events were lost. On a share what others
do causes no events, so there the pace is steady.
"""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable
from functools import partial

from filmhand.intake.watch import FolderWatch
from filmhand.peers import host
from filmhand.queue.job_queue import JobQueue

LOOKED_AT_EVERY = 0.5  # seconds between two looks at a local folder
LOOKED_AT_EVERY_NETWORK = 10.0
_REFILLS_EVERY = 0.1  # while the ledger is read in again, a part at each look
_REFILLS_EVERY_NETWORK = 1.0
LATE = 30.0  # seconds after which a look counts as hanging
LOOKERS = 2  # threads that look, besides those that a share holds up
_HELD_UP = 1.0  # seconds after which a look counts as held up
_HELPS = 0.4  # seconds after which another thread helps with what is due
_TOGETHER = 0.03  # seconds that what is due may wait to be looked at together with the next
_LONG = 3600.0  # seconds
_AT_LEAST = 0.05
_REST = 4  # a look that took long is followed by so many times as long a rest ...
_REST_AT_MOST = 10.0  # ... but no more seconds, since the answer of a share may have taken them


class WatchedFolder:
    """One queue's folder: when it was looked at, and when that is to be done next."""

    def __init__(self, queue: JobQueue, clock: Callable[[], float]) -> None:
        self.queue = queue
        self.looked_at = clock()  # when the last look ended
        self.due = self.rests_until = float("-inf")
        self.in_hand = False
        self.looking_since: float | None = None
        self.hinted = False
        self._clock = clock

    def hangs_for(self) -> float:
        """Seconds that the present look has taken, if that is too long; else 0."""
        took = self.looks_for()
        return took if took >= LATE else 0.0

    def looks_for(self) -> float:
        """Seconds that the present look has taken; 0 between two looks."""
        since = self.looking_since
        return 0.0 if since is None else self._clock() - since

    def look(self, watch: FolderWatch, hint: Callable[[], None]) -> None:
        """Look, and find out when that is to be done again."""
        queue = self.queue
        began = self._clock()
        heard = False
        try:
            queue.look()
            heard = watch.keep(queue.name, queue.to_watch, hint)
        except Exception:
            queue.context.say(
                "looking failed", profile=queue.name, traceback=traceback.format_exc()
            )
            queue.stop_for_bug()
        self.looked_at = self._clock()
        queue.trouble.answers()
        rest = min(_REST_AT_MOST, max(_AT_LEAST, _REST * (self.looked_at - began)))
        self.rests_until = self.looked_at + rest
        self.due = max(self.rests_until, self.looked_at + self._interval(heard=heard))

    def _interval(self, *, heard: bool) -> float:
        if (left := self.queue.trouble.pause.left()) > 0:
            return min(left, host.ALIVE_EVERY)
        if self.queue.housekeeping.refilling and not self.queue.trouble.why:
            return _REFILLS_EVERY_NETWORK if self.queue.network else _REFILLS_EVERY
        if self.queue.network:
            return LOOKED_AT_EVERY_NETWORK
        if self.queue.idle():
            return host.ALIVE_EVERY if heard else LOOKED_AT_EVERY  # a look gives that sign
        if not self.queue.settles():
            return LOOKED_AT_EVERY
        return min(LOOKED_AT_EVERY, max(_AT_LEAST, self.queue.settle / 2))


class Lookers:
    """The threads that look at the folders of all queues.

    Parameters
    ----------
    ready : callable
        Called with a queue after each look that left work in it.
    clock : callable
        Seconds that no setting of the time changes.
    """

    def __init__(
        self, ready: Callable[[JobQueue], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.watch = FolderWatch()
        self._ready = ready
        self._clock = clock
        self._folders: list[WatchedFolder] = []
        self._due: list[WatchedFolder] = []
        self._threads: set[threading.Thread] = set()
        self._wakes_at = float("-inf")  # when the schedule is gone through again by itself
        self._stopped = False
        lock = threading.Lock()
        self._changed = threading.Condition(lock)  # when something is due
        self._work = threading.Condition(lock)  # something is due
        self._schedule = threading.Thread(target=self._run_schedule, name="schedule", daemon=True)
        self._schedule.start()

    def add(self, queue: JobQueue) -> WatchedFolder:
        """Look at this queue's folder from now on, and at once."""
        folder = WatchedFolder(queue, self._clock)
        with self._changed:
            self._folders.append(folder)
            self._tell_schedule(folder)
        return folder

    def remove(self, folder: WatchedFolder) -> None:
        """Look at it no more; does not wait for a look that goes on."""
        with self._changed:
            self._folders.remove(folder)
            if folder in self._due:
                self._due.remove(folder)
        self.watch.let_go(folder.queue.name)

    def wake(self, folder: WatchedFolder) -> None:
        """Look at it now, or as soon as it has rested from the last look.

        So a very full folder leaves time for the work, and for the others.
        """
        with self._changed:
            folder.hinted = True
            folder.due = min(folder.due, max(folder.rests_until, self._clock()))
            self._tell_schedule(folder)

    def stop(self) -> None:
        """Look no more; does not wait."""
        with self._changed:
            self._stopped = True
            self._changed.notify_all()
            self._work.notify_all()

    def join(self, timeout: float) -> None:
        """Wait for the threads; one that hangs on a dead share is left behind."""
        until = time.monotonic() + timeout
        for thread in (self._schedule, *self._threads):
            thread.join(max(0.0, until - time.monotonic()))
        self.watch.close()

    # --- the schedule ------------------------------------------------------------------------

    def _run_schedule(self) -> None:
        with self._changed:
            while not self._stopped:
                now = self._clock()
                wait = self._hand_out(now)
                self._wakes_at = now + wait
                self._changed.wait(wait)

    def _tell_schedule(self, folder: WatchedFolder) -> None:
        """It is due at another time; the thread is woken only if that is too early for it."""
        if not folder.in_hand and folder.due < self._wakes_at:
            self._changed.notify()

    def _hand_out(self, now: float) -> float:
        """Hand on what is due; seconds until something else will be."""
        at_rest = [folder for folder in self._folders if not folder.in_hand]
        for folder in at_rest:
            if folder.due <= now:
                folder.in_hand = True
                self._due.append(folder)
        if self._due:
            self._work.notify()
            if len(self._threads) < self._wanted():
                self._start()
        waits = [folder.due - now for folder in at_rest if not folder.in_hand]
        if self._due:
            waits.append(_HELPS)
        return max(_TOGETHER, min(waits, default=_LONG))

    def _wanted(self) -> int:
        return LOOKERS + sum(folder.looks_for() >= _HELD_UP for folder in self._folders)

    def _start(self) -> None:
        thread = threading.Thread(target=self._run, name="look", daemon=True)
        self._threads.add(thread)
        thread.start()

    # --- looking -----------------------------------------------------------------------------

    def _run(self) -> None:
        while (folder := self._next()) is not None:
            folder.look(self.watch, partial(self.wake, folder))
            gone = self._put_back(folder)
            if gone:
                self.watch.let_go(folder.queue.name)
            elif folder.queue.has_work():
                self._ready(folder.queue)

    def _next(self) -> WatchedFolder | None:
        """The next folder that is due; None if this thread is to end."""
        with self._work:
            while not self._stopped and len(self._threads) <= self._wanted():
                if self._due:
                    folder = self._due.pop(0)
                    folder.hinted, folder.looking_since = False, self._clock()
                    return folder
                self._work.wait()
            self._threads.discard(threading.current_thread())
            return None

    def _put_back(self, folder: WatchedFolder) -> bool:
        """It has been looked at; True if it is gone meanwhile."""
        with self._changed:
            folder.looking_since, folder.in_hand = None, False
            if folder.hinted:
                folder.due = folder.rests_until
            self._tell_schedule(folder)
            return folder not in self._folders

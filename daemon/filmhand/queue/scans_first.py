"""Scans of wedges go before art whose films are made by what they tell.

What is half-done when we die here is nothing: after a restart scans and art lie where they lay.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

from filmhand.disk.beneath import Beneath
from filmhand.queue.queue_words import JobQueueWord
from filmhand.queue.task import ClaimOne, Task, claimed_bundles
from filmhand.queue.triage import FolderView, WaitingArt

SCANS_AT_MOST = 300.0  # seconds that art waits, whatever becomes of the scans
CURVE_AT_MOST = 30.0  # seconds from a reading until the profile was read again with it


class ScansFirst:
    """Holds art back while scans settle or are read, and until their curve is in force.

    A scan that is refused, gone or out of everybody's reach holds nothing, and nor does anything
    for longer than :data:`SCANS_AT_MOST`; then art goes on until no scan waits any more. Threads
    that work tell it of scans, the one that looks asks it; the lock guards what it knows.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._in_hand: set[Beneath] = set()
        self._curve_due: float | None = None  # until when a curve that was read is waited for
        self._since: float | None = None

    def take(self, task: Task) -> None:
        """This goes into somebody's hands."""
        with self._lock:
            self._in_hand.update(_scans([task]))

    def put_down(self, task: Task) -> None:
        """This is in nobody's hands any more."""
        with self._lock:
            self._in_hand.difference_update(_scans([task]))

    def has_read(self) -> None:
        """A curve was read; to be told before its scan is put down."""
        with self._lock:
            self._curve_due = self._clock() + CURVE_AT_MOST

    def has_curve(self) -> None:
        """The profile goes by another curve than before."""
        with self._lock:
            self._curve_due = None

    def hold_back(self, view: FolderView) -> None:
        """Change the view: art that a scan goes before is no longer ready."""
        now = self._clock()
        with self._lock:
            if self._curve_due is not None and now >= self._curve_due:
                self._curve_due = None
            waits = bool(
                self._in_hand or self._curve_due or view.scans_settle or _scans(view.ready)
            )
            if not waits:
                self._since = None
                return
            self._since = now if self._since is None else self._since
            if now - self._since >= SCANS_AT_MOST:
                return
        why = JobQueueWord.SCAN_FIRST.say()
        ready, view.ready = view.ready, []
        for task in ready:
            if _scans([task]):
                view.ready.append(task)
            else:
                view.waiting += [WaitingArt(one.shown, why) for one in claimed_bundles(task)]


def _scans(tasks: Iterable[Task]) -> list[Beneath]:
    return [
        task.bundle.art.path for task in tasks if isinstance(task, ClaimOne) and task.bundle.is_scan
    ]

"""Waiting that grows: five seconds after the first failure, twice as long after each next."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

FIRST = 5.0  # seconds
LONGEST = 300.0


class Pause:
    """A pause with its reason; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.why = ""
        self.looking = False
        self._kind: object = None
        self._clock = clock
        self._until = float("-inf")
        self._delay = 0.0
        self._lock = threading.Lock()

    def begin(self, why: str, *, looking: bool = False, kind: object = None) -> bool:
        """Pause, doubling the last delay; True if the reason is new and should be said.

        Reasons of the same `kind` count as one, though their sentences may name other files.
        """
        with self._lock:
            kind = why if kind is None else kind
            new = kind != self._kind
            self.why, self.looking, self._kind = why, looking, kind
            if self._clock() >= self._until:  # jobs that fail together count once
                self._delay = min(LONGEST, self._delay * 2 or FIRST)
                self._until = self._clock() + self._delay
            return new

    def holds(self) -> bool:
        """True until the delay is over."""
        return self._clock() < self._until

    def end(self) -> None:
        """All is well: the next pause starts short again."""
        with self._lock:
            self.why, self.looking, self._kind = "", False, None
            self._until, self._delay = float("-inf"), 0.0

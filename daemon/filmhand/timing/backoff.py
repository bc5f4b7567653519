"""Waiting that grows: five seconds after the first failure, twice as long after each next."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

FIRST = 5.0  # seconds
LONGEST_PAUSE = 300.0


class Backoff:
    """A pause with its reason; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.why = ""
        self.looking = False
        self._clock = clock
        self._until = float("-inf")
        self._delay = 0.0
        self._lock = threading.Lock()

    def begin(self, why: str, *, looking: bool = False) -> None:
        """Pause, doubling the last delay."""
        with self._lock:
            self.why, self.looking = why, looking
            if self._clock() >= self._until:  # jobs that fail together count once
                self._delay = min(LONGEST_PAUSE, self._delay * 2 or FIRST)
                self._until = self._clock() + self._delay

    def holds(self) -> bool:
        """True until the delay is over."""
        return self._clock() < self._until

    def over_for(self) -> float:
        """Seconds since the delay was over."""
        return self._clock() - self._until

    def left(self) -> float:
        """Seconds until the delay is over; 0 if it is."""
        return max(0.0, self._until - self._clock())

    def end(self) -> None:
        """All is well: the next pause starts short again."""
        with self._lock:
            self.why, self.looking = "", False
            self._until, self._delay = float("-inf"), 0.0

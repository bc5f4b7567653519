"""Trouble that comes and goes, and how often it is worth a line of the log.

A share that goes away and comes back every minute would write a line each time, for weeks. The
first time is said at once; further times are counted, and the count is said at gaps that double.
Trouble that stays away for long is new when it comes again.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from filmhand.values import dataclass

FIRST_GAP = 60.0  # seconds between two lines of the same trouble
LONGEST_GAP = 3600.0
_KINDS = 100  # that are remembered


@dataclass(slots=True)
class _Past:
    """What is known of one kind of trouble."""

    due: float  # from when it may be said again
    gap: float
    seen: float  # when it went, or came first
    unsaid: int = 0  # times it came since it was said
    there: bool = False
    told: bool = False  # that it is there


class LogRateLimit:
    """Which comings and goings are said; safe to use from several threads.

    `longest` is the longest gap in seconds. `forgets` is False where trouble that stays away for
    long is the same when it comes again.
    """

    def __init__(
        self,
        clock: Callable[[], float] = time.monotonic,
        *,
        longest: float = LONGEST_GAP,
        forgets: bool = True,
    ) -> None:
        self._clock = clock
        self._longest = longest
        self._forgets = forgets
        self._lock = threading.Lock()
        self._past: dict[object, _Past] = {}

    def comes(self, kind: object) -> int:
        """The trouble is there, or still is: how many times to say that it came; 0 for none.

        Trouble that has not been said when it came is said once its gap is over, if it is there.
        """
        with self._lock:
            now = self._clock()
            return self._comes(kind, now)

    def happens(self, kind: object) -> int:
        """Trouble that does not last came: how many times to say that it did; 0 for none."""
        with self._lock:
            now = self._clock()
            times = self._comes(kind, now)
            self._past[kind].there, self._past[kind].seen = False, now
            return times

    def _comes(self, kind: object, now: float) -> int:
        past = self._past.get(kind)
        if past is None or (self._forgets and not past.there and now - past.seen >= 2 * past.gap):
            past = self._new(kind, now)
        if not past.there:
            past.there, past.told = True, False
            past.unsaid += 1
        if past.told or now < past.due:
            return 0
        times, past.unsaid = past.unsaid, 0
        past.told, past.due = True, now + past.gap
        past.gap = min(self._longest, 2 * past.gap)
        return times

    def goes(self) -> bool:
        """All trouble is over: whether to say so, which is if its coming was said."""
        with self._lock:
            now = self._clock()
            there = [past for past in self._past.values() if past.there]
            said = any(past.told for past in there)
            for past in there:
                past.there, past.seen = False, now
            return said

    def _new(self, kind: object, now: float) -> _Past:
        self._past.pop(kind, None)
        if len(self._past) >= _KINDS:
            del self._past[next(iter(self._past))]
        past = self._past[kind] = _Past(due=now, gap=FIRST_GAP, seen=now)
        return past

"""The wait of one bundle or job that has a trouble of its own, while all others go on."""

from __future__ import annotations

import math
from collections.abc import Callable

from filmhand.timing.backoff import Backoff
from filmhand.timing.timing_words import WaitCount

GIVEN_UP_AFTER = 86400.0  # seconds that something may wait for its rights to be put right


class LoneWait:
    """Since when it waits, why, and when it is tried again; `clock` gives monotonic seconds.

    `stuck` if only people can end the wait. `mark` is what the owner of the wait compares, to see
    whether something was done about it.
    """

    def __init__(self, clock: Callable[[], float], *, stuck: bool = True) -> None:
        self.pause = Backoff(clock)
        self.stuck = stuck
        self.mark: object = None
        self.times = 0
        self._clock = clock
        self._since = clock()

    def again(self, why: str) -> None:
        """It failed once more: wait longer than before."""
        self.times += 1
        self.pause.begin(why)

    def over(self) -> bool:
        """True if it has waited for a day."""
        return self._clock() - self._since >= GIVEN_UP_AFTER

    def told(self) -> str:
        """Why it waits, as people read it; the same for a while, so that little is written anew."""
        again = WaitCount.AGAIN.say(max(1, math.ceil(self.pause.left() / 60)))
        return WaitCount.TRIED.say(self.times, why=self.pause.why, again=again)

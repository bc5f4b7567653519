"""What a queue minds besides its jobs: room on the disk, other hosts, tidying away."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from filmhand.disk import set_aside
from filmhand.disk.free_space import SpaceWatch
from filmhand.jobs.context import JobContext
from filmhand.jobs.refill import LedgerRefill
from filmhand.peers.learning import PeerLearning
from filmhand.profile.model import Keep
from filmhand.queue.retention import Retention

_TIDY_EVERY = 60.0  # seconds between two looks at what was set aside


class Housekeeping:
    """Looks after one profile's folder; every trouble here waits for the next time."""

    def __init__(
        self,
        name: str,
        context: JobContext,
        clock: Callable[[], float],
        steady: Callable[[], float],
        refill: LedgerRefill | None = None,
    ) -> None:
        self._name = name
        self._context = context
        self._space = SpaceWatch(context.folders.root, context.say, clock, profile=name)
        self._pruner = Retention(context, steady)
        self._others = PeerLearning(name, context, clock)
        self._clock = clock
        self._tidied = float("-inf")
        self._foreign: list[str] = []
        self._refill = refill

    @property
    def refilling(self) -> bool:
        """True while the ledger does not know all that the folder tells."""
        return self._refill is not None and not self._refill.done

    def look(self, keep: Keep, *, network: bool = False) -> None:
        """Measure the room, learn from other hosts and tidy away, each if it is time.

        Before the ledger is whole it only goes on with that: whether a clock is right, and what
        other hosts did, is told by comparing with it.
        """
        before = self._pruner.why_not
        with contextlib.suppress(OSError):
            self._space.look()
            if self._clock() - self._tidied >= _TIDY_EVERY:
                self._tidied = self._clock()
                set_aside.tidy(self._context.folders.hidden)
                self._foreign = list(map(" ".join, set_aside.worries(self._context.folders.hidden)))
            if self._refill is not None and self.refilling:
                self._refill.look(network=network)
                return
            self._others.look()
            removed = self._pruner.tidy(keep)
            if removed:
                self._context.say("tidied away", profile=self._name, **removed)
        if self._pruner.why_not and self._pruner.why_not != before:
            self._context.say("not tidied", profile=self._name, why=self._pruner.why_not)

    @property
    def free_bytes(self) -> int | None:
        """What was free at the last look; None before the first."""
        return self._space.space.free if self._space.space is not None else None

    def worries(self) -> list[str]:
        """Sentences on what will stop the work, or has stopped the tidying."""
        reading = self._refill.worry() if self._refill is not None else ""
        worries = filter(None, (self._pruner.why_not, self._space.worry(), reading, *self._foreign))
        return [f"{self._name}: {worry}" for worry in worries]

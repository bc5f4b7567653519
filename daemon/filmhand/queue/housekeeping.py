"""What a desk minds besides its jobs: room on the disk, other hosts, tidying away, counting."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass

from filmhand.disk.free_space import SpaceWatch
from filmhand.jobs.context import JobContext
from filmhand.peers.learning import PeerLearning
from filmhand.profile.model import Keep
from filmhand.queue.retention import Retention


@dataclass(slots=True)
class JobCounts:
    """What a desk has done since it was set up; `seconds` of the jobs that ended."""

    made: int = 0
    refused: int = 0
    seconds: float = 0.0
    strikes: int = 0


class Housekeeping:
    """Looks after one profile's folder; every trouble here waits for the next time."""

    def __init__(
        self, name: str, bench: JobContext, clock: Callable[[], float], steady: Callable[[], float]
    ) -> None:
        self._name = name
        self._bench = bench
        self._space = SpaceWatch(bench.folders.root, bench.say, clock, profile=name)
        self._pruner = Retention(bench, steady)
        self._others = PeerLearning(name, bench, clock)
        self.tally = JobCounts()

    def look(self, keep: Keep) -> None:
        """Measure the room, learn from other hosts and tidy away, each if it is time."""
        before = self._pruner.why_not
        with contextlib.suppress(OSError):
            self._space.look()
            self._others.look()
            removed = self._pruner.tidy(keep)
            if removed:
                self._bench.say("tidied away", profile=self._name, **removed)
        if self._pruner.why_not and self._pruner.why_not != before:
            self._bench.say("not tidied", profile=self._name, why=self._pruner.why_not)

    @property
    def free_bytes(self) -> int | None:
        """What was free at the last look; None before the first."""
        return self._space.space.free if self._space.space is not None else None

    def worries(self) -> list[str]:
        """Sentences on what will stop the work, or has stopped the tidying."""
        worries = filter(None, (self._pruner.why_not, self._space.worry()))
        return [f"{self._name}: {worry}" for worry in worries]

"""How much room a disk or share has left, and when to warn: before it is full, not when."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from filmhand.disk.disk_words import DiskCount, DiskWord
from filmhand.timing.log_rate_limit import LogRateLimit
from filmhand.values import dataclass

MEASURED_EVERY = 30.0  # seconds between two measurements
LOW = 2**30  # bytes
_LOW_SHARE = 0.1  # of a small disk
_IN_MEGABYTES = 1e8  # a tenth of a GB, which is as little as is told in those
_LOW_FILES = 1000  # names that a file system can still give


@dataclass(frozen=True, slots=True)
class Space:
    """Bytes and names that are left; `files` is None where the file system sets no limit."""

    free: int
    total: int
    files: int | None = None

    @property
    def low(self) -> bool:
        """True under 1 GiB (on a small disk under a tenth of it), or with few names left."""
        if self.files is not None and self.files < _LOW_FILES:
            return True
        return self.free < min(LOW, self.total * _LOW_SHARE)

    def say(self) -> str:
        """One sentence: what is left."""
        if self.files is not None and self.files < _LOW_FILES:
            return DiskCount.FILES_LEFT.say(self.files)
        free, total = f"{self.free / 1e9:.1f}", f"{self.total / 1e9:.1f}"
        if self.free < _IN_MEGABYTES:
            whole = f"{self.total / 1e6:.0f} MB" if self.total < _IN_MEGABYTES else f"{total} GB"
            return DiskWord.MEGABYTES_LEFT.say(free=f"{self.free / 1e6:.0f}", total=whole)
        return DiskWord.BYTES_LEFT.say(free=free, total=total)


def space_of(folder: Path) -> Space:
    """What is left for this user on the file system of `folder`; OSError if it does not answer."""
    found = os.statvfs(folder)
    files = found.f_favail if found.f_files > 0 else None
    return Space(found.f_bavail * found.f_frsize, found.f_blocks * found.f_frsize, files)


class SpaceWatch:
    """Measures now and then; says when room gets short, and when it is there again."""

    def __init__(
        self,
        folder: Path,
        say: Callable[..., None],
        clock: Callable[[], float] = time.monotonic,
        **facts: str,
    ) -> None:
        self._folder = folder
        self._say = say
        self._clock = clock
        self._facts = facts
        self._at = float("-inf")
        self._limit = LogRateLimit(clock)
        self.space: Space | None = None

    def look(self) -> None:
        """Measure if it is time; OSError if the file system does not answer."""
        now = self._clock()
        if now - self._at < MEASURED_EVERY:
            return
        self._at = now
        self.space = space_of(self._folder)
        if self.space.low:
            times = self._limit.comes("low")
            if times:
                more = times if times > 1 else None
                self._say("low on space", why=self.space.say(), times=more, **self._facts)
        elif self._limit.goes():
            self._say("space again", why=self.space.say(), **self._facts)

    def worry(self) -> str:
        """One sentence while the room is short; else empty."""
        if self.space is None or not self.space.low:
            return ""
        return DiskWord.NEARLY_FULL.say(left=self.space.say())

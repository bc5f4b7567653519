"""A wall clock that tests move: seconds ahead of the true one, read from a file at each look.

:func:`install` comes before filmhand is imported. The monotonic clock stays as it is, and so do the
times that the file system gives to files; that is what a jump of the computer's clock looks like
from inside a process, but for the files' times, which tests set themselves.
"""

from __future__ import annotations

import datetime
import time
from pathlib import Path


def install(path: Path) -> None:
    """Let `time.time` and `datetime.now` follow the file."""
    real_time, real_datetime = time.time, datetime.datetime

    def ahead() -> float:
        try:
            return float(path.read_text())
        except (FileNotFoundError, ValueError):
            return 0.0

    class Jumping(datetime.datetime):
        @classmethod
        def now(cls, tz: datetime.tzinfo | None = None) -> Jumping:
            moved = real_datetime.now(tz) + datetime.timedelta(seconds=ahead())
            return cls.combine(moved.date(), moved.timetz())

    datetime.datetime = Jumping  # type: ignore[misc]
    time.time = lambda: real_time() + ahead()

"""The process of a lone job, started before the command that gives it the job has loaded.

Both then load side by side. It is a fresh process like any other, but for its folder, which it is
told with its job; one that gets none is ended.
"""

from __future__ import annotations

import contextlib

from filmhand.worker.process import FreshProcess, fresh_process

_waiting: list[FreshProcess] = []


def start_ahead() -> None:
    """Start it; where that fails, none waits, and whoever starts the next one is told why."""
    with contextlib.suppress(OSError):
        _waiting.append(fresh_process("/"))


def take_waiting() -> FreshProcess | None:
    """The process that waits for a job, for whoever has one; None if none waits."""
    return _waiting.pop() if _waiting else None


def end_waiting() -> None:
    """End it if nobody has taken it."""
    process = take_waiting()
    if process is not None:
        with process:  # waits for its end, and closes its pipes
            process.kill_group()

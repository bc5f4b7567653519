"""A spool of `job_harness` that falls asleep instead of dying: at FILMHAND_DIE_AT it stops itself.

``sleeping_host.py ROOT STATE HOST``, and perhaps the seconds that art waits for more on its sheet;
it goes on when somebody sends SIGCONT.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from types import SimpleNamespace

import job_harness

from filmhand.jobs import failpoints
from filmhand.profile.ticket.gang import GangWishes

if __name__ == "__main__":
    failpoints.signal = SimpleNamespace(SIGKILL=signal.SIGSTOP)  # type: ignore[assignment]
    root, state, host, *wait = sys.argv[1:]
    job_harness.forbid_removing(Path(root))
    gang = GangWishes(float(wait[0])) if wait else None
    job_harness.work_through(
        job_harness.make_queue(Path(root), Path(state), host, gang=gang, room=None)
    )

"""A spool of `spool_bench` that falls asleep instead of dying: at FILMHAND_DIE_AT it stops itself.

``sleeping_host.py ROOT STATE HOST``, and perhaps the seconds that art waits for company; it goes
on when somebody sends SIGCONT.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from types import SimpleNamespace

import spool_bench

from filmhand.jobs import failpoints
from filmhand.profile.ticket.gang import GangWishes

if __name__ == "__main__":
    failpoints.signal = SimpleNamespace(SIGKILL=signal.SIGSTOP)  # type: ignore[assignment]
    root, state, host, *wait = sys.argv[1:]
    spool_bench.forbid_removing(Path(root))
    gang = GangWishes(float(wait[0])) if wait else None
    spool_bench.work_through(
        spool_bench.make_desk(Path(root), Path(state), host, gang=gang, room=None)
    )

"""A spool of `spool_bench` that falls asleep instead of dying: at FILMHAND_DIE_AT it stops itself.

``sleeping_host.py ROOT STATE HOST``; it goes on when somebody sends SIGCONT.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from types import SimpleNamespace

import spool_bench

from filmhand.spool import steps

if __name__ == "__main__":
    steps.signal = SimpleNamespace(SIGKILL=signal.SIGSTOP)  # type: ignore[assignment]
    root, state, host = sys.argv[1:]
    spool_bench.forbid_removing(Path(root))
    spool_bench.work_through(spool_bench.make_desk(Path(root), Path(state), host))

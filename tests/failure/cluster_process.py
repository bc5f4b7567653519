"""A station whose profiles hand their jobs to a cluster, in a process of its own.

``cluster_process.py serve|once STATION STATE``. The jobs are those of cluster_stub, or real ones
with REAL in the environment; the waits are short.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import cluster_stub
import job_harness

from filmhand.art.files.completeness import completeness_of
from filmhand.cluster import scheduler
from filmhand.peers import host
from filmhand.service.station import Station
from filmhand.timing import backoff

if __name__ == "__main__":
    backoff.FIRST, backoff.LONGEST_PAUSE, host.ALIVE_EVERY = 0.5, 1.0, 0.3
    scheduler._LOOK_EVERY, scheduler._NOBODY, scheduler._CONNECT = 0.3, 2.0, 3.0
    real = "REAL" in os.environ
    if not real:
        scheduler.TASK = cluster_stub.__name__
    finished = completeness_of if real else job_harness.finished
    station = Station(Path(sys.argv[2]), state=Path(sys.argv[3]), finished=finished)
    sys.exit(station.serve() if sys.argv[1] == "serve" else station.once())

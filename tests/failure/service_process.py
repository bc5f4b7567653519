"""A station with a pretended renderer, in a process of its own.

``service_process.py serve|once STATION STATE``; the renderer is that of spool_bench.
"""

from __future__ import annotations

import sys
from pathlib import Path

import spool_bench

from filmhand.service import Station

if __name__ == "__main__":
    station = Station(
        Path(sys.argv[2]),
        state=Path(sys.argv[3]),
        render=spool_bench.render,
        finished=spool_bench.finished,
    )
    sys.exit(station.serve() if sys.argv[1] == "serve" else station.once())

"""A station with a pretended renderer, in a process of its own.

``service_process.py serve|once STATION STATE``; the renderer is that of job_harness. LATE and
EVERY_NETWORK, ALIVE_EVERY, FIRST_PAUSE and LONGEST_PAUSE in the environment shorten the waits of
:mod:`filmhand.queue.lookers`, ``host`` and ``pause``, METRICS names the file of ``--metrics``,
WALL_CLOCK that of :mod:`jumping_clock`; with TRUE_END the ends of files are looked at truly.
PRINTER names the folder of a pretended printer. PROFILES names that of ``--profiles``.
Where a pipe named like a profile's folder, with the ending ``.hangs``, lies beside it, the next
sign of life there waits inside the system until it is read.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import jumping_clock

if "WALL_CLOCK" in os.environ:  # before filmhand takes hold of the true one
    jumping_clock.install(Path(os.environ["WALL_CLOCK"]))

import job_harness
import print_harness

from filmhand.disk.beneath import Beneath
from filmhand.peers import host
from filmhand.queue import lookers
from filmhand.service.station import Station
from filmhand.timing import backoff

truly_signed = host.sign_of_life


def signed(hidden: Beneath, name: str) -> None:
    root = hidden.parent.path
    pipe = root.with_name(f"{root.name}.hangs")
    if pipe.exists():
        pipe.write_bytes(b"")
    truly_signed(hidden, name)


if __name__ == "__main__":
    host.sign_of_life = signed
    lookers.LATE = float(os.environ.get("LATE", lookers.LATE))
    host.ALIVE_EVERY = float(os.environ.get("ALIVE_EVERY", host.ALIVE_EVERY))
    lookers.LOOKED_AT_EVERY_NETWORK = float(
        os.environ.get("EVERY_NETWORK", lookers.LOOKED_AT_EVERY_NETWORK)
    )
    backoff.FIRST = float(os.environ.get("FIRST_PAUSE", backoff.FIRST))
    backoff.LONGEST_PAUSE = float(os.environ.get("LONGEST_PAUSE", backoff.LONGEST_PAUSE))
    metrics = Path(os.environ["METRICS"]) if "METRICS" in os.environ else None
    station = Station(
        Path(sys.argv[2]),
        Path(os.environ["PROFILES"]) if "PROFILES" in os.environ else None,
        state=Path(sys.argv[3]),
        render=job_harness.render,
        **print_harness.printer_from(os.environ),
        **({} if "TRUE_END" in os.environ else {"finished": job_harness.finished}),
    )
    sys.exit(station.serve(metrics=metrics) if sys.argv[1] == "serve" else station.once())

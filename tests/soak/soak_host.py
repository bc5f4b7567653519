"""One host of a soak: the real service with its waits shortened. ``soak_host.py STATION STATE``."""

from __future__ import annotations

import sys
from pathlib import Path

from filmhand.peers import host
from filmhand.service import Station
from filmhand.timing import backoff

if __name__ == "__main__":
    host.ALIVE_EVERY = 0.5
    backoff.FIRST, backoff.LONGEST_PAUSE = 1.0, 4.0
    sys.exit(Station(Path(sys.argv[1]), state=Path(sys.argv[2])).serve())

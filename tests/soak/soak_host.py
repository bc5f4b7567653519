"""One host of a soak: the real service with its waits shortened. ``soak_host.py STATION STATE``."""

from __future__ import annotations

import sys
from pathlib import Path

from filmhand.service import Station
from filmhand.spool import host, pause

if __name__ == "__main__":
    host.ALIVE_EVERY = 0.5
    pause.FIRST, pause.LONGEST = 1.0, 4.0
    sys.exit(Station(Path(sys.argv[1]), state=Path(sys.argv[2])).serve())

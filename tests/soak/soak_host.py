"""One host of a soak: the real service with its waits shortened and a wall clock that jumps.

``soak_host.py STATION STATE CLOCK``; CLOCK is the file of `jumping_clock`.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "failure"))
import jumping_clock

if __name__ == "__main__":
    jumping_clock.install(Path(sys.argv[3]))  # before filmhand takes hold of the true one

from filmhand.peers import host
from filmhand.service.station import Station
from filmhand.timing import backoff

if __name__ == "__main__":
    host.ALIVE_EVERY = 0.5
    backoff.FIRST, backoff.LONGEST_PAUSE = 1.0, 4.0
    sys.exit(Station(Path(sys.argv[1]), state=Path(sys.argv[2])).serve())

"""How many processor cores there are to work with."""

from __future__ import annotations

import os


def usable_cores() -> int:
    """Processor cores that this process may use, which can be fewer than the machine has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1

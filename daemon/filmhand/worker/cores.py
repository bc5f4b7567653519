"""How many processor cores there are to work with, and how many of them one job uses."""

from __future__ import annotations

import os


def usable_cores() -> int:
    """Processor cores that this process may use, which can be fewer than the machine has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


_MEMORY_A_THREAD = 256 * 2**20  # bytes, of which a thread over strips takes a third at most


def threads_within(memory: int, cores: int) -> int:
    """As many threads for one job as it has cores, but no more than its memory carries.

    So the same art is not refused for want of memory where there are more cores.

    Parameters
    ----------
    memory : bytes that the job may use
    cores : those that it could use
    """
    return max(1, min(cores, memory // _MEMORY_A_THREAD))

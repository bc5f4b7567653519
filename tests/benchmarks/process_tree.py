"""What a command costs with all the processes that it starts: seconds, processor time, memory.

This process adopts what its children leave behind (PR_SET_CHILD_SUBREAPER, prctl(2)), so processes
that were ended together with those that waited for them are counted like any other.

Processor time is that of all processes of the tree that have ended (getrusage(2)), or, of a tree
that runs on, what /proc tells of each of its processes and of those that it has waited for.

Memory is the sum of the proportional set sizes (proc_pid_smaps(5)) of all processes of the tree at
one moment, the largest of all moments that were looked at; a page that two of them share counts
once. What a process elsewhere shares counts there too, so whoever measures loads none of the
libraries that are measured. Looking costs time of its own, so what is watched is not timed beside.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import resource
import signal
import subprocess
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

_PR_SET_CHILD_SUBREAPER = 36
_HERTZ = os.sysconf("SC_CLK_TCK")
_PAGE = os.sysconf("SC_PAGE_SIZE")
# Seconds between two looks at the memory: at least, and as a multiple of what a look took.
_LOOK_EVERY, _LOOKS_COST = 0.005, 4
_LEFT_BEHIND = 15.0  # seconds that what a command leaves running may take to end by itself


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds from start to end, seconds of processor time, and the largest memory in MiB.

    ``memory`` is 0 where it was not watched.
    """

    wall: float
    processor: float
    memory: float = 0.0


def adopt_orphans() -> None:
    """See that all that is started below this process is ended and counted here."""
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(_PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0):
        raise OSError(ctypes.get_errno(), "prctl")


def spend(
    command: Sequence[str], *, watched: bool = False, environment: dict[str, str] | None = None
) -> Spent:
    """Run a command to its end; SystemExit with what it said where it fails.

    Parameters
    ----------
    command : program and arguments
    watched : whether its memory is looked at all the while
    environment : instead of this process's own
    """
    adopt_orphans()
    with tempfile.TemporaryFile() as said, contextlib.ExitStack() as meanwhile:
        before, start = _of_ended(), time.perf_counter()
        child = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=said, env=environment, start_new_session=True
        )
        watch = meanwhile.enter_context(MemoryWatch()) if watched else None
        code = child.wait()
        wall = time.perf_counter() - start
        end_orphans()
        if code:
            said.seek(0)
            raise SystemExit(f"{command} failed with {code}:\n{said.read().decode()}")
    return Spent(wall, _of_ended() - before, watch.most if watch else 0.0)


def end_orphans() -> None:
    """Wait until nothing is left below this process; what does not end by itself is killed."""
    until = time.monotonic() + _LEFT_BEHIND
    with contextlib.suppress(ChildProcessError):
        while True:
            if os.waitpid(-1, os.WNOHANG)[0]:
                continue
            if time.monotonic() > until:
                for process in tree():
                    with contextlib.suppress(ProcessLookupError):
                        os.kill(process, signal.SIGKILL)
            time.sleep(0.005)


def tree() -> list[int]:
    """The processes below this one, whoever started them."""
    below: defaultdict[int, list[int]] = defaultdict(list)
    for path in Path("/proc").iterdir():
        if path.name.isdigit() and (fields := _stat(int(path.name))):
            below[int(fields[1])].append(int(path.name))
    found, to_come = [], [os.getpid()]
    while to_come:
        further = below[to_come.pop()]
        found += further
        to_come += further
    return found


def processor() -> float:
    """Seconds of processor time of all below this process, those included that were waited for."""
    fields = filter(None, map(_stat, tree()))
    return sum(sum(map(int, one[11:15])) for one in fields) / _HERTZ + _of_ended()


def memory() -> float:
    """MiB that all below this process hold now."""
    return sum(map(_set_size, tree())) / 2**20


class MemoryWatch:
    """Looks at the memory below this process for as long as the context lasts.

    Attributes
    ----------
    most : the largest found so far, MiB
    """

    def __init__(self, every: float = _LOOK_EVERY) -> None:
        self.most = 0.0
        self._every = every
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> MemoryWatch:
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._over.set()
        self._thread.join()

    def _look(self) -> None:
        pause = 0.0
        while not self._over.wait(pause):
            start = time.perf_counter()
            self.most = max(self.most, memory())
            pause = max(self._every, _LOOKS_COST * (time.perf_counter() - start))


def _of_ended() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _stat(process: int) -> list[str]:
    """The fields of /proc/PID/stat from the state on; none if the process is gone."""
    with contextlib.suppress(OSError):
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return []


def _set_size(process: int) -> int:
    """Bytes of the proportional set; of the resident one where the system does not tell."""
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    except PermissionError:
        with contextlib.suppress(OSError):
            return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * _PAGE
        return 0
    except OSError:  # gone, or ended and not yet waited for
        return 0
    return next(_sizes(lines, "Pss:"), 0) * 1024


def _sizes(lines: Sequence[str], name: str) -> Iterator[int]:
    return (int(line.split()[1]) for line in lines if line.startswith(name))

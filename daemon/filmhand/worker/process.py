"""The process of one job as its parent sees it, and how a fresh one is started.

:mod:`filmhand.worker.fork_server` has the other kind, a fork of a process that is warm.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import IO, Protocol

from filmhand.kernels.loops import PLAIN

CHILD = "filmhand.worker.child"
# The heap in large pages where the system has them for who asks: half as many faults, and a few MiB
# more (The GNU C Library, Memory Allocation Tunables; libraries before 2.35 pass it over).
_LARGE_PAGES = "glibc.malloc.hugetlb=1"
_PASSED_ON = (
    *("PATH", "HOME", "LANG", "LC_ALL", "LC_CTYPE", "LD_LIBRARY_PATH", "SYSTEMROOT"),
    PLAIN,
)


class JobProcess(Protocol):
    """A process in a session of its own, with three pipes."""

    @property
    def pid(self) -> int:
        """Its number, which is also that of its process group."""

    @property
    def parent(self) -> int:
        """The number of the process that it must not outlive."""

    @property
    def returncode(self) -> int | None:
        """Its exit code, or below zero the number of the signal that ended it.

        None as long as its end has not been seen here.
        """

    @property
    def stdin(self) -> IO[bytes] | None:
        """What is written here it reads."""

    @property
    def stdout(self) -> IO[bytes] | None:
        """Its answer."""

    @property
    def stderr(self) -> IO[bytes] | None:
        """All else that it says."""

    def poll(self) -> int | None:
        """The exit code, if it has ended."""

    def wait(self, timeout: float) -> int:
        """The exit code; raises subprocess.TimeoutExpired if it has not ended by then."""

    def kill_group(self) -> None:
        """End it and all that it started, if anything of it still runs."""

    def reap(self) -> None:
        """See the end of one that has been ended."""


class StartProcess(Protocol):
    """How the process of a job is started."""

    def __call__(self, folder: Path, *, module: str = CHILD) -> JobProcess:
        """Run a module as a program in a folder, which is also its place for temporary files.

        Raises EnvironmentTrouble where this computer cannot start another process.
        """


class FreshProcess(subprocess.Popen[bytes]):
    """A job's process that this process has started itself."""

    @property
    def parent(self) -> int:
        """This process."""
        return os.getpid()

    def kill_group(self) -> None:
        """End it and all that it started."""
        kill_group(self.pid)

    def reap(self) -> None:
        """See its end."""
        self.wait()


def start_fresh(
    folder: Path, *, module: str = CHILD, arguments: Sequence[str] = ()
) -> FreshProcess:
    """Start an interpreter of its own for a job; as :class:`StartProcess`.

    ``arguments`` are those of the program.
    """
    try:
        return fresh_process(folder, module=module, arguments=arguments)
    except OSError as error:
        # Whatever this module loads, a process that is started ahead waits for.
        from filmhand.errors import EnvironmentTrouble  # noqa: PLC0415
        from filmhand.worker.worker_words import WorkerWord  # noqa: PLC0415

        raise EnvironmentTrouble(WorkerWord.NOT_STARTED.say(why=error.strerror)) from error


def fresh_process(
    folder: Path, *, module: str = CHILD, arguments: Sequence[str] = ()
) -> FreshProcess:
    """As :func:`start_fresh`; raises OSError where this computer cannot."""
    return FreshProcess(
        [sys.executable, "-P", "-m", module, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=folder,
        env=surroundings() | {"TMPDIR": str(folder)},
        start_new_session=True,
    )


def surroundings() -> dict[str, str]:
    """The environment of a job's process: nothing but what Python and its libraries go by."""
    passed = {k: v for k, v in os.environ.items() if k in _PASSED_ON or k.startswith("PYTHON")}
    here = str(Path(__file__).resolve().parent.parent.parent)
    search = [here, *filter(None, [passed.get("PYTHONPATH")])]
    return passed | {
        "PYTHONPATH": os.pathsep.join(search),
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "GLIBC_TUNABLES": _LARGE_PAGES,
    }


def kill_group(pid: int) -> None:
    """End all processes of a group."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(pid, signal.SIGKILL)

"""How a fresh process is started for a job.

:mod:`filmhand.worker.fork_server` has the other kind, a fork of a process that is warm. Whatever
this module loads, a process that is started ahead waits for (:mod:`filmhand.worker.ahead`): so it
does without ``pathlib`` and ``typing``, which take as long as it takes to start a process.
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import sys

from filmhand.kernels.plain import PLAIN

TYPE_CHECKING = False  # as of typing; type checkers take it for true
if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

CHILD = "filmhand.worker.job"
# The heap in large pages where the system has them for who asks: half as many faults, and a few MiB
# more (The GNU C Library, Memory Allocation Tunables; libraries before 2.35 pass it over).
_LARGE_PAGES = "glibc.malloc.hugetlb=1"
_LONGEST_POLL = 1e6  # seconds
_PASSED_ON = (
    *("PATH", "HOME", "LANG", "LC_ALL", "LC_CTYPE", "LD_LIBRARY_PATH", "SYSTEMROOT"),
    PLAIN,
)


class FreshProcess(subprocess.Popen[bytes]):
    """A job's process that this process has started itself."""

    @property
    def parent(self) -> int:
        """This process."""
        return os.getpid()

    def kill_group(self) -> None:
        """End it and all that it started."""
        kill_group(self.pid)

    def wait(self, timeout: float | None = None) -> int:
        """Its exit code, as soon as it has one where the system tells (pidfd_open(2)).

        With a timeout the library only looks now and then.
        """
        if timeout is not None and self.returncode is None and hasattr(os, "pidfd_open"):
            with contextlib.suppress(OSError):
                told = os.pidfd_open(self.pid)
                try:
                    poll = select.poll()
                    poll.register(told, select.POLLIN)
                    ended = poll.poll(min(max(0.0, timeout), _LONGEST_POLL) * 1000)
                finally:
                    os.close(told)
                timeout = None if ended else 0.0
        return super().wait(timeout)

    def reap(self) -> None:
        """See its end."""
        self.wait()


def start_fresh(
    folder: Path, *, module: str = CHILD, arguments: Sequence[str] = ()
) -> FreshProcess:
    """Start an interpreter of its own for a job; as
    :class:`~filmhand.worker.job_process.StartProcess`.

    ``arguments`` are those of the program.
    """
    try:
        return fresh_process(folder, module=module, arguments=arguments)
    except OSError as error:
        from filmhand.errors import EnvironmentTrouble  # noqa: PLC0415 - see above
        from filmhand.worker.worker_words import WorkerWord  # noqa: PLC0415 - see above

        raise EnvironmentTrouble(WorkerWord.NOT_STARTED.say(why=error.strerror)) from error


def fresh_process(
    folder: Path | str, *, module: str = CHILD, arguments: Sequence[str] = ()
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
    # The folder that filmhand lies in.
    here = os.path.realpath(__file__).rsplit(os.sep, 3)[0] or os.sep
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

"""The process that forks jobs: it loads what they need, and then does nothing but fork and tell.

Run as ``python -m filmhand.worker.forked DESCRIPTOR``, the descriptor of a socket; see
:mod:`filmhand.worker.fork_server`. Each message there has the pipes of one job: its standard input,
output and errors, and one on which the job tells its number and this process how it ended. A fork
does what ``python -m MODULE`` does in a fresh process; it binds itself as that does.

This process has one thread, and opens no art: whatever it holds, every later job would hold.
"""

from __future__ import annotations

import contextlib
import json
import os
import runpy
import select
import signal
import socket
import sys
import tempfile
import traceback
from collections.abc import Callable
from typing import Any, NoReturn

from filmhand.worker.process import kill_group

_MESSAGE_BYTES = 1 << 16
RECORD = b"%11d\n"  # the number of a job's process, and later how it ended
_PIPES = 4


def fork_jobs(listener: socket.socket) -> None:
    """Fork jobs until nobody listens any more; then end those that run."""
    # Not with this module, of which those who talk to this process read what they are told.
    from filmhand.worker.warm import get_ready  # noqa: PLC0415

    get_ready()
    awake, wakes = os.pipe()
    for one in (awake, wakes):
        os.set_blocking(one, False)
    signal.signal(signal.SIGCHLD, lambda *_: None)
    signal.set_wakeup_fd(wakes, warn_on_full_buffer=False)
    jobs: dict[int, int] = {}
    poll = select.poll()
    for one in (listener.fileno(), awake):
        poll.register(one, select.POLLIN)
    while True:
        ready = {descriptor for descriptor, _ in poll.poll()}
        if awake in ready:
            with contextlib.suppress(BlockingIOError):
                os.read(awake, _MESSAGE_BYTES)
        tell_ends(jobs)
        if listener.fileno() in ready:
            message, given, _, _ = socket.recv_fds(listener, _MESSAGE_BYTES, _PIPES)
            if not message:
                break
            if len(given) == _PIPES:
                _fork(json.loads(message), given, jobs, [listener.fileno(), awake, wakes])
            for one in given[: _PIPES - 1]:
                os.close(one)
    for pid in jobs:
        kill_group(pid)
        os.kill(pid, signal.SIGKILL)  # one that has no group of its own yet


def tell_ends(jobs: dict[int, int]) -> None:
    """Tell of each job that has ended how it did, once nothing of it is left.

    Parameters
    ----------
    jobs : the descriptor on which to tell, by the number of the job's process; those that have
        ended are taken out
    """
    for pid in list(jobs):
        if os.waitid(os.P_PID, pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None:
            continue
        kill_group(pid)  # its number is not given to another group before it is waited for
        code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
        tells = jobs.pop(pid)
        with contextlib.suppress(BrokenPipeError):
            os.write(tells, RECORD % code)
        os.close(tells)


def _fork(asked: dict[str, Any], given: list[int], jobs: dict[int, int], own: list[int]) -> None:
    *pipes, tells = given
    try:
        pid = os.fork()
    except OSError:  # no more processes, or no memory: nothing is told, which says it
        os.close(tells)
        return
    if pid:
        jobs[pid] = tells
        return
    _run(lambda: _become_job(asked, pipes, tells, [*own, *jobs.values()]))


def _become_job(asked: dict[str, Any], pipes: list[int], tells: int, others: list[int]) -> None:
    """Turn this fork into what a fresh process would be, and run the module."""
    os.setsid()  # before the number is told: who knows it may end the group
    signal.set_wakeup_fd(-1)
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    for one in others:
        os.close(one)
    for number, pipe in enumerate(pipes):
        os.dup2(pipe, number)
        os.close(pipe)
    os.chdir(asked["folder"])
    os.environ["TMPDIR"] = asked["folder"]
    tempfile.tempdir = None
    os.write(tells, RECORD % os.getpid())
    os.close(tells)
    sys.argv[1:] = asked["arguments"]
    runpy.run_module(asked["module"], run_name="__main__", alter_sys=True)


def _run(job: Callable[[], None]) -> NoReturn:
    """Run it and end as an interpreter does, without undoing what belongs to the other process."""
    code: int | str | None = 1
    try:
        job()
        code = 0
    except SystemExit as end:
        code = end.code
    except KeyboardInterrupt:  # an interpreter that ends by it ends by the signal itself
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGINT)
    except BaseException:
        traceback.print_exc()
    if isinstance(code, str):
        sys.stderr.write(f"{code}\n")
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(code if isinstance(code, int) else int(code is not None))


if __name__ == "__main__":
    fork_jobs(socket.socket(fileno=int(sys.argv[1])))
    os._exit(0)

"""Jobs as forks of a process that has loaded everything a job needs: a start in milliseconds.

What loads is a process apart (:mod:`filmhand.worker.forked`), which has one thread and has never
seen art. Each job is a fork of it that binds and shuts itself in as a fresh process does. All forks
of one such process have their memory laid out alike, so it is replaced after some jobs, and after
some time. Where none is to be had, a job gets a fresh process.

What can be half-done when we die here: nothing. The other process sees the end of its socket, ends
the jobs and then itself; and jobs die with it.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import IO

from filmhand.worker.forked import RECORD
from filmhand.worker.job_process import JobProcess
from filmhand.worker.process import CHILD, kill_group, start_fresh, surroundings

SERVER = "filmhand.worker.forked"
_MOST_JOBS = 50  # forks of one process
_OLDEST = 600.0  # seconds after which the next job is its last
_STARTED_WITHIN = 60.0  # seconds, the loading of libraries on a busy computer included
_TOLD_WITHIN = 20.0  # seconds from the end of a killed job until it is told
_AGAIN_AFTER = 60.0  # seconds in which jobs get fresh processes once this has failed twice
_RECORD_BYTES = len(RECORD % 0)


class ForkedJob:
    """A job's process that another process has forked for this one.

    Parameters
    ----------
    pid, parent : the numbers of the job's process and of the one that forked it
    control : the descriptor on which its end is told
    pipes : those of its standard input, output and errors
    ended : called once, when its end is seen
    """

    def __init__(
        self, pid: int, parent: int, control: int, pipes: Sequence[int], ended: Callable[[], None]
    ) -> None:
        self.pid = pid
        self.parent = parent
        self.returncode: int | None = None
        self.stdin: IO[bytes] = os.fdopen(pipes[0], "wb")
        self.stdout: IO[bytes] = os.fdopen(pipes[1], "rb")
        self.stderr: IO[bytes] = os.fdopen(pipes[2], "rb")
        self._control = control
        self._ended = ended

    def poll(self) -> int | None:
        """The exit code, if it has ended."""
        return self._look(0.0)

    def wait(self, timeout: float) -> int:
        """The exit code; raises subprocess.TimeoutExpired if it has not ended by then."""
        code = self._look(timeout)
        if code is None:
            raise subprocess.TimeoutExpired(SERVER, timeout)
        return code

    def kill_group(self) -> None:
        """End it and all that it started; what it leaves running ends with it anyway."""
        if self.returncode is None:
            kill_group(self.pid)

    def reap(self) -> None:
        """See its end; who forked it and does not tell of that is ended as well."""
        if self._look(_TOLD_WITHIN) is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.parent, signal.SIGKILL)
            if self._look(_TOLD_WITHIN) is None:
                self._end(-signal.SIGKILL)  # as far as anybody can tell

    def _look(self, seconds: float) -> int | None:
        if self.returncode is None and _readable(self._control, seconds):
            told = os.read(self._control, _RECORD_BYTES)
            if not told:  # whoever forked it is gone, and so it ends
                kill_group(self.pid)
            self._end(int(told) if told else -signal.SIGKILL)
        return self.returncode

    def _end(self, code: int) -> None:
        os.close(self._control)
        self.returncode = code
        self._ended()


class _Server:
    """One process that forks jobs; ``running`` and ``given`` are guarded by whoever has it."""

    def __init__(self) -> None:
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            try:
                self.process = subprocess.Popen(
                    [sys.executable, "-P", "-m", SERVER, str(theirs.fileno())],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    cwd="/",
                    env=surroundings(),
                    pass_fds=[theirs.fileno()],
                    start_new_session=True,
                )
            except OSError:
                ours.close()
                raise
        self._socket = ours
        self._began = time.monotonic()
        self.given = 0
        self.running = 0
        self.retired = False

    @property
    def is_due(self) -> bool:
        """Whether another is to take its place."""
        return self.given >= _MOST_JOBS or time.monotonic() - self._began > _OLDEST

    def fork(
        self, folder: Path, module: str, arguments: Sequence[str], ended: Callable[[], None]
    ) -> ForkedJob | None:
        """A job's process; None where this one does not fork it."""
        asked = {"folder": str(folder), "module": module, "arguments": list(arguments)}
        ours: list[int] = []
        theirs: list[int] = []
        try:
            for is_written_here in (True, False, False, False):
                reads, writes = os.pipe()
                ours.append(writes if is_written_here else reads)
                theirs.append(reads if is_written_here else writes)
            socket.send_fds(self._socket, [json.dumps(asked).encode()], theirs)
            _close(theirs)
            *pipes, control = ours
            told = _readable(control, _STARTED_WITHIN) and os.read(control, _RECORD_BYTES)
            if told:
                ours = []
                return ForkedJob(int(told), self.process.pid, control, pipes, ended)
        except OSError:  # it is gone, or too much is open here
            pass
        finally:
            _close(theirs)
            _close(ours)
        return None

    def close(self) -> None:
        """End it, and all jobs that it has forked."""
        self._socket.close()
        self.process.kill()
        self.process.wait()


class ForkServer:
    """Starts the processes of jobs, for several threads at once: as forks wherever that works."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._current: _Server | None = None
        self._servers: set[_Server] = set()
        self._not_before = 0.0
        self._closed = False

    def warm(self) -> None:
        """Begin to load what jobs need, without waiting for it."""
        with self._lock:
            self._get()

    def start(
        self, folder: Path, *, module: str = CHILD, arguments: Sequence[str] = ()
    ) -> JobProcess:
        """Run a module as a program in a folder; as :class:`filmhand.worker.process.StartProcess`.

        ``arguments`` are those of the program.
        """
        for _ in range(2):  # one that was killed says nothing of the next
            with self._lock:
                server = self._get()
                if server is None:
                    break
                server.given += 1
                server.running += 1
                if server.is_due:
                    self._retire(server)
                    self._get()
            job = server.fork(folder, module, arguments, partial(self._ended, server))
            if job is not None:
                return job
            with self._lock:
                self._retire(server)
            self._ended(server)
        else:
            self._not_before = time.monotonic() + _AGAIN_AFTER
        return start_fresh(folder, module=module, arguments=arguments)

    def close(self) -> None:
        """End what was loaded; jobs that still run end with it, and later ones are fresh."""
        with self._lock:
            self._closed, self._current = True, None
            servers, self._servers = self._servers, set()
        for server in servers:
            server.close()

    def _get(self) -> _Server | None:
        """The one that forks now, or None where a fresh process is better."""
        if self._closed or sys.platform != "linux" or time.monotonic() < self._not_before:
            return None
        if self._current is not None and self._current.process.poll() is not None:
            self._retire(self._current)
        if self._current is None:
            with contextlib.suppress(OSError):  # a fresh process will tell why
                self._current = _Server()
                self._servers.add(self._current)
        return self._current

    def _retire(self, server: _Server) -> None:
        """Let it fork no more; it ends with the last of its jobs."""
        server.retired = True
        if self._current is server:
            self._current = None
        self._end_if_over(server)

    def _end_if_over(self, server: _Server) -> None:
        if server.retired and not server.running and server in self._servers:
            self._servers.remove(server)
            server.close()

    def _ended(self, server: _Server) -> None:
        with self._lock:
            server.running -= 1
            self._end_if_over(server)


def _close(descriptors: list[int]) -> None:
    while descriptors:
        os.close(descriptors.pop())


def _readable(descriptor: int, seconds: float) -> bool:
    """Whether something can be read, or the other end is closed, within some time."""
    poll = select.poll()
    poll.register(descriptor, select.POLLIN)
    return bool(poll.poll(max(0.0, seconds) * 1000))

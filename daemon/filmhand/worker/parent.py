"""The parent's side of a worker: a job in a process of its own, so that no picture can harm us.

The request goes as JSON to the child's standard input, and its answer comes as JSON from its
standard output; the child (:mod:`filmhand.worker.child`) sets its own limits before it opens the
picture. Whatever the child does, the parent gets films, a refusal, an error of the environment, or
the statement that the worker died.

This module imports nothing heavy: the parent never holds an array library or a decoder in memory.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import IO, TypeVar

from filmhand.errors import EnvironmentTrouble, FilmhandError
from filmhand.kernels.loops import PLAIN
from filmhand.language import spoken
from filmhand.profile.model import Profile
from filmhand.request import ArtSize, GangResult, JobRequest, JobResult, SheetSpace, TellProgress
from filmhand.worker.wire import (
    Json,
    gang_from_json,
    progress_from_json,
    refusal_from_json,
    request_to_json,
    result_from_json,
    sizes_to_json,
    space_from_json,
)
from filmhand.worker.worker_words import WorkerWord

_Answer = TypeVar("_Answer")

CHILD = "filmhand.worker.child"
_STDERR_BYTES = 64 * 1024
_LONGEST_LINE = 200  # bytes, of progress
_ANSWER_BYTES = 64 * 1024 * 1024
# Signals that no library raises over a picture, and no limit of the job's own (getrlimit(2)).
_FROM_OUTSIDE = {
    signal.SIGKILL,
    signal.SIGTERM,
    signal.SIGINT,
    signal.SIGHUP,
    signal.SIGQUIT,
    signal.SIGUSR1,
    signal.SIGUSR2,
    signal.SIGALRM,
}
_PASSED_ON = (
    *("PATH", "HOME", "LANG", "LC_ALL", "LC_CTYPE", "LD_LIBRARY_PATH", "SYSTEMROOT"),
    PLAIN,
)


@dataclass(frozen=True, slots=True)
class WorkerLimits:
    """What one job may use: seconds of wall clock, bytes of memory."""

    seconds: float
    memory: int

    @classmethod
    def of(cls, profile: Profile) -> WorkerLimits:
        """What the profile allows a job."""
        return cls(seconds=profile.limits.seconds, memory=profile.limits.memory)


class WorkerDied(FilmhandError):
    """The child ended by signal, limit, timeout or bug.

    Attributes
    ----------
    how : which of these, for the log
    is_bug : True where the program itself failed and nothing points to the art
    """

    def __init__(self, how: str, *, is_bug: bool = False) -> None:
        super().__init__(how)
        self.how = how
        self.is_bug = is_bug


class WorkerKilled(EnvironmentTrouble):
    """The child was ended from outside: by a person, or by the system for want of memory."""

    def __init__(self, how: str) -> None:
        super().__init__(WorkerWord.ENDED_FROM_OUTSIDE.say(how=how))
        self.how = how


class Interrupted(FilmhandError):
    """The parent itself ended the child, to stop at once."""


class Workers:
    """The children that are running, so that a service that must stop at once can end them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: set[subprocess.Popen[bytes]] = set()
        self.stopped = False

    def add(self, child: subprocess.Popen[bytes]) -> None:
        """Register a child; one that starts too late is ended."""
        with self._lock:
            self._running.add(child)
            if self.stopped:
                kill(child)

    def remove(self, child: subprocess.Popen[bytes]) -> None:
        """Forget a child that has ended."""
        with self._lock:
            self._running.discard(child)

    def stop(self) -> None:
        """End all children now; their jobs are interrupted, which counts against nobody."""
        with self._lock:
            self.stopped = True
            for child in self._running:
                kill(child)


def usable_cores() -> int:
    """Processor cores that this process may use, which can be fewer than the machine has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def kill(child: subprocess.Popen[bytes]) -> None:
    """End a child and all that it started."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(child.pid, signal.SIGKILL)


def run_in_worker(
    request: JobRequest,
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
    started: subprocess.Popen[bytes] | None = None,
) -> JobResult:
    """Run one job in a fresh process, or in one that :func:`start_worker` has begun.

    Raises
    ------
    Refused
        The art gets no film.
    EnvironmentTrouble
        Disk or memory of this computer failed.
    WorkerDied
        Signal, limit, timeout, bug, or an answer that makes no sense.
    WorkerKilled
        Ended by somebody else than the art or this process.
    Interrupted
        `workers` was stopped.
    """
    return ask_worker(
        {"task": "films", "requests": [request_to_json(request)]},
        lambda answer: result_from_json(answer, request.out),
        request=request,
        limits=limits,
        workers=workers,
        module=module,
        started=started,
    )


def run_gang(
    requests: Sequence[JobRequest],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
) -> GangResult:
    """One sheet of as many of the requests as fit, in a fresh process.

    Parameters
    ----------
    requests : in the order of their coming, of one profile; the first one's ``out`` takes all files
    limits : of one job; time is counted for each of them

    Raises
    ------
    Refused, EnvironmentTrouble, WorkerDied, Interrupted
        as :func:`run_in_worker`; a refusal is then one of all together
    """
    return ask_worker(
        {"task": "gang", "requests": [request_to_json(request) for request in requests]},
        lambda answer: gang_from_json(answer, requests),
        request=requests[0],
        limits=_together(limits, requests),
        workers=workers,
        module=module,
    )


def run_sheet_space(
    requests: Sequence[JobRequest],
    known: Mapping[int, ArtSize | None],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
) -> SheetSpace:
    """Who finds room on one sheet; only art whose size is not ``known`` is opened.

    Raises as :func:`run_gang`.
    """
    return ask_worker(
        {
            "task": "space",
            "requests": [request_to_json(request) for request in requests],
            "known": sizes_to_json(known),
        },
        lambda answer: space_from_json(answer, len(requests)),
        request=requests[0],
        limits=_together(limits, requests),
        workers=workers,
        module=module,
    )


def _together(limits: WorkerLimits, requests: Sequence[JobRequest]) -> WorkerLimits:
    return WorkerLimits(limits.seconds * len(requests), limits.memory)


def ask_worker(
    question: Json,
    read: Callable[[Json], _Answer],
    *,
    request: JobRequest,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
    started: subprocess.Popen[bytes] | None = None,
) -> _Answer:
    """Put a question in JSON to a worker, and read its answer; raises as :func:`run_in_worker`.

    ``request`` tells folders and threads; ``read`` may raise what shows that an answer makes no
    sense: ValueError, KeyError, TypeError or AttributeError.
    """
    workers = workers or Workers()
    question = {**question, "parent": os.getpid(), "memory": limits.memory, "language": spoken()}
    question["cpu_seconds"] = int(limits.seconds * max(1, request.threads)) + 1
    child = started or start_worker(request.scratch, module=module)
    workers.add(child)
    try:
        _ask(child, question)
        answer, said, late = _listen(child, limits.seconds, request.progress)
    finally:
        kill(child)  # also what the child may have left running
        child.wait()
        workers.remove(child)
    if workers.stopped:
        raise Interrupted
    return _understand(answer, said, late, child.returncode, read)


def start_worker(scratch: Path, *, module: str = CHILD) -> subprocess.Popen[bytes]:
    """Begin a worker; it gets ready while the caller still puts its request together.

    Raises EnvironmentTrouble where this computer cannot start another process.
    """
    passed = {k: v for k, v in os.environ.items() if k in _PASSED_ON or k.startswith("PYTHON")}
    here = str(Path(__file__).resolve().parent.parent.parent)
    search = [here, *filter(None, [passed.get("PYTHONPATH")])]
    environment = passed | {
        "PYTHONPATH": os.pathsep.join(search),
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "TMPDIR": str(scratch),
    }
    try:
        return subprocess.Popen(
            [sys.executable, "-P", "-m", module],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=scratch,
            env=environment,
            start_new_session=True,
        )
    except OSError as error:
        raise EnvironmentTrouble(WorkerWord.NOT_STARTED.say(why=error.strerror)) from error


def _ask(child: subprocess.Popen[bytes], question: Json) -> None:
    """Send the request; a child that died before reading it is told by its exit code."""
    assert child.stdin is not None
    with contextlib.suppress(BrokenPipeError), child.stdin as pipe:
        pipe.write(json.dumps(question).encode())


def _listen(
    child: subprocess.Popen[bytes], seconds: float, tell: TellProgress
) -> tuple[bytes, str, bool]:
    """The answer, what was said on stderr (cut to its end), and whether the time ran out."""
    assert child.stdout is not None
    assert child.stderr is not None
    kept: dict[str, bytes] = {"answer": b"", "said": b""}
    readers = [
        threading.Thread(target=_drain, args=(pipe, kept, key, size, hear), daemon=True)
        for pipe, key, size, hear in (
            (child.stdout, "answer", _ANSWER_BYTES, partial(_hear, tell)),
            (child.stderr, "said", _STDERR_BYTES, None),
        )
    ]
    for reader in readers:
        reader.start()
    late = not _ended(child, readers[0], time.monotonic() + seconds)
    kill(child)
    for reader in readers:
        reader.join()
    return kept["answer"], kept["said"].decode("utf-8", "backslashreplace"), late


def _ended(child: subprocess.Popen[bytes], answer: threading.Thread, deadline: float) -> bool:
    """Wait until the child has ended, or the deadline has come (False).

    The end of the answer tells it at once. The process is looked at only now and then, in case
    something that it left running keeps the pipe open.
    """
    while answer.is_alive() and child.poll() is None and time.monotonic() < deadline:
        answer.join(timeout=min(0.5, max(0.0, deadline - time.monotonic())))
    try:
        child.wait(timeout=max(0.0, deadline - time.monotonic()))
    except subprocess.TimeoutExpired:
        return False
    return True


def _drain(
    pipe: IO[bytes],
    kept: dict[str, bytes],
    key: str,
    size: int,
    hear: Callable[[bytearray], None] | None,
) -> None:
    """Read a pipe to its end, so that the child never blocks, and keep the last `size` bytes.

    `hear` is shown what is kept so far, and takes off what it understands.
    """
    with pipe:
        data = bytearray()
        while block := os.read(pipe.fileno(), 65536):
            data += block
            if hear is not None and b"\n" in block:
                hear(data)
            if len(data) > 2 * size:
                del data[:-size]
        kept[key] = bytes(data[-size:])


def _hear(tell: TellProgress, data: bytearray) -> None:
    """Take the lines of progress off the beginning; whatever else stands there is the answer."""
    while (end := data.find(b"\n", 0, _LONGEST_LINE)) >= 0:
        try:
            step, behind = progress_from_json(json.loads(data[:end]))
        except (ValueError, KeyError, TypeError):
            return
        del data[: end + 1]
        tell(step, behind)


def _understand(
    answer: bytes, said: str, late: bool, code: int, read: Callable[[Json], _Answer]
) -> _Answer:
    if late:
        raise WorkerDied(f"{WorkerWord.TOOK_TOO_LONG.say()}\n{said}".strip())
    if -code in _FROM_OUTSIDE:
        raise WorkerKilled(signal.Signals(-code).name)
    if code != 0:
        raise WorkerDied(f"{_ending(code)}\n{said}".strip())
    try:
        data = json.loads(answer)
        if "ok" in data:
            return read(data["ok"])
        if "refused" in data:
            raise refusal_from_json(data["refused"])
        if "environment" in data:
            raise EnvironmentTrouble(str(data["environment"]))
        how = str(data["bug"])
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        how = WorkerWord.MAKES_NO_SENSE.say(error=error)
    raise WorkerDied(f"{how}\n{said}".strip(), is_bug=True)


def _ending(code: int) -> str:
    if code < 0:
        with contextlib.suppress(ValueError):
            return WorkerWord.BY_SIGNAL.say(signal=signal.Signals(-code).name)
    return WorkerWord.WITH_CODE.say(code=code)

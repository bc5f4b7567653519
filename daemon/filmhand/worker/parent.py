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
import signal
import threading
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from filmhand.errors import EnvironmentTrouble, FilmhandError, took_too_much_time
from filmhand.language import spoken
from filmhand.profile.model import Profile
from filmhand.request import ArtSize, GangResult, JobRequest, JobResult, SheetSpace
from filmhand.values import dataclass
from filmhand.worker.job_process import JobProcess, StartProcess
from filmhand.worker.listening import listen
from filmhand.worker.process import CHILD, start_fresh
from filmhand.worker.wire import (
    Json,
    gang_from_json,
    refusal_from_json,
    request_to_json,
    result_from_json,
    sizes_to_json,
    space_from_json,
)
from filmhand.worker.worker_words import WorkerWord

_Answer = TypeVar("_Answer")

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
    """The child ended by signal or bug.

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
        self._running: set[JobProcess] = set()
        self.stopped = False

    def add(self, child: JobProcess) -> None:
        """Register a child; one that starts too late is ended."""
        with self._lock:
            self._running.add(child)
            if self.stopped:
                child.kill_group()

    def remove(self, child: JobProcess) -> None:
        """Forget a child that has ended."""
        with self._lock:
            self._running.discard(child)

    def stop(self) -> None:
        """End all children now; their jobs are interrupted, which counts against nobody."""
        with self._lock:
            self.stopped = True
            for child in self._running:
                child.kill_group()


def run_in_worker(
    request: JobRequest,
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
    start: StartProcess = start_fresh,
) -> JobResult:
    """Run one job in a process of its own, which ``start`` gives.

    Raises
    ------
    Refused
        The art gets no film, as the child says, or because the time ran out.
    EnvironmentTrouble
        Disk or memory of this computer failed.
    WorkerDied
        Signal, limit of the system, bug, or an answer that makes no sense.
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
        start=start,
    )


def run_gang(
    requests: Sequence[JobRequest],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
    start: StartProcess = start_fresh,
) -> GangResult:
    """One sheet of as many of the requests as fit, in a process of its own.

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
        start=start,
    )


def run_sheet_space(
    requests: Sequence[JobRequest],
    known: Mapping[int, ArtSize | None],
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = CHILD,
    start: StartProcess = start_fresh,
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
        start=start,
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
    start: StartProcess = start_fresh,
) -> _Answer:
    """Put a question in JSON to a worker, and read its answer; raises as :func:`run_in_worker`.

    ``request`` tells folders and threads; ``read`` may raise what shows that an answer makes no
    sense: ValueError, KeyError, TypeError or AttributeError.
    """
    workers = workers or Workers()
    child = start(request.scratch, module=module)
    threads = max(1, request.threads)
    question = {**question, "parent": child.parent, "memory": limits.memory, "language": spoken()}
    question |= {"threads": threads, "cpu_seconds": int(limits.seconds * threads) + 1}
    question["folder"] = str(request.scratch)
    workers.add(child)
    try:
        _ask(child, question)
        answer, said, late = listen(child, limits.seconds, request.progress)
    finally:
        child.kill_group()  # also what the child may have left running
        child.reap()
        workers.remove(child)
    if workers.stopped:
        raise Interrupted
    if late or child.returncode == -signal.SIGXCPU:
        raise took_too_much_time(WorkerWord.THE_ART.say(), limits.seconds)
    assert child.returncode is not None
    return _understand(answer, said, child.returncode, read)


def _ask(child: JobProcess, question: Json) -> None:
    """Send the request; a child that died before reading it is told by its exit code."""
    assert child.stdin is not None
    with contextlib.suppress(BrokenPipeError), child.stdin as pipe:
        pipe.write(json.dumps(question).encode())


def _understand(answer: bytes, said: str, code: int, read: Callable[[Json], _Answer]) -> _Answer:
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

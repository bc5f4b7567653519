"""One job in a process of its own, so that no picture can harm the service.

The parent (:func:`run_in_worker`) writes the request as JSON to the child's standard input and
reads the answer as JSON from its standard output. The child sets its own limits before it opens
the picture. Whatever the child does, the parent gets films, a refusal, an error
of the surroundings, or the statement that the worker died.

This module imports nothing heavy: the parent never holds numpy or a decoder in memory.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import importlib
import json
import os
import resource
import signal
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, TypeVar

from filmhand.errors import EnvironmentTrouble, FilmhandError, Quantity, Reason, Refused

if TYPE_CHECKING:
    from filmhand.profile.model import Profile

Answer = TypeVar("Answer")

_STDERR_BYTES = 64 * 1024
_ANSWER_BYTES = 64 * 1024 * 1024
_FILE_BYTES = 4 * 2**30
_OPEN_FILES = 64
_PR_SET_PDEATHSIG = 1
_PR_SET_NO_NEW_PRIVS = 38
_PASSED_ON = ("PATH", "HOME", "LANG", "LC_ALL", "LC_CTYPE", "LD_LIBRARY_PATH", "SYSTEMROOT")
_SPACE = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


@dataclass(frozen=True, slots=True)
class Request:
    """What the child is asked to do; all paths are local copies that it may read or fill."""

    art: Path
    name: str
    profile: dict[str, Any]  # a snapshot of :mod:`filmhand.profile.read.load`
    ticket: Path | None
    mask: Path | None
    out: Path
    scratch: Path
    threads: int
    job: str
    tiles: Path | None = None


@dataclass(frozen=True, slots=True)
class WorkerLimits:
    """What one job may use: seconds of wall clock, bytes of memory."""

    seconds: float
    memory: int

    @classmethod
    def of(cls, profile: Profile) -> WorkerLimits:
        """What the profile allows a job."""
        return cls(seconds=profile.limits.seconds, memory=profile.limits.memory)


@dataclass(frozen=True, slots=True)
class FinishedFilm:
    """One film in the request's `out`: its files by format, its proof, its record."""

    suffix: str
    files: dict[str, Path]
    proof: Path
    record: dict[str, Any]


@dataclass(frozen=True, slots=True)
class JobResult:
    """All films of one job."""

    films: list[FinishedFilm] = field(default_factory=list)


class WorkerDied(FilmhandError):
    """The child ended by signal, limit, timeout or bug; `how` says which, for the log."""

    def __init__(self, how: str) -> None:
        super().__init__(how)
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


# --- the parent's side -------------------------------------------------------------------------


def request_for(
    profile: Profile,
    *,
    art: Path,
    name: str,
    out: Path,
    scratch: Path,
    ticket: Path | None = None,
    mask: Path | None = None,
    threads: int = 1,
    job: str = "",
    tiles: Path | None = None,
) -> Request:
    """A request with the profile as it is now."""
    from filmhand.profile.read.load import to_snapshot  # noqa: PLC0415

    return Request(art, name, to_snapshot(profile), ticket, mask, out, scratch, threads, job, tiles)


def run_in_worker(
    request: Request,
    *,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str = "filmhand.worker.process",
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
    Interrupted
        `workers` was stopped.
    """

    def read(answer: dict[str, Any]) -> JobResult:
        return JobResult([film_from_json(film, request.out) for film in answer["films"]])

    return ask_worker(
        request_to_json(request),
        read,
        request=request,
        limits=limits,
        workers=workers,
        module=module,
        started=started,
    )


def ask_worker(
    question: dict[str, Any],
    read: Callable[[dict[str, Any]], Answer],
    *,
    request: Request,
    limits: WorkerLimits,
    workers: Workers | None = None,
    module: str,
    started: subprocess.Popen[bytes] | None = None,
) -> Answer:
    """Put a question in JSON to a worker, and read its answer; raises as :func:`run_in_worker`.

    ``request`` tells folders and threads; ``read`` may raise what shows that an answer makes no
    sense: ValueError, KeyError, TypeError or AttributeError.
    """
    workers = workers or Workers()
    question = {**question, "parent": os.getpid(), "memory": limits.memory}
    question["cpu_seconds"] = int(limits.seconds * max(1, request.threads)) + 1
    child = started or start_worker(request.scratch, module=module)
    workers.add(child)
    try:
        _ask(child, question)
        answer, said, late = _listen(child, limits.seconds)
    finally:
        kill(child)  # also what the child may have left running
        child.wait()
        workers.remove(child)
    if workers.stopped:
        raise Interrupted
    return _understand(answer, said, late, child.returncode, read)


def request_to_json(request: Request) -> dict[str, Any]:
    """A request as the question holds it."""
    keys = ("art", "name", "profile", "ticket", "mask", "out", "scratch", "threads", "job", "tiles")
    values = {key: getattr(request, key) for key in keys}
    return {key: str(v) if isinstance(v, Path) else v for key, v in values.items()}


def start_worker(
    scratch: Path, *, module: str = "filmhand.worker.process"
) -> subprocess.Popen[bytes]:
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
        raise EnvironmentTrouble(f"No worker could be started: {error.strerror}.") from error


def _ask(child: subprocess.Popen[bytes], question: dict[str, Any]) -> None:
    """Send the request; a child that died before reading it is told by its exit code."""
    assert child.stdin is not None
    with contextlib.suppress(BrokenPipeError), child.stdin as pipe:
        pipe.write(json.dumps(question).encode())


def _listen(child: subprocess.Popen[bytes], seconds: float) -> tuple[bytes, str, bool]:
    """The answer, what was said on stderr (cut to its end), and whether the time ran out."""
    assert child.stdout is not None
    assert child.stderr is not None
    kept: dict[str, bytes] = {"answer": b"", "said": b""}
    readers = [
        threading.Thread(target=_drain, args=(pipe, kept, key, size), daemon=True)
        for pipe, key, size in (
            (child.stdout, "answer", _ANSWER_BYTES),
            (child.stderr, "said", _STDERR_BYTES),
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


def _drain(pipe: IO[bytes], kept: dict[str, bytes], key: str, size: int) -> None:
    """Read a pipe to its end, so that the child never blocks, and keep the last `size` bytes."""
    with pipe:
        data = bytearray()
        while block := os.read(pipe.fileno(), 65536):
            data += block
            if len(data) > 2 * size:
                del data[:-size]
        kept[key] = bytes(data[-size:])


def _understand(
    answer: bytes, said: str, late: bool, code: int, read: Callable[[dict[str, Any]], Answer]
) -> Answer:
    if late:
        raise WorkerDied(f"it took longer than the profile allows\n{said}".strip())
    if code != 0:
        raise WorkerDied(f"{_ending(code)}\n{said}".strip())
    try:
        data = json.loads(answer)
        if "ok" in data:
            return read(data["ok"])
        if "refused" in data:
            raise refusal_from_json(data["refused"])
        if "surroundings" in data:
            raise EnvironmentTrouble(str(data["surroundings"]))
        how = str(data["bug"])
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise WorkerDied(f"its answer makes no sense ({error})\n{said}".strip()) from error
    raise WorkerDied(f"{how}\n{said}".strip())


def _ending(code: int) -> str:
    if code < 0:
        with contextlib.suppress(ValueError):
            return f"it ended by {signal.Signals(-code).name}"
    return f"it ended with code {code}"


def film_from_json(data: dict[str, Any], out: Path) -> FinishedFilm:
    """A film as an answer tells of it; ValueError unless its files lie in `out` itself."""
    return FinishedFilm(
        suffix=str(data["suffix"]),
        files={str(form): _inside(out, name) for form, name in data["files"].items()},
        proof=_inside(out, data["proof"]),
        record=dict(data["record"]),
    )


def _inside(out: Path, name: str) -> Path:
    """The file that the child names; it must lie in `out` itself and be a regular file."""
    path = out / name
    if path.parent != out or path.is_symlink() or not path.is_file():
        raise ValueError(f"{name!r} is not a file in the output folder")
    return path


def refusal_from_json(data: dict[str, Any]) -> Refused:
    """The refusal that :func:`refusal_to_json` wrote."""
    found, needed = data["found"], data["needed"]
    return Refused(
        Reason(data["reason"]),
        str(data["say"]),
        str(data["do"]),
        found=Quantity(**found) if found else None,
        needed=Quantity(**needed) if needed else None,
    )


# --- the child's side --------------------------------------------------------------------------


def main(make: Callable[[dict[str, Any]], dict[str, Any]] | None = None) -> int:
    """Read one request, set the limits, make the films, answer."""
    answer_to = os.dup(1)
    os.dup2(2, 1)  # a library that prints must not spoil the answer
    if make is None:
        # Loaded while the parent still puts the request together; nothing is decoded before the
        # limits stand.
        importlib.import_module("filmhand.pipeline.make")
    question = json.loads(sys.stdin.buffer.read())
    set_limits(question)
    answer = answer_of(make or _make, question)
    with os.fdopen(answer_to, "wb") as pipe:
        pipe.write(json.dumps(answer).encode())
    return 0


def set_limits(question: dict[str, Any]) -> None:
    """Bind this process: memory, processor time, file size, files, no core, no new rights."""
    cpu = int(question["cpu_seconds"])
    wanted = {
        resource.RLIMIT_AS: int(question["memory"]),
        resource.RLIMIT_CPU: cpu,
        resource.RLIMIT_FSIZE: _FILE_BYTES,
        resource.RLIMIT_NOFILE: _OPEN_FILES,
        resource.RLIMIT_CORE: 0,
    }
    for limit, value in wanted.items():
        most = resource.getrlimit(limit)[1]
        soft = value if most == resource.RLIM_INFINITY else min(value, most)
        resource.setrlimit(limit, (soft, soft))
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # so that it is an error and not a death
    libc = ctypes.CDLL(None, use_errno=True)
    if hasattr(libc, "prctl"):
        libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
        libc.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
        if os.getppid() != question["parent"]:
            os._exit(1)  # the parent died before this process could ask to die with it


def answer_of(
    make: Callable[[dict[str, Any]], dict[str, Any]], question: dict[str, Any]
) -> dict[str, Any]:
    """The answer as JSON: ok, refused, surroundings or bug."""
    try:
        return {"ok": make(question)}
    except Refused as refused:
        return {"refused": refusal_to_json(refused)}
    except MemoryError:
        return {"refused": refusal_to_json(too_big(question["memory"]))}
    except EnvironmentTrouble as error:
        return {"surroundings": str(error), "errno": None}
    except OSError as error:
        return _system_error(error)
    except Exception:
        return {"bug": traceback.format_exc()}


def _system_error(error: OSError) -> dict[str, Any]:
    if error.errno in _SPACE:
        say = "There is no space left on the local disk; make room and filmhand goes on."
    elif error.errno in {errno.EIO, errno.EROFS, errno.ENOMEM}:
        say = f"The local disk failed: {error}."
    else:
        return {"bug": traceback.format_exc()}
    return {"surroundings": say, "errno": error.errno}


def too_big(memory: int) -> Refused:
    """The refusal of art that needs more memory than its profile allows."""
    return Refused(
        Reason.TOO_BIG,
        f"The art needs more memory than this profile allows ({memory / 2**30:.1f} GiB).",
        "Save it with fewer pixels, or ask for a higher memory limit in the profile.",
        found=Quantity("more", "GiB"),
        needed=Quantity(round(memory / 2**30, 2), "GiB"),
    )


def refusal_to_json(refused: Refused) -> dict[str, Any]:
    """A refusal as an answer carries it."""

    def pair(quantity: Quantity | None) -> dict[str, Any] | None:
        return None if quantity is None else {"value": quantity.value, "unit": quantity.unit}

    return {
        "reason": refused.reason.value,
        "say": refused.say,
        "do": refused.do,
        "found": pair(refused.found),
        "needed": pair(refused.needed),
    }


def _make(question: dict[str, Any]) -> dict[str, Any]:
    from filmhand.pipeline.make import make_films  # noqa: PLC0415

    return {"films": [film_to_json(film) for film in make_films(job_request(question)).films]}


def job_request(question: dict[str, Any]) -> Any:
    """The :class:`filmhand.pipeline.request.JobRequest` that a question tells of."""
    from filmhand.pipeline.request import JobRequest  # noqa: PLC0415
    from filmhand.profile.read.load import from_snapshot  # noqa: PLC0415

    def path(key: str) -> Path | None:
        return None if question[key] is None else Path(question[key])

    return JobRequest(
        art=Path(question["art"]),
        name=question["name"],
        profile=from_snapshot(question["profile"]),
        ticket=path("ticket"),
        mask=path("mask"),
        out=Path(question["out"]),
        scratch=Path(question["scratch"]),
        threads=question["threads"],
        job=question["job"],
        tiles=path("tiles"),
    )


def film_to_json(film: Any) -> dict[str, Any]:
    """A finished film of a job as the answer holds it."""
    return {
        "suffix": film.suffix,
        "files": {str(form): file.name for form, file in film.files.items()},
        "proof": film.proof.name,
        "record": film.record,
    }


if __name__ == "__main__":
    code = main()
    sys.stderr.flush()
    os._exit(
        code
    )  # the answer is given; taking a large heap apart would only keep the film waiting

"""The child's side of a worker: limits and bounds first, then the films, then the answer.

:mod:`filmhand.worker.job` is the program that runs this; see :mod:`filmhand.worker.parent`.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import gc
import importlib
import json
import os
import resource
import signal
import sys
import traceback
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

from filmhand.errors import (
    EnvironmentTrouble,
    Refused,
    needs_too_large_a_file,
    needs_too_much_memory,
)
from filmhand.language import speaking
from filmhand.request import LARGEST_FILE, JobRequest, Step
from filmhand.speaking_pool import work_alone
from filmhand.worker.sandbox import confine
from filmhand.worker.wire import (
    Json,
    gang_to_json,
    progress_to_json,
    refusal_to_json,
    request_from_json,
    result_to_json,
    sizes_from_json,
    space_to_json,
)
from filmhand.worker.worker_words import WorkerWord

_OPEN_FILES = 64
_STACK = 8 * 2**20  # bytes of address space that each further thread keeps and hardly uses
# Of a job with less memory than this all is loaded before it is bound: modules that find no room
# end the process in ways of their own, where art is refused in plain words.
_ROOM_TO_LOAD = 512 * 2**20
_CPU_GRACE = 5  # seconds from SIGXCPU to SIGKILL
_OUT_OF_MEMORY = Path("/proc/self/oom_score_adj")  # proc_pid_oom_score_adj(5)
_PR_SET_PDEATHSIG = 1
_PR_SET_NO_NEW_PRIVS = 38
# Memory that steps of a film have let go of goes back to the system, from blocks of this size on at
# once: left to itself, the C library keeps more the larger the blocks were, and does so for each
# thread. Options of mallopt(3), from malloc.h: M_TRIM_THRESHOLD, M_MMAP_THRESHOLD, M_ARENA_MAX.
_ALLOCATION = {-1: 8 * 2**20, -3: 8 * 2**20, -8: 2}
_SPACE = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


def answer_parent(make: Callable[[Json], Json] | None = None) -> int:
    """Read one question, set the limits, do what is asked, answer; the exit code.

    ``make`` takes the place of what the pipeline does, for tests.
    """
    answer_to = os.dup(1)
    os.dup2(2, 1)  # a library that prints must not spoil the answer
    if make is None:
        # What opens art is loaded while the parent still puts the request together, and the rest
        # while the art is decoded (pipeline/opening.py); nothing is decoded before the limits
        # stand. All of it stays, so nothing is to be collected, neither now nor later.
        gc.disable()
        importlib.import_module("filmhand.pipeline.make")
        gc.freeze()
        gc.enable()
    question = json.loads(sys.stdin.buffer.read())
    if make is None and int(question["memory"]) < _ROOM_TO_LOAD:
        from filmhand.pipeline.opening import load_rest  # noqa: PLC0415 - with what opens art

        load_rest()
    _work_in(question["folder"])
    set_limits(question)
    with os.fdopen(answer_to, "wb") as pipe:
        with speaking(question.get("language")):
            answer = answer_of(lambda asked: _bound(asked, make, pipe), question)
        pipe.write(json.dumps(answer).encode())
    return 0


def _work_in(folder: str) -> None:
    """Make it this process's own: one that was started ahead knows of it only now."""
    os.chdir(folder)
    os.environ["TMPDIR"] = folder
    if "tempfile" in sys.modules:
        import tempfile  # noqa: PLC0415 - where nobody has loaded it, nobody has asked for a folder

        tempfile.tempdir = None


def set_limits(question: Json) -> None:
    """Bind this process: memory, processor time, file size, files, no core, no new rights.

    What it frees is not kept for later, and where it has one core it starts no threads.
    """
    if int(question["threads"]) == 1:
        work_alone()
    cpu = int(question["cpu_seconds"])
    wanted = {
        resource.RLIMIT_AS: int(question["memory"]) + (int(question["threads"]) - 1) * _STACK,
        resource.RLIMIT_CPU: cpu,
        resource.RLIMIT_FSIZE: LARGEST_FILE,
        resource.RLIMIT_NOFILE: _OPEN_FILES,
        resource.RLIMIT_CORE: 0,
    }
    for limit, value in wanted.items():
        most = resource.getrlimit(limit)[1]
        # Where both limits of the processor's time are the same, SIGKILL comes, as from outside.
        later = _CPU_GRACE if limit == resource.RLIMIT_CPU else 0
        if most == resource.RLIM_INFINITY:
            resource.setrlimit(limit, (value, value + later))
        else:
            soft = min(value, max(1, most - later), most)
            resource.setrlimit(limit, (soft, min(soft + later, most)))
    with contextlib.suppress(OSError, ValueError):
        # If memory runs out this process shall end, and not the service, whose score it has so far.
        score = int(_OUT_OF_MEMORY.read_text(encoding="ascii"))
        _OUT_OF_MEMORY.write_text(str(min(1000, score + 500)), encoding="ascii")
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # so that it is an error and not a death
    libc = ctypes.CDLL(None, use_errno=True)
    if hasattr(libc, "mallopt"):
        for option, value in _ALLOCATION.items():
            libc.mallopt(option, value)
    if hasattr(libc, "prctl"):
        libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
        libc.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
        if os.getppid() != question["parent"]:
            os._exit(1)  # the parent died before this process could ask to die with it


def answer_of(make: Callable[[Json], Json], question: Json) -> Json:
    """The answer as JSON: ok, refused, environment or bug."""
    try:
        return {"ok": make(question)}
    except Refused as refused:
        return {"refused": refusal_to_json(refused)}
    except MemoryError:
        too_much = needs_too_much_memory(WorkerWord.THE_ART.say(), question["memory"])
        return {"refused": refusal_to_json(too_much)}
    except Exception as error:
        if _is_too_large_a_file(error):
            too_large = needs_too_large_a_file(WorkerWord.THE_ART.say(), LARGEST_FILE)
            return {"refused": refusal_to_json(too_large)}
        why = _environment(error)
        return {"bug": traceback.format_exc()} if why is None else {"environment": why}


def _is_too_large_a_file(error: Exception) -> bool:
    """Whether a file met the limit that every job has, and not a lower one of this computer."""
    most = resource.getrlimit(resource.RLIMIT_FSIZE)[0]
    return isinstance(error, OSError) and error.errno == errno.EFBIG and most == LARGEST_FILE


def _environment(error: Exception) -> str | None:
    """What this computer lacks; None where it lacks nothing, so that the program is at fault."""
    if isinstance(error, EnvironmentTrouble):
        return str(error)
    code = error.errno if isinstance(error, OSError) else None
    if code in _SPACE:
        return WorkerWord.NO_SPACE.say()
    broken = code in {errno.EIO, errno.EROFS, errno.ENOMEM}
    return WorkerWord.DISK_FAILED.say(error=error) if broken else None


def _files_of(request: JobRequest) -> list[Path]:
    """The files that a job reads."""
    icc = request.profile.icc
    own = None if icc is None else icc.file.path
    named = (request.art, request.ticket, request.mask, own, *request.earlier)
    return [path for path in named if path is not None]


def _bound(question: Json, make: Callable[[Json], Json] | None, pipe: BinaryIO) -> Json:
    """Do what is asked once this process sees no more than the question's files and folders."""
    requests = [request_from_json(data) for data in question.get("requests", ())]
    tiles = {request.tiles for request in requests if request.tiles is not None}
    if make is None:
        _keep_tiles(requests)
    confine(
        [path for one in requests for path in _files_of(one)] + [*tiles],
        {path for one in requests for path in (one.out, one.scratch)},
    )
    return _make(question, requests, pipe) if make is None else make(question)


def _keep_tiles(requests: list[JobRequest]) -> None:
    """See that the tiles of the profiles are kept, while this process may still write there.

    No art nor ticket has been read by then, so what lies there for other jobs is sound.
    """
    from filmhand.pipeline.opening import screen_and_tile  # noqa: PLC0415

    for request in requests:
        if request.tiles is not None and not request.is_scan:
            if request.profile.inks is None:
                screen_and_tile(request.profile, request.tiles)
                continue
            from filmhand.pipeline.separation.ready_made import keep_for_sets  # noqa: PLC0415

            keep_for_sets(request.profile, request.tiles)


def _make(question: Json, requests: list[JobRequest], pipe: BinaryIO) -> Json:
    """What the pipeline does; how far it is goes ahead of the answer, a line each time."""

    def tell(step: Step, behind: float) -> None:
        pipe.write(json.dumps(progress_to_json(step, behind)).encode() + b"\n")
        pipe.flush()

    match question["task"]:
        case "films":
            if requests[0].is_scan:
                from filmhand.pipeline.readings.kept_reading import keep_reading  # noqa: PLC0415

                return result_to_json(keep_reading(requests[0]))
            from filmhand.pipeline.make import make_films  # noqa: PLC0415

            return result_to_json(make_films(replace(requests[0], progress=tell)))
        case "gang":
            from filmhand.pipeline.gang import make_gang  # noqa: PLC0415

            return gang_to_json(make_gang(requests))
        case "space":
            from filmhand.pipeline.gang import find_room  # noqa: PLC0415

            return space_to_json(find_room(requests, sizes_from_json(question["known"])))
        case "wedge":
            from filmhand.pipeline.readings.scan_answers import answer_of_wedge  # noqa: PLC0415

            return answer_of_wedge(requests[0], question)
        case "exposure":
            from filmhand.pipeline.readings.scan_answers import answer_of_exposure  # noqa: PLC0415

            return answer_of_exposure(requests[0], question)
    raise ValueError(f"no task {question['task']!r}")

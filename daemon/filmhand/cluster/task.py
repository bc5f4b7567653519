"""What a computer of a cluster does for one job, inside a thread of its dask worker.

The shared folder of the job is the only thing that both sides see::

    here        a word that only this try knows; without it nothing is read or written here
    art, …      copies of the customer's files
    press.icc   a copy of the ICC profile that the job's profile names, if it does
    run-…/      made when a computer begins; the finished films of that run, and nothing else

The job itself works on local copies in a process of its own, as it would beside the service, so
all that its death tells is about the file. All that fails in this module is trouble of the cluster.
When ``here`` is gone, because the service gave up, stopped, or lost the job to another host, the
process is ended.
"""

from __future__ import annotations

import hashlib
import importlib
import json
import os
import platform
import secrets
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.art.files.extras import installed
from filmhand.errors import EnvironmentTrouble, Refused
from filmhand.language import speaking
from filmhand.profile.read.load import with_icc_at
from filmhand.request import JobRequest, JobResult
from filmhand.worker.cores import threads_within, usable_cores
from filmhand.worker.parent import (
    Interrupted,
    WorkerDied,
    WorkerKilled,
    WorkerLimits,
    Workers,
    run_in_worker,
)
from filmhand.worker.process import CHILD
from filmhand.worker.wire import refusal_to_json, request_from_json, result_to_json

HERE = "here"
ICC = "press.icc"
RUN = "run-"
_APPEARS_WITHIN = 5.0  # seconds that a share may take to show a new folder
_LOOK_EVERY = 1.0
_SLOW_END = 1.0  # seconds after which a dask worker that is being ended is gone, or says so
_BLOCK = 1 << 20


class ClusterTrouble(StrEnum):
    """Why a computer of the cluster could not do a job, though the file is not to blame."""

    VERSION = "another version of filmhand"
    LIBRARIES = "it lacks libraries"
    UNSEEN = "it does not see the folder"
    SHARE = "the folder failed"
    THERE = "the computer itself failed"
    ENDING = "it is being ended"


def run(question: str, *, module: str = CHILD) -> str:
    """Make the films of one job; the answer has ``films``, ``refused``, ``died`` or ``trouble``.

    Question and answer are JSON in ASCII, which carries any file's name through any message.

    Parameters
    ----------
    question : str
        What :func:`filmhand.cluster.exchange.question_of` gives.
    module : str, optional
        For tests: what the job's process runs.
    """
    asked = json.loads(question)
    answer = {"host": socket.gethostname(), "filmhand": __version__} | _answer(asked, module)
    return json.dumps(answer)


def _answer(asked: dict[str, Any], module: str) -> dict[str, Any]:
    if asked["filmhand"] != __version__:
        return {"trouble": ClusterTrouble.VERSION.value}
    if set(asked["libraries"]) - set(installed()):  # it would refuse art that is read elsewhere
        return {"trouble": ClusterTrouble.LIBRARIES.value}
    folder = Path(asked["folder"])
    if not sees(folder, asked["token"]):
        return {"trouble": ClusterTrouble.UNSEEN.value}
    try:
        finished = folder / f"{RUN}{secrets.token_hex(4)}"
        finished.mkdir()
        with tempfile.TemporaryDirectory(
            prefix="filmhand-", dir=_local_folder(), ignore_cleanup_errors=True
        ) as local:
            return _work(asked, folder, finished, Path(local), module)
    except OSError as error:
        if not sees(folder, asked["token"], within=0.0):
            return {"trouble": ClusterTrouble.UNSEEN.value}
        return {"trouble": ClusterTrouble.SHARE.value, "why": error.strerror or str(error)}


def _work(
    asked: dict[str, Any], folder: Path, finished: Path, local: Path, module: str
) -> dict[str, Any]:
    request = _fetch(asked, folder, local)
    limits = WorkerLimits(seconds=asked["seconds"], memory=asked["memory"])
    workers = Workers()
    try:
        with _ended_without(folder / HERE, workers), speaking(asked["language"]):
            result = run_in_worker(request, limits=limits, workers=workers, module=module)
    except Refused as refused:
        return {"refused": refusal_to_json(refused)}
    except Interrupted:
        return {"trouble": ClusterTrouble.UNSEEN.value}
    except (WorkerKilled, WorkerDied) as died:
        # Whoever ends the dask worker with all its processes must not look like the file's fault.
        time.sleep(_SLOW_END)
        return {"trouble": ClusterTrouble.ENDING.value} if _is_ending() else _ended(died)
    except EnvironmentTrouble as error:
        return {"trouble": ClusterTrouble.THERE.value, "why": str(error)}
    return _deliver(result, finished)


def _ended(died: WorkerKilled | WorkerDied) -> dict[str, Any]:
    if isinstance(died, WorkerKilled):
        return {"killed": died.how}
    return {"died": died.how, "bug": died.is_bug}


# --- files ---------------------------------------------------------------------------------------


def sees(folder: Path, token: str, *, within: float | None = None) -> bool:
    """Whether this computer sees the shared folder and the word in it; waits a little for it."""
    until = time.monotonic() + (_APPEARS_WITHIN if within is None else within)
    while True:
        with suppress(OSError):
            # Opening asks the server of a share; a look at the name alone may be an old answer
            # (nfs(5), "close-to-open cache consistency").
            if (folder / HERE).read_text(encoding="ascii", errors="replace") == token:
                return True
        if time.monotonic() >= until:
            return False
        time.sleep(0.2)


def _fetch(asked: dict[str, Any], folder: Path, local: Path) -> JobRequest:
    """Copy the job's files to this computer; OSError if one is not what was put there."""
    for part in ("out", "work"):
        (local / part).mkdir()
    paths: dict[str, Path] = {}
    for kind, (name, digest) in asked["files"].items():
        paths[kind] = local / name
        if _copy(folder / name, paths[kind]) != digest:
            raise OSError(f"{name} is not what the service put there")
    request = request_from_json(asked["request"])
    if "icc" in paths:
        request = replace(request, profile=with_icc_at(request.profile, paths["icc"]))
    return replace(
        request,
        art=paths["art"],
        ticket=paths.get("ticket"),
        mask=paths.get("mask"),
        out=local / "out",
        scratch=local / "work",
        threads=threads_within(asked["memory"], _threads()),
        tiles=_local_folder() / "filmhand-tiles",
    )


def _deliver(result: JobResult, finished: Path) -> dict[str, Any]:
    """Copy the films to the shared folder; the answer tells their names and hashes."""
    made = [one.proof for one in result.sets]
    for film in result.films:
        made += [*film.files.values(), film.proof]
        if film.printing is not None:
            made += film.printing.documents.values()
    # What is printed may be what is published.
    hashes = {path.name: _copy(path, finished / path.name) for path in dict.fromkeys(made)}
    return {**result_to_json(result), "sha256": hashes, "run": finished.name}


def _copy(source: Path, target: Path) -> str:
    """Copy a file durably and return its SHA-256."""
    digest = hashlib.sha256()
    with source.open("rb") as read, target.open("wb") as write:
        while block := read.read(_BLOCK):
            digest.update(block)
            write.write(block)
        write.flush()
        os.fsync(write.fileno())
    return digest.hexdigest()


@contextmanager
def _ended_without(here: Path, workers: Workers) -> Iterator[None]:
    """End the job's process as soon as the file `here` is gone."""
    done = threading.Event()

    def watch() -> None:
        while not done.wait(_LOOK_EVERY):
            try:
                here.read_bytes()
            except FileNotFoundError:
                workers.stop()
                return
            except OSError:
                continue  # the share fails just now, which is no order to stop

    watcher = threading.Thread(target=watch, name="filmhand watches", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()


# --- the dask worker around this job -------------------------------------------------------------


def _dask_worker() -> Any | None:
    library = importlib.import_module("distributed")
    with suppress(ValueError):  # not inside a dask worker, as in a test
        return library.get_worker()
    return None


def _local_folder() -> Path:
    """The folder for files of this computer's own; dask removes what a killed worker left there."""
    worker = _dask_worker()
    return Path(tempfile.gettempdir() if worker is None else worker.local_directory)


def _threads() -> int:
    """Threads for one job, where the dask worker may run several jobs at once."""
    worker = _dask_worker()
    return max(1, usable_cores() // (1 if worker is None else worker.state.nthreads))


def _is_ending() -> bool:
    worker = _dask_worker()
    return worker is not None and worker.status.name not in {"running", "paused"}


def look(folder: str, token: str) -> dict[str, Any]:
    """What this computer of the cluster is and sees, for ``filmhand doctor``."""
    seen = sees(Path(folder), token)
    may_write = False
    if seen:
        with suppress(OSError), tempfile.TemporaryFile(dir=folder):
            may_write = True
    return {
        "host": socket.gethostname(),
        "filmhand": __version__,
        "python": platform.python_version(),
        "libraries": installed(),
        "sees": seen,
        "may_write": may_write,
    }

"""The service's side of a cluster: one connection to a scheduler, and jobs handed to it.

A job comes back as films, as a refusal, or as the death of its own process, which counts against
the file. Everything else that can happen - no scheduler, a lost connection, dask workers killed,
another version, a folder that is not seen - is :class:`~filmhand.errors.Surroundings`.

Nothing here ends a job that runs: the caller removes the shared folder, and the computer that
works there ends it (:mod:`filmhand.cluster.task`).
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import importlib
import json
import logging
import secrets
import socket
import threading
import time
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.cluster import task
from filmhand.cluster.task import HERE, RUN, Trouble
from filmhand.errors import Surroundings
from filmhand.worker import (
    Interrupted,
    JobResult,
    Limits,
    Request,
    WorkerDied,
    Workers,
    film_from_json,
    refusal_from_json,
)

INSTALL = "pip install 'filmhand[cluster]'"
MOST_AT_ONCE = 16
TASK = task.run
_CONNECT = 10.0  # seconds to find the scheduler
_POLL = 0.1
_LOOK_EVERY = 5.0  # between two questions about the cluster's workers
_NOBODY = 15.0  # seconds without any worker before a job is taken back
_GRACE = 120.0  # what a job may take beyond its own limit, for copying
_QUEUE = 3600.0  # what a job may wait for its turn
_ARRIVES_WITHIN = 10.0  # what a share may take to show what was written elsewhere


class Cluster:
    """One scheduler, connected to when it is first needed, and again whenever it was lost.

    Parameters
    ----------
    address : str
        As the profile says it: ``dask://HOST:PORT``, or ``dask+tls://HOST:PORT`` with the
        certificates that dask's own configuration names.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self._lock = threading.Lock()
        self._client: Any = None
        self._failed_at = float("-inf")
        self._threads = 1

    def room(self) -> int:
        """How many jobs it is worth handing over at once, as far as is known."""
        return max(1, min(MOST_AT_ONCE, self._threads))

    def run(self, request: Request, *, limits: Limits, workers: Workers) -> JobResult:
        """Have one job done; its `out` lies in a folder that the cluster sees.

        Raises
        ------
        Refused, WorkerDied
            As :func:`filmhand.worker.run_in_worker`.
        Surroundings
            Whatever the cluster failed in.
        Interrupted
            `workers` was stopped.
        OSError
            The folder is gone or fails.
        """
        folder = request.out.parent
        token = secrets.token_hex(16)
        (folder / HERE).write_text(token, encoding="ascii")
        question = json.dumps(_question(request, limits, token))
        client = self._connected()
        with self._talking(client):
            self._count_threads(client)
            future = client.submit(
                TASK, question, key=f"filmhand-{request.job}-{token[:8]}", pure=False
            )
        try:
            self._wait(client, future, folder, limits, workers)
            answer = self._answer(client, future)
        finally:
            future.release()  # asks the scheduler to forget it; does not wait
        return self._understand(answer, folder)

    def close(self) -> None:
        """Let go of the scheduler."""
        with self._lock:
            client, self._client = self._client, None
        if client is not None:
            _close(client)

    # --- the connection ----------------------------------------------------------------------

    def _connected(self) -> Any:
        came = time.monotonic()
        with self._lock:
            if self._client is None:
                if self._failed_at >= came:  # while this job waited for another's attempt
                    raise self._lost()
                try:
                    self._client = self._connect()
                except Surroundings:
                    self._failed_at = time.monotonic()
                    raise
            return self._client

    def _connect(self) -> Any:
        library = load_library()
        kind, _, place = self.address.partition("://")
        host, _, port = place.rpartition(":")
        try:
            # Said at once where nobody listens; the library would try for long.
            socket.create_connection((host.strip("[]"), int(port)), _CONNECT).close()
            scheme = "tls" if kind.endswith("tls") else "tcp"
            return library.Client(
                f"{scheme}://{place}", timeout=_CONNECT, set_as_default=False, name="filmhand"
            )
        except Exception:
            raise self._lost() from None

    def _lost(self) -> Surroundings:
        return Surroundings(
            f"The cluster's scheduler at {self.address} does not answer, or the connection to it "
            "was lost; start it, or mend the address, and filmhand goes on by itself."
        )

    @contextlib.contextmanager
    def _talking(self, client: Any) -> Iterator[None]:
        """Whatever the library raises means that this connection is of no more use."""
        try:
            yield
        except Surroundings:
            raise
        except (Exception, asyncio.CancelledError):
            self._drop(client)
            raise self._lost() from None

    def _drop(self, client: Any) -> None:
        with self._lock:
            if self._client is not client:
                return
            self._client = None
        # It may wait for a scheduler that is gone.
        threading.Thread(target=_close, args=(client,), name="close", daemon=True).start()

    def _count_threads(self, client: Any) -> None:
        self._threads = sum(
            client.sync(client.scheduler.ncores, callback_timeout=_CONNECT).values()
        )
        if not self._threads:
            raise Surroundings(
                f"The cluster at {self.address} has no workers just now; start some, and filmhand "
                "goes on by itself."
            )

    # --- one job -----------------------------------------------------------------------------

    def _wait(
        self, client: Any, future: Any, folder: Path, limits: Limits, workers: Workers
    ) -> None:
        """Return when the job has ended in any way; give up if it does not."""
        since = looked = staffed = time.monotonic()
        runs = 0
        while future.status in {"pending", "lost"}:
            if workers.stopped:
                raise Interrupted
            now = time.monotonic()
            if now - looked >= _LOOK_EVERY:
                looked = now
                begun = sum(path.name.startswith(RUN) for path in folder.iterdir())
                if begun != runs:  # a computer began, perhaps once more after another had died
                    runs, since = begun, now
                if now - since > (limits.seconds + _GRACE if runs else _QUEUE):
                    raise Surroundings(
                        f"The cluster at {self.address} does not come to an end with a job, or has "
                        "no time for it; look whether its computers are well. Filmhand tries again."
                    )
                with self._talking(client):
                    try:
                        self._count_threads(client)
                        staffed = now
                    except Surroundings:
                        if now - staffed > _NOBODY:
                            raise
            time.sleep(_POLL)

    def _answer(self, client: Any, future: Any) -> dict[str, Any]:
        if future.status != "error":
            with self._talking(client):
                answer = future.result(timeout=_CONNECT)  # raises if it was cancelled
                return dict(answer)
        with self._talking(client):
            error = future.exception(timeout=_CONNECT)
        raise Surroundings(self._failure(error))

    def _failure(self, error: BaseException) -> str:
        if type(error).__name__ == "KilledWorker":
            return (
                f"The cluster at {self.address} lost one worker after another during a job; look "
                "whether its computers have enough memory. Filmhand tries again."
            )
        if isinstance(error, ImportError | AttributeError):
            return (
                f"The workers of the cluster at {self.address} cannot load filmhand; install "
                f"filmhand {__version__} on each of its computers ({INSTALL}), for the Python that "
                "runs the workers."
            )
        said = (str(error).splitlines() or [""])[0][:200]
        return f"The cluster at {self.address} could not run a job: {type(error).__name__} {said}"

    def _understand(self, answer: dict[str, Any], folder: Path) -> JobResult:
        if "refused" in answer:
            raise refusal_from_json(answer["refused"])
        if "died" in answer:
            raise WorkerDied(f"on {answer['host']}: {answer['died']}")
        if "trouble" in answer:
            (folder / HERE).stat()  # gone where the job is another host's now
            raise Surroundings(_trouble(answer))
        return _collect(answer, folder)


class Clusters:
    """The clusters that profiles name, by their addresses."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: dict[str, Cluster] = {}

    def at(self, address: str) -> Cluster:
        """The cluster there; the same one each time."""
        with self._lock:
            return self._known.setdefault(address, Cluster(address))

    def close(self) -> None:
        """Let go of all of them."""
        with self._lock:
            known = list(self._known.values())
        for cluster in known:
            cluster.close()


def _question(request: Request, limits: Limits, token: str) -> dict[str, Any]:
    files = {"art": request.art, "ticket": request.ticket, "mask": request.mask}
    return {
        "filmhand": __version__,
        "folder": str(request.out.parent),
        "token": token,
        "name": request.name,
        "profile": request.profile,
        "files": {kind: [path.name, _sha256(path)] for kind, path in files.items() if path},
        "job": request.job,
        "seconds": limits.seconds,
        "memory": limits.memory,
    }


def _trouble(answer: dict[str, Any]) -> str:
    """A sentence that is the same for every job in the same trouble."""
    host = f"The cluster's computer {answer['host']}"
    match answer["trouble"]:
        case Trouble.VERSION:
            return (
                f"{host} has filmhand {answer['filmhand']}, and here is {__version__}; install the "
                "same version on all."
            )
        case Trouble.UNSEEN:
            return (
                f"{host} does not see this profile's folder under the path that it has here; let "
                "the folder lie on a share that all of the cluster's computers have under the same "
                "path."
            )
        case Trouble.SHARE:
            return (
                f"{host} could not work in this profile's folder: {answer['why']}; give the user "
                "of its workers the right to read and write there."
            )
        case Trouble.THERE:
            return f"{host}: {answer['why']}"
    return f"{host} was being ended during a job; filmhand tries again."


def _collect(answer: dict[str, Any], folder: Path) -> JobResult:
    """The films of a run, once they are here as they were written there."""
    run = folder / _plain(answer["run"])
    until = time.monotonic() + _ARRIVES_WITHIN
    for name, digest in answer["sha256"].items():
        while not _is(run / _plain(name), digest):
            if time.monotonic() > until:
                raise Surroundings(
                    f"What the cluster's computer {answer['host']} wrote into this profile's "
                    "folder has not arrived here; look whether the share is well."
                )
            time.sleep(_POLL)
    return JobResult([film_from_json(film, run) for film in answer["films"]])


def _plain(name: str) -> str:
    """A name that leads nowhere else."""
    if Path(name).name != name:
        raise Surroundings(f"The cluster answered with {name!r}, which is no name of a file.")
    return name


def _is(path: Path, digest: str) -> bool:
    try:
        return not path.is_symlink() and _sha256(path) == digest
    except FileNotFoundError:
        path.parent.parent.stat()  # gone where the job is another host's now
        return False


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def load_library() -> Any:
    """dask.distributed, made quiet; Surroundings that name the extra where it is missing."""
    importlib.invalidate_caches()  # it may have been installed while the service ran
    try:
        library = importlib.import_module("distributed")
    except ImportError:
        raise Surroundings(
            "This profile hands its jobs to a cluster, which needs an addition that is not "
            f"installed here. Install it ({INSTALL}), or say `workers: own`."
        ) from None
    # The service says what matters, once; the library would say it at every attempt.
    for name in list(logging.root.manager.loggerDict):
        if name.partition(".")[0] in {"distributed", "tornado"}:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    warnings.filterwarnings("ignore", module=r"distributed(\.|$)")
    return library


def _close(client: Any) -> None:
    with contextlib.suppress(Exception, asyncio.CancelledError):
        client.close(timeout=_CONNECT)

"""The service's side of a cluster: one connection to a scheduler, and jobs handed to it.

A job comes back as films, as a refusal, or as the death of its own process, which counts against
the file. Everything else that can happen - no scheduler, a lost connection, another version, a
folder that is not seen - is :class:`~filmhand.errors.EnvironmentTrouble`; one dask worker after
another that is killed during a job is of that job alone.

Nothing here ends a job that runs: the caller removes the shared folder, and the computer that
works there ends it (:mod:`filmhand.cluster.task`).
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import json
import logging
import secrets
import socket
import threading
import time
import warnings
from collections.abc import Iterator
from concurrent.futures import Future
from pathlib import Path
from typing import Any

from filmhand import __version__
from filmhand.cluster.cluster_words import ClusterWord
from filmhand.cluster.exchange import question_of, understand
from filmhand.cluster.task import HERE, RUN
from filmhand.errors import EnvironmentTrouble
from filmhand.request import JobRequest, JobResult
from filmhand.worker.parent import Interrupted, WorkerKilled, WorkerLimits, Workers

CLUSTER_EXTRA = "pip install 'filmhand[cluster]'"
MOST_AT_ONCE = 16
TASK = "filmhand.cluster.task"
# Sent as text, for `eval` to read there. A function of filmhand's own would be looked for while the
# message is unpacked, and a dask worker without filmhand ends when that fails (distributed 2026.8).
# A function sent whole, as the library does with those of a script, would carry byte code, which a
# worker of another Python cannot run. The text is ours alone: what customers gave is an argument.
_RUN = "__import__('importlib').import_module(module).run(question)"
_LOOK = "__import__('importlib').import_module(module).look(folder, token)"
_CONNECT = 10.0  # seconds to find the scheduler
_POLL = 0.1
_LOOK_EVERY = 5.0  # between two questions about the cluster's workers
_NOBODY = 15.0  # seconds without any worker before a job is taken back
_GRACE = 120.0  # what a job may take beyond its own limit, for copying
_QUEUE = 3600.0  # what a job may wait for its turn


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
        self._attempt: Future[Any] | None = None  # to connect: going on, or with the connection
        self._threads = 1

    def room(self) -> int:
        """How many jobs it is worth handing over at once, as far as is known."""
        return max(1, min(MOST_AT_ONCE, self._threads))

    def run(self, request: JobRequest, *, limits: WorkerLimits, workers: Workers) -> JobResult:
        """Have one job done; its `out` lies in a folder that the cluster sees.

        Raises
        ------
        Refused, WorkerDied
            As :func:`filmhand.worker.parent.run_in_worker`.
        EnvironmentTrouble
            Whatever the cluster failed in.
        WorkerKilled
            The job's process was ended from outside, or one dask worker after another was lost.
        Interrupted
            `workers` was stopped.
        OSError
            The folder is gone or fails.
        """
        folder = request.out.parent
        token = secrets.token_hex(16)
        (folder / HERE).write_text(token, encoding="ascii")
        question = json.dumps(question_of(request, limits, token))
        client = self._connected()
        with self._talking(client):
            self._count_threads(client)
            given = {"module": TASK, "question": question}
            key = f"filmhand-{request.job}-{token[:8]}"
            future = client.submit(eval, _RUN, given, key=key, pure=False)
        try:
            self._wait(client, future, folder, limits, workers)
            answer = self._answer(client, future)
        finally:
            future.release()  # asks the scheduler to forget it; does not wait
        return understand(answer, folder)

    def ask_all(self, folder: Path, token: str) -> dict[str, Any]:
        """What each worker is and sees, by its address; a text where it cannot load filmhand.

        Raises EnvironmentTrouble where there is no cluster, or no worker in it.
        """
        client = self._connected()
        with self._talking(client):
            self._count_threads(client)
            given = {"module": TASK, "folder": str(folder), "token": token}
            answers = client.run(eval, _LOOK, given, on_error="return")
        failed = {place: a for place, a in answers.items() if isinstance(a, BaseException)}
        return {**answers, **{place: _named(error) for place, error in failed.items()}}

    def close(self) -> None:
        """Let go of the scheduler."""
        with self._lock:
            attempt, self._attempt = self._attempt, None
        if attempt is not None and attempt.done() and attempt.exception() is None:
            _close(attempt.result())

    # --- the connection ----------------------------------------------------------------------

    def _connected(self) -> Any:
        """The connection; all jobs that wait for it share one attempt.

        An attempt that hangs is left to itself, and no other is made beside it: the library waits
        for ever for a scheduler that accepts a connection and says nothing.
        """
        with self._lock:
            attempt = self._attempt
            if attempt is None or (attempt.done() and not _is_up(attempt)):
                # It takes long on a busy computer, which is no silence of the scheduler.
                library = load_library()
                attempt = self._attempt = Future()
                threading.Thread(
                    target=self._connect, args=(attempt, library), name="connect", daemon=True
                ).start()
        try:
            return attempt.result(timeout=_CONNECT)
        except TimeoutError:
            raise self._lost() from None
        except EnvironmentTrouble as error:
            raise EnvironmentTrouble(str(error)) from None

    def _connect(self, attempt: Future[Any], library: Any) -> None:
        kind, _, place = self.address.partition("://")
        host, _, port = place.rpartition(":")
        address = f"{'tls' if kind.endswith('tls') else 'tcp'}://{place}"
        client = None
        try:
            # Said at once where nobody listens; the library would try for long.
            socket.create_connection((host.strip("[]"), int(port)), _CONNECT / 2).close()
            # In two steps, since one that does not come to an agreement must be closed as well.
            client = library.Client.__new__(library.Client)
            client.__init__(address, timeout=_CONNECT / 2, set_as_default=False, name="filmhand")
        except (Exception, asyncio.CancelledError):
            attempt.set_exception(self._lost())
            if client is not None:
                _close(client)
        else:
            attempt.set_result(client)

    def _lost(self) -> EnvironmentTrouble:
        return EnvironmentTrouble(ClusterWord.NO_ANSWER.say(address=self.address))

    @contextlib.contextmanager
    def _talking(self, client: Any) -> Iterator[None]:
        """Whatever the library raises means that this connection is of no more use."""
        try:
            yield
        except EnvironmentTrouble:
            raise
        except (Exception, asyncio.CancelledError):
            self._drop(client)
            raise self._lost() from None

    def _drop(self, client: Any) -> None:
        with self._lock:
            attempt = self._attempt
            if attempt is None or not attempt.done() or attempt.exception() is not None:
                return
            if attempt.result() is not client:
                return  # another job has dropped it, and there is a new one
            self._attempt = None
        # It may wait for a scheduler that is gone.
        threading.Thread(target=_close, args=(client,), name="close", daemon=True).start()

    def _count_threads(self, client: Any) -> None:
        # As `client.nthreads()`, which would wait for ever for a scheduler that hangs.
        told = client.sync(client.scheduler.ncores, callback_timeout=_CONNECT)
        self._threads = sum(told.values())
        if not self._threads:
            raise EnvironmentTrouble(ClusterWord.NO_WORKERS.say(address=self.address))

    # --- one job -----------------------------------------------------------------------------

    def _wait(
        self, client: Any, future: Any, folder: Path, limits: WorkerLimits, workers: Workers
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
                    raise EnvironmentTrouble(ClusterWord.NO_END.say(address=self.address))
                with self._talking(client):
                    try:
                        self._count_threads(client)
                        staffed = now
                    except EnvironmentTrouble:
                        if now - staffed > _NOBODY:
                            raise
            time.sleep(_POLL)

    def _answer(self, client: Any, future: Any) -> dict[str, Any]:
        if future.status != "error":
            with self._talking(client):
                return dict(json.loads(future.result(timeout=_CONNECT)))
        with self._talking(client):
            error = future.exception(timeout=_CONNECT)
        if type(error).__name__ == "KilledWorker":
            raise WorkerKilled(ClusterWord.LOST_WORKERS.say(address=self.address))
        raise EnvironmentTrouble(self._failure(error))

    def _failure(self, error: BaseException) -> str:
        if isinstance(error, ImportError | AttributeError):
            return ClusterWord.CANNOT_LOAD.say(
                address=self.address, version=__version__, extra=CLUSTER_EXTRA
            )
        return ClusterWord.COULD_NOT_RUN.say(address=self.address, error=_named(error))


def _named(error: BaseException) -> str:
    said = (str(error).splitlines() or [""])[0][:200]
    return f"{type(error).__name__}: {said}"


def load_library() -> Any:
    """dask.distributed, made quiet; EnvironmentTrouble that name the extra where it is missing."""
    importlib.invalidate_caches()  # it may have been installed while the service ran
    try:
        library = importlib.import_module("distributed")
    except ImportError:
        missing = ClusterWord.LIBRARY_IS_MISSING.say(extra=CLUSTER_EXTRA)
        raise EnvironmentTrouble(missing) from None
    # The service says what matters, once; the library would say it at every attempt.
    for name in list(logging.root.manager.loggerDict):
        if name.partition(".")[0] in {"distributed", "tornado"}:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    warnings.filterwarnings("ignore", module=r"distributed(\.|$)")
    return library


def _is_up(attempt: Future[Any]) -> bool:
    """Whether an attempt that has ended led to a connection that was not lost since."""
    return attempt.exception() is None and attempt.result().status == "running"


def _close(client: Any) -> None:
    with contextlib.suppress(Exception, asyncio.CancelledError):
        client.close(timeout=_CONNECT)

"""One connection to a scheduler and what becomes of a job there, with a library that pretends."""

from __future__ import annotations

import json
import logging
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from filmhand.cluster import scheduler as module
from filmhand.cluster.scheduler import Cluster, load_library
from filmhand.errors import EnvironmentTrouble
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest, JobResult
from filmhand.worker.parent import Interrupted, WorkerKilled, WorkerLimits, Workers

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
LIMITS = WorkerLimits(seconds=600, memory=2**30)


class KilledWorker(Exception):
    """As the library calls it where a job's worker was lost too often."""


class Task:
    """One job in the hands of the scheduler: `during` is done at each question after its status."""

    def __init__(self, result: str = "{}", error: BaseException | None = None) -> None:
        self._result, self._error = result, error
        self.left = 0
        self.during: Callable[[], object] = lambda: None
        self.released = 0

    @property
    def status(self) -> str:
        if self.left <= 0:
            return "finished" if self._error is None else "error"
        self.left -= 1
        self.during()
        return "pending" if self.left % 2 else "lost"

    def result(self, timeout: float) -> str:
        assert timeout == module._CONNECT
        return self._result

    def exception(self, timeout: float) -> BaseException | None:
        assert timeout == module._CONNECT
        return self._error

    def release(self) -> None:
        self.released += 1


class Client:
    """A connection; `library` says what is at its other end."""

    library: Library
    status = "running"

    def __init__(self, address: str, **options: Any) -> None:
        self.asked = (address, options)
        self.closed: list[float] = []
        self.scheduler = SimpleNamespace(ncores="threads")
        self.library.clients.append(self)
        self.library.connects()

    def sync(self, what: str, *, callback_timeout: float) -> dict[str, int]:
        assert (what, callback_timeout) == ("threads", module._CONNECT)
        self.library.counted += 1
        if isinstance(self.library.threads, Exception):
            raise self.library.threads
        return self.library.threads

    def submit(self, call: Any, text: str, given: Any, *, key: str, pure: bool) -> Task:
        assert call is eval and not pure
        self.library.submitted.append((key, json.loads(given["question"])))
        self.library.task._result = call(text, given)
        return self.library.task

    def run(self, call: Any, text: str, given: Any, *, on_error: str) -> dict[str, Any]:
        assert call is eval and on_error == "return"
        return {"one": call(text, given), "two": ImportError("no filmhand\nhere")}

    def close(self, timeout: float) -> None:
        self.closed.append(timeout)
        raise OSError("it does not go easily")


class Library:
    def __init__(self) -> None:
        self.clients: list[Client] = []
        self.threads: dict[str, int] | Exception = {"one": 2, "two": 3}
        self.counted = 0
        self.submitted: list[tuple[str, dict[str, Any]]] = []
        self.task = Task()
        self.connects: Callable[[], object] = lambda: None
        self.sockets: list[tuple[Any, float]] = []
        self.Client = type("Client", (Client,), {"library": self})


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> Library:
    one = Library()

    def create_connection(place: Any, timeout: float) -> SimpleNamespace:
        one.sockets.append((place, timeout))
        return SimpleNamespace(close=lambda: None)

    monkeypatch.setattr(module, "load_library", lambda: one)
    monkeypatch.setattr(module.socket, "create_connection", create_connection)
    pretended = ModuleType("pretended_task")
    pretended.run = lambda question: json.dumps({"ran": True})  # type: ignore[attr-defined]
    pretended.look = lambda folder, token: f"{folder} {token}"  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "pretended_task", pretended)
    monkeypatch.setattr(module, "TASK", "pretended_task")
    monkeypatch.setattr(module, "understand", lambda answer, folder: (answer, folder))
    return one


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[float]]:
    now = [1000.0]

    def sleep(seconds: float) -> None:
        now[0] = round(now[0] + seconds, 3)

    monkeypatch.setattr(module, "time", SimpleNamespace(monotonic=lambda: now[0], sleep=sleep))
    yield now


@pytest.fixture
def request_(tmp_path: Path) -> JobRequest:
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "art").write_bytes(b"art")
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    return JobRequest(folder / "art", "a.png", profile, folder / "out", folder / "work", job="j1")


def run(cluster: Cluster, request: JobRequest, workers: Workers | None = None) -> Any:
    told: JobResult = cluster.run(request, limits=LIMITS, workers=workers or Workers())
    return told


# --- a job --------------------------------------------------------------------------------------


def test_a_job_is_handed_over_and_its_answer_understood(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    cluster, folder = Cluster("dask://host:8786"), request_.out.parent
    assert cluster.room() == 1  # before anything is known
    assert run(cluster, request_) == ({"ran": True}, folder)
    ((key, question),) = library.submitted
    token = (folder / "here").read_text()
    assert len(token) == 32 and question["token"] == token
    assert key == f"filmhand-j1-{token[:8]}"
    assert (question["seconds"], question["memory"]) == (600, 2**30)
    assert library.task.released == 1
    assert cluster.room() == 5
    run(cluster, request_)
    assert (folder / "here").read_text() != token  # a word that only this try knows
    assert len(library.clients) == 1


@pytest.mark.parametrize(("threads", "room"), [(1, 1), (16, 16), (17, 16)])
def test_no_more_than_sixteen_jobs_are_handed_over_at_once(
    library: Library, clock: list[float], request_: JobRequest, threads: int, room: int
) -> None:
    library.threads = {"one": threads}
    cluster = Cluster("dask://host:8786")
    run(cluster, request_)
    assert cluster.room() == room


def test_a_stop_interrupts_the_wait(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    workers, library.task.left = Workers(), 1000
    library.task.during = lambda: clock[0] > 1001 and workers.stop()
    with pytest.raises(Interrupted):
        run(Cluster("dask://host:8786"), request_, workers)
    assert 1001 < clock[0] < 1001.3
    assert library.task.released == 1


@pytest.mark.parametrize(
    ("begins", "given_up"),
    [
        ([], 3600),  # nobody had time for it
        ([100], 100 + 600 + 120),  # its own limit, and what copying may take
        ([100, 500], 500 + 600 + 120),  # once more, after a computer had died
    ],
)
def test_how_long_a_job_is_waited_for(
    library: Library, clock: list[float], request_: JobRequest, begins: list[int], given_up: int
) -> None:
    library.task.left = 10**6
    folder = request_.out.parent

    def during() -> None:
        for number, when in enumerate(begins):
            if clock[0] - 1000 >= when:
                (folder / f"run-{number}").mkdir(exist_ok=True)

    library.task.during = during
    with pytest.raises(EnvironmentTrouble, match="does not come to an end with a job"):
        run(Cluster("dask://host:8786"), request_)
    assert given_up < clock[0] - 1000 <= given_up + 11  # two looks, five seconds apart
    assert library.task.released == 1
    assert library.counted == pytest.approx((clock[0] - 1000) / 5, abs=4)


def test_a_cluster_without_workers_is_waited_for_a_little(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    def during() -> None:
        away = 20 <= clock[0] - 1000 < 34 or clock[0] - 1000 >= 100
        library.threads = {} if away else {"one": 1}

    library.task.left, library.task.during = 10**6, during
    with pytest.raises(EnvironmentTrouble, match="has no workers just now"):
        run(Cluster("dask://host:8786"), request_)
    assert 110 < clock[0] - 1000 <= 121  # and not in the fourteen seconds before


def test_without_workers_nothing_is_handed_over(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    library.threads = {}
    cluster = Cluster("dask://host:8786")
    with pytest.raises(EnvironmentTrouble, match="has no workers just now"):
        run(cluster, request_)
    assert library.submitted == []
    assert cluster.room() == 1


@pytest.mark.parametrize(
    ("error", "kind", "says"),
    [
        (KilledWorker("x"), WorkerKilled, "lost one worker after another during the job"),
        (ModuleNotFoundError("filmhand"), EnvironmentTrouble, "cannot load filmhand; install"),
        (AttributeError("run"), EnvironmentTrouble, "cannot load filmhand; install"),
        (ValueError("odd\nand more"), EnvironmentTrouble, "could not run a job: ValueError: odd."),
        (ValueError(), EnvironmentTrouble, "could not run a job: ValueError: ."),
    ],
)
def test_a_job_that_failed_there(
    library: Library, clock: list[float], request_: JobRequest,
    error: Exception, kind: type[Exception], says: str,
) -> None:  # fmt: skip
    library.task = Task(error=error)
    with pytest.raises(kind, match=says):
        run(Cluster("dask://host:8786"), request_)
    assert library.task.released == 1


# --- the connection -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("address", "place", "asked"),
    [
        ("dask://host:8786", ("host", 8786), "tcp://host:8786"),
        ("dask+tls://host:1", ("host", 1), "tls://host:1"),
        ("dask://[::1]:8786", ("::1", 8786), "tcp://[::1]:8786"),
    ],
)
def test_where_it_connects_to(
    library: Library, clock: list[float], request_: JobRequest,
    address: str, place: tuple[str, int], asked: str,
) -> None:  # fmt: skip
    run(Cluster(address), request_)
    assert library.sockets == [(place, 5.0)]
    options = {"timeout": 5.0, "set_as_default": False, "name": "filmhand"}
    assert library.clients[0].asked == (asked, options)


def test_what_fails_while_talking_loses_the_connection(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    cluster = Cluster("dask://host:8786")
    library.threads = OSError("gone")
    with pytest.raises(EnvironmentTrouble, match="does not answer, or the connection to it was"):
        run(cluster, request_)
    library.threads = {"one": 1}
    run(cluster, request_)
    old, new = library.clients
    until = time.monotonic() + 10
    while not old.closed and time.monotonic() < until:
        time.sleep(0.01)
    assert (old.closed, new.closed) == ([10.0], [])
    with pytest.raises(EnvironmentTrouble), cluster._talking(old):
        raise OSError  # of a job that began with the old one
    run(cluster, request_)
    assert len(library.clients) == 2


def test_trouble_that_is_known_keeps_the_connection(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    cluster = Cluster("dask://host:8786")
    run(cluster, request_)
    library.threads = {}
    with pytest.raises(EnvironmentTrouble, match="has no workers"):
        run(cluster, request_)
    assert len(library.clients) == 1 and not library.clients[0].closed


def test_a_connection_that_was_lost_is_made_anew(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    cluster = Cluster("dask://host:8786")
    run(cluster, request_)
    library.clients[0].status = "closed"
    run(cluster, request_)
    assert len(library.clients) == 2


def test_where_nobody_listens_it_is_tried_again(
    library: Library, clock: list[float], request_: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise ConnectionRefusedError

    cluster = Cluster("dask://host:8786")
    monkeypatch.setattr(module.socket, "create_connection", refuse)
    for _ in range(2):
        with pytest.raises(EnvironmentTrouble, match="scheduler at dask://host:8786 does not"):
            run(cluster, request_)
    cluster._drop(object())
    cluster.close()
    assert library.clients == []
    monkeypatch.setattr(
        module.socket, "create_connection", lambda *_: SimpleNamespace(close=lambda: None)
    )
    run(cluster, request_)


def test_what_does_not_come_to_an_agreement_is_closed(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    def disagree() -> None:
        raise ValueError("another version")

    library.connects = disagree
    with pytest.raises(EnvironmentTrouble, match="does not answer"):
        run(Cluster("dask://host:8786"), request_)
    until = time.monotonic() + 10
    while not library.clients[0].closed and time.monotonic() < until:
        time.sleep(0.01)
    assert library.clients[0].closed


def test_an_attempt_that_hangs_is_the_only_one(
    library: Library, request_: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    free = threading.Event()
    library.connects = lambda: free.wait(600)
    monkeypatch.setattr(module, "_CONNECT", 0.05)
    cluster = Cluster("dask://host:8786")
    for _ in range(3):
        with pytest.raises(EnvironmentTrouble, match="does not answer"):
            run(cluster, request_)
    cluster._drop(object())
    assert len(library.clients) == 1
    (thread,) = [one for one in threading.enumerate() if one.name == "connect"]
    assert thread.daemon
    free.set()
    thread.join(120)
    run(cluster, request_)
    assert len(library.clients) == 1


def test_it_lets_go_of_the_scheduler_once(
    library: Library, clock: list[float], request_: JobRequest
) -> None:
    cluster = Cluster("dask://host:8786")
    cluster.close()
    run(cluster, request_)
    cluster.close()
    cluster.close()
    assert library.clients[0].closed == [10.0]
    run(cluster, request_)
    assert len(library.clients) == 2


def test_what_all_workers_see(library: Library, tmp_path: Path) -> None:
    cluster = Cluster("dask://host:8786")
    assert cluster.ask_all(tmp_path, "word") == {
        "one": f"{tmp_path} word",
        "two": "ImportError: no filmhand",
    }
    assert cluster.room() == 5
    library.threads = {}
    with pytest.raises(EnvironmentTrouble, match="has no workers"):
        cluster.ask_all(tmp_path, "word")


# --- the library --------------------------------------------------------------------------------


def test_the_library_is_made_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    library = ModuleType("distributed")
    monkeypatch.setitem(sys.modules, "distributed", library)
    for name in ("distributed.core", "tornado.access", "distributed_else"):
        logging.getLogger(name).setLevel(logging.NOTSET)
    assert load_library() is library
    assert not logging.getLogger("distributed.core").isEnabledFor(logging.CRITICAL)
    assert not logging.getLogger("tornado.access").isEnabledFor(logging.CRITICAL)
    assert logging.getLogger("distributed_else").isEnabledFor(logging.CRITICAL)


def test_a_library_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(EnvironmentTrouble, match=r"Install it \(pip install 'filmhand\[cluster\]"):
        load_library()

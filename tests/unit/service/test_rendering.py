"""By which engine films are made, with which limits, and how many at once."""

from __future__ import annotations

import threading
import time
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.errors import ProfileError
from filmhand.profile.read.load import read_profile, to_snapshot
from filmhand.queue.job_queue import JobQueue
from filmhand.request import JobRequest
from filmhand.service import rendering as module
from filmhand.service.profile_queues import ProfileQueues
from filmhand.service.rendering import Engines, Rendering
from filmhand.worker.engine import LocalEngine
from filmhand.worker.parent import WorkerLimits, Workers

PROFILE = (
    "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
    "limits: {seconds: 420, memory: 1 GiB}\n"
)
LIMITS = WorkerLimits(420, 2**30)


@dataclass
class Cluster:
    address: str
    asked: list[Any] = field(default_factory=list)
    closed: int = 0

    def run(self, request: JobRequest, **named: Any) -> str:
        self.asked.append((request, named))
        return f"films by {self.address}"

    def close(self) -> None:
        self.closed += 1


@pytest.fixture
def request_(tmp_path: Path) -> JobRequest:
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    return JobRequest(tmp_path / "a", "a.png", profile, tmp_path / "out", tmp_path / "work")


def rendering_of(
    monkeypatch: pytest.MonkeyPatch, folder: Path, cores: int, **profiles: Any
) -> Rendering:
    monkeypatch.setattr(module, "usable_cores", lambda: cores)
    for kind in ("dask", "dask+tls"):
        monkeypatch.setitem(module.KINDS, kind, Cluster)
    registry: Any = SimpleNamespace(profiles=profiles)
    return Rendering(folder, registry, Workers())


def test_each_engine_is_made_once_and_let_go_of(monkeypatch: pytest.MonkeyPatch) -> None:
    for kind in ("dask", "dask+tls"):
        monkeypatch.setitem(module.KINDS, kind, Cluster)
    engines = Engines(3)
    here = engines.at(None)
    assert isinstance(here, LocalEngine) and here.room() == 3
    one: Any = engines.at("dask://a:1")
    two: Any = engines.at("dask+tls://b:2")
    assert (one.address, two.address) == ("dask://a:1", "dask+tls://b:2")
    assert engines.at("dask://a:1") is one and engines.at(None) is here
    engines.close()
    assert (one.closed, two.closed) == (1, 1)


@pytest.mark.parametrize(("cores", "size"), [(1, 2), (2, 2), (8, 8)])
def test_two_jobs_at_least_go_on_side_by_side(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, cores: int, size: int
) -> None:
    one = rendering_of(monkeypatch, tmp_path, cores)
    assert one.engines.at(None).room() == size
    for _ in range(size):
        assert one._sheets.acquire(blocking=False)
    assert not one._sheets.acquire(blocking=False)


@pytest.mark.parametrize(
    ("cores", "threads"), [(1, [1, 1, 1]), (2, [2, 1, 1]), (4, [4, 2, 1]), (64, [4, 4, 4])]
)
def test_a_lone_job_has_all_cores_and_many_share_them(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, request_: JobRequest,
    cores: int, threads: list[int],
) -> None:  # fmt: skip
    """Of 1 GiB no more than four threads are fed."""
    one = rendering_of(monkeypatch, tmp_path, cores)
    for _ in range(2):
        with ExitStack() as jobs:
            here = [jobs.enter_context(one._here(request_, request_)) for _ in range(3)]
        assert [[request.threads for request in both] for both in here] == [
            [number] * 2 for number in threads
        ]
        assert here[0][1] == replace(request_, threads=threads[0], tiles=tmp_path / "tiles")


def test_a_job_leaves_a_share_to_the_one_that_will_be_beside_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, request_: JobRequest
) -> None:
    monkeypatch.setattr(module, "usable_cores", lambda: 2)
    registry: Any = SimpleNamespace(profiles={})
    waiting = [1]
    one = Rendering(tmp_path, registry, Workers(), lambda: bool(waiting))
    threads = []
    for _ in range(2):
        with one._here(request_) as (here,):
            threads.append(here.threads)
        waiting.clear()
    assert threads == [1, 2]


def test_more_waits_where_a_queue_served_here_could_begin_another() -> None:
    def queue(workers: str | None, ready: int) -> Any:
        own: Any = SimpleNamespace(_lock=threading.Lock(), _backlog=[], settings=SimpleNamespace())
        own.view, own.settings.workers = SimpleNamespace(ready=[1] * ready), workers
        own.has_more = lambda: JobQueue.has_more(own)
        return own

    for here, elsewhere in ((0, 1), (1, 0)):
        queues = [queue(None, here), queue("dask://a:1", elsewhere)]
        profiles: Any = SimpleNamespace(queues=lambda known=queues: known)
        assert ProfileQueues.has_more(profiles) == bool(here)


def test_films_are_made_by_the_engine_of_the_request(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, request_: JobRequest
) -> None:
    one = rendering_of(monkeypatch, tmp_path, 2)
    asked = []

    def run(request: JobRequest, **named: Any) -> str:
        asked.append((request, named))
        return "films"

    monkeypatch.setattr("filmhand.worker.engine.run_in_worker", run)
    here: Any = one.films(request_)
    assert here == "films"
    named = {"limits": LIMITS, "workers": one._workers, "start": one.engines.here.start}
    assert asked == [(replace(request_, threads=2, tiles=tmp_path / "tiles"), named)]
    away = JobRequest(request_.art, "a.png", request_.profile, request_.out, request_.scratch,
                      workers="dask://a:1")  # fmt: skip
    there: Any = one.films(away)
    assert there == "films by dask://a:1"
    assert len(asked) == 1


def test_sheets_are_made_here_no_more_at_once_than_jobs(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, request_: JobRequest
) -> None:
    one = rendering_of(monkeypatch, tmp_path, 2)
    free, begun, asked = threading.Event(), threading.Semaphore(0), []

    def sheet(*given: Any, **named: Any) -> str:
        asked.append((given, named))
        begun.release()
        free.wait(600)
        return "sheet"

    monkeypatch.setattr(module, "run_gang", sheet)
    monkeypatch.setattr(module, "run_sheet_space", sheet)
    told: list[Any] = []
    calls = [
        lambda: told.append(one.gang([request_] * 2)),
        lambda: told.append(one.sheet_space([request_], {0: (1, 2)})),
        lambda: told.append(one.gang([request_])),
    ]
    threads = [threading.Thread(target=call) for call in calls]
    for thread in threads[:2]:
        thread.start()
        assert begun.acquire(timeout=120)
    threads[2].start()
    time.sleep(0.05)
    assert len(asked) == 2
    free.set()
    for thread in threads:
        thread.join(120)
    named = {"limits": LIMITS, "workers": one._workers, "start": one.engines.here.start}
    alone, beside = (replace(request_, threads=n, tiles=tmp_path / "tiles") for n in (2, 1))
    assert told == ["sheet"] * 3
    assert asked[:2] == [(([alone] * 2,), named), (([beside], {0: (1, 2)}), named)]
    assert asked[2] in [(([one],), named) for one in (alone, beside)]


def test_a_job_keeps_the_profile_that_it_was_taken_with(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, request_: JobRequest
) -> None:
    now = read_profile(PROFILE.replace("lpi: 25", "lpi: 30"), name="small", file="small.yaml")
    one = rendering_of(monkeypatch, tmp_path, 2, small=now)
    assert one.profile_of(to_snapshot(request_.profile)) == request_.profile
    assert one.profile_of({"name": "small", "of": "another version"}) is now
    with pytest.raises((ProfileError, KeyError, ValueError, TypeError)):
        one.profile_of({"name": "gone", "of": "another version"})

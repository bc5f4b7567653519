"""What a computer of a cluster does around a job, and what the service makes of its answers."""

from __future__ import annotations

import hashlib
import json
import os
import socket
import tempfile
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand import __version__
from filmhand.cluster import exchange, task
from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.film.formats import Format
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, FinishedSet, JobRequest, JobResult, PrintWork
from filmhand.worker.parent import WorkerDied, WorkerKilled, WorkerLimits, Workers
from filmhand.worker.wire import refusal_to_json, request_to_json

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    one = tmp_path / "shared"
    one.mkdir()
    (one / "here").write_text("word")
    return one


@pytest.fixture
def request_(folder: Path) -> JobRequest:
    for name in ("art", "art.ticket.yaml"):
        (folder / name).write_bytes(name.encode())
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    return JobRequest(folder / "art", "a.png", profile, folder / "out", folder / "work",
                      ticket=folder / "art.ticket.yaml", job="j1")  # fmt: skip


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [100.0]

    def sleep(seconds: float) -> None:
        now[0] = round(now[0] + seconds, 3)

    pretended = SimpleNamespace(monotonic=lambda: now[0], sleep=sleep)
    for module in (task, exchange):
        monkeypatch.setattr(module, "time", pretended)
    return now


def dask(monkeypatch: pytest.MonkeyPatch, **worker: Any) -> None:
    """As inside a dask worker, or outside of any."""

    def get_worker() -> Any:
        if not worker:
            raise ValueError("no worker")
        return SimpleNamespace(**worker)

    library = SimpleNamespace(get_worker=get_worker)
    monkeypatch.setattr(task.importlib, "import_module", lambda name: library)


# --- on the computer of the cluster -------------------------------------------------------------


def test_a_new_folder_of_a_share_is_waited_for(
    folder: Path, clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert task.sees(folder, "word")
    assert not task.sees(folder, "another", within=0.0)
    assert clock == [100.0]
    assert not task.sees(folder, "another")
    assert clock[0] == pytest.approx(105.0, abs=0.21)
    clock[0], reads = 100.0, [0]
    truly = Path.read_text

    def late(path: Path, **options: Any) -> str:
        reads[0] += 1
        return "" if reads[0] < 3 else truly(path, **options)

    monkeypatch.setattr(Path, "read_text", late)
    assert task.sees(folder, "word")
    assert clock[0] == pytest.approx(100.4)


@pytest.mark.parametrize(
    ("change", "trouble"),
    [
        ({"filmhand": "0"}, task.ClusterTrouble.VERSION),
        ({"libraries": ["no such library"]}, task.ClusterTrouble.LIBRARIES),
        ({"token": "another"}, task.ClusterTrouble.UNSEEN),
        ({"files": {"art": ["art", "0a" * 32]}}, task.ClusterTrouble.SHARE),
        ({"files": {"art": ["gone", "0a" * 32]}}, task.ClusterTrouble.SHARE),
    ],
)
def test_what_keeps_a_computer_from_a_job(
    folder: Path, request_: JobRequest, clock: list[float], monkeypatch: pytest.MonkeyPatch,
    change: dict[str, Any], trouble: task.ClusterTrouble,
) -> None:  # fmt: skip
    dask(monkeypatch)
    question = exchange.question_of(request_, WorkerLimits(5, 2**30), "word")
    answer = json.loads(task.run(json.dumps({**question, **change})))
    assert answer["trouble"] == trouble.value
    assert (answer["host"], answer["filmhand"]) == (socket.gethostname(), __version__)


def test_a_folder_that_goes_during_the_copying_is_not_seen(
    folder: Path, request_: JobRequest, clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    dask(monkeypatch)

    def gone(*_: object) -> None:
        (folder / "here").unlink()
        raise OSError(2, "gone")

    monkeypatch.setattr(task, "_work", gone)
    question = exchange.question_of(request_, WorkerLimits(5, 2**30), "word")
    answer = json.loads(task.run(json.dumps(question)))
    assert answer["trouble"] == task.ClusterTrouble.UNSEEN.value
    assert clock == [100.0]


def test_a_job_works_on_copies_and_delivers_what_it_made(
    folder: Path, request_: JobRequest, clock: list[float], monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:  # fmt: skip
    dask(monkeypatch, local_directory=str(tmp_path), state=SimpleNamespace(nthreads=2))
    monkeypatch.setattr(task, "usable_cores", lambda: 8)
    seen: list[tuple[JobRequest, WorkerLimits, str]] = []

    def run(request: JobRequest, *, limits: WorkerLimits, workers: Workers, module: str) -> Any:
        seen.append((request, limits, module))
        assert request.art.read_bytes() == b"art" and request.ticket is not None
        assert request.ticket.read_bytes() == b"art.ticket.yaml"
        assert request.out.is_dir() and request.scratch.is_dir()
        film, proof, whole = (request.out / name for name in ("a.pdf", "a.jpg", "set.jpg"))
        page = request.out / "a.pwg"
        film.write_bytes(b"film")
        page.write_bytes(b"page")
        proof.write_bytes(b"proof")
        whole.write_bytes(b"all of it")
        documents = {Format.PDF: film, Format.PWG: page}
        printing = PrintWork(documents, 1, (21000, 29700), (0, 0, 0, 0), (300, 300))
        made = FinishedFilm("", {Format.PDF: film}, proof, {"n": 1}, printing)
        return JobResult([made], [FinishedSet("", whole)])

    monkeypatch.setattr(task, "run_in_worker", run)
    question = exchange.question_of(request_, WorkerLimits(420, 2**30), "word")
    assert question["files"] == {
        "art": ["art", sha(b"art")], "ticket": ["art.ticket.yaml", sha(b"art.ticket.yaml")],
    }  # fmt: skip
    answer = json.loads(task.run(json.dumps(question), module="stub"))
    ((request, limits, module),) = seen
    assert (limits, module) == (WorkerLimits(420, 2**30), "stub")
    assert (request.mask, request.threads) == (None, 4)
    assert request.tiles == tmp_path / "filmhand-tiles"
    assert request.art.is_relative_to(tmp_path) and not request.art.is_relative_to(folder)
    assert not request.art.exists()  # copies are removed
    assert answer["sha256"] == {
        "a.pdf": sha(b"film"), "a.jpg": sha(b"proof"), "set.jpg": sha(b"all of it"),
        "a.pwg": sha(b"page"),
    }  # fmt: skip
    assert (folder / answer["run"] / "a.pdf").read_bytes() == b"film"
    assert answer["run"].startswith("run-")
    made = exchange.understand(answer, folder)
    (film,) = made.films
    assert made.sets == [FinishedSet("", folder / answer["run"] / "set.jpg")]
    assert film.files == {Format.PDF: folder / answer["run"] / "a.pdf"}
    assert film.printing is not None
    assert film.printing.documents[Format.PWG] == folder / answer["run"] / "a.pwg"
    assert (film.proof, film.record) == (folder / answer["run"] / "a.jpg", {"n": 1})


@pytest.mark.parametrize(
    ("error", "status", "answer", "waits"),
    [
        (Refused(Reason.BLANK, "Bare.", "Draw."), "running",
         {"refused": refusal_to_json(Refused(Reason.BLANK, "Bare.", "Draw."))}, 0.0),
        (WorkerDied("SIGSEGV"), "running", {"died": "SIGSEGV", "bug": False}, 1.0),
        (WorkerDied("KeyError", is_bug=True), "paused", {"died": "KeyError", "bug": True}, 1.0),
        (WorkerKilled("SIGKILL"), "running", {"killed": "SIGKILL"}, 1.0),
        (WorkerKilled("SIGKILL"), "closing",
         {"trouble": task.ClusterTrouble.ENDING.value}, 1.0),
        (EnvironmentTrouble("Full."), "running",
         {"trouble": task.ClusterTrouble.THERE.value, "why": "Full."}, 0.0),
    ],
)  # fmt: skip
def test_how_a_job_can_end(
    folder: Path, request_: JobRequest, clock: list[float], monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path, error: Exception, status: str, answer: dict[str, Any], waits: float,
) -> None:  # fmt: skip
    state, name = SimpleNamespace(nthreads=1), SimpleNamespace(name=status)
    dask(monkeypatch, local_directory=str(tmp_path), state=state, status=name)

    def run(request: JobRequest, **_: Any) -> Any:
        raise error

    monkeypatch.setattr(task, "run_in_worker", run)
    question = exchange.question_of(request_, WorkerLimits(5, 2**30), "word")
    told = json.loads(task.run(json.dumps(question)))
    assert {key: told[key] for key in told.keys() - {"host", "filmhand"}} == answer
    assert clock[0] == 100.0 + waits


def test_where_it_works_and_with_how_many_threads(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(task, "usable_cores", lambda: 5)
    dask(monkeypatch)
    assert task._local_folder() == Path(tempfile.gettempdir())
    assert (task._threads(), task._is_ending()) == (5, False)
    running = SimpleNamespace(name="running")
    for jobs, threads in ((2, 2), (5, 1), (9, 1)):
        dask(monkeypatch, local_directory=str(tmp_path), status=running,
             state=SimpleNamespace(nthreads=jobs))  # fmt: skip
        assert task._threads() == threads
    assert task._local_folder() == tmp_path
    assert not task._is_ending()


def test_a_job_whose_word_is_gone_is_ended(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(task, "_LOOK_EVERY", 0.01)
    workers = Workers()
    with task._ended_without(folder / "here", workers):
        time.sleep(0.1)
        assert not workers.stopped
        (folder / "here").rename(folder / "away")
        until = time.monotonic() + 10
        while not workers.stopped and time.monotonic() < until:
            time.sleep(0.01)
    assert workers.stopped
    (folder / "away").rename(folder / "here")
    workers = Workers()

    def fail(path: Path) -> bytes:
        raise OSError(5, "the share fails")

    monkeypatch.setattr(Path, "read_bytes", fail)
    with task._ended_without(folder / "here", workers):
        time.sleep(0.1)
    assert not workers.stopped
    assert not any(one.name == "filmhand watches" for one in threading.enumerate())


@pytest.mark.parametrize(
    ("token", "writable", "sees", "may_write"),
    [("word", True, True, True), ("word", False, True, False), ("other", True, False, False)],
)
def test_what_a_computer_tells_doctor(
    folder: Path, clock: list[float], monkeypatch: pytest.MonkeyPatch, token: str,
    *, writable: bool, sees: bool, may_write: bool,
) -> None:  # fmt: skip
    def refuse(**_: object) -> None:
        raise PermissionError

    if not writable:
        monkeypatch.setattr(task.tempfile, "TemporaryFile", refuse)
    told = task.look(str(folder), token)
    assert (told["sees"], told["may_write"]) == (sees, may_write)
    assert (told["host"], told["filmhand"]) == (socket.gethostname(), __version__)
    assert sorted(os.listdir(folder)) == ["here"]  # noqa: PTH208


# --- on the service's side ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "kind", "says"),
    [
        ({"killed": "SIGKILL"}, WorkerKilled, "SIGKILL on mill"),
        ({"died": "SIGSEGV", "bug": False}, WorkerDied, "^on mill: SIGSEGV$"),
        ({"refused": refusal_to_json(Refused(Reason.BLANK, "Bare.", "Draw."))}, Refused, "Bare"),
        ({"trouble": "another version of filmhand", "filmhand": "0"}, EnvironmentTrouble,
         f"mill has filmhand 0, and here is {__version__}; install the same"),
        ({"trouble": "it lacks libraries"}, EnvironmentTrouble, "mill lacks an addition"),
        ({"trouble": "it does not see the folder"}, EnvironmentTrouble, "mill does not see"),
        ({"trouble": "the folder failed", "why": "full"}, EnvironmentTrouble, "folder: full; see"),
        ({"trouble": "the computer itself failed", "why": "Full."}, EnvironmentTrouble,
         "mill: Full."),
        ({"trouble": "it is being ended"}, EnvironmentTrouble, "was being ended during a job"),
    ],
)  # fmt: skip
def test_what_an_answer_means(
    folder: Path, answer: dict[str, Any], kind: type[Exception], says: str
) -> None:
    with pytest.raises(kind, match=says) as caught:
        exchange.understand({"host": "mill", **answer}, folder)
    if isinstance(caught.value, WorkerDied):
        assert caught.value.is_bug is bool(answer["bug"])
    if "trouble" in answer:
        (folder / "here").unlink()
        with pytest.raises(FileNotFoundError):  # the job is another host's now
            exchange.understand({"host": "mill", **answer}, folder)


def answer_of(folder: Path, data: bytes | None = b"film") -> dict[str, Any]:
    (folder / "run-1").mkdir(exist_ok=True)
    if data is not None:
        (folder / "run-1" / "a.pdf").write_bytes(data)
    film = {"suffix": "", "files": {"pdf": "a.pdf"}, "proof": "a.pdf", "record": {}}
    return {"host": "mill", "run": "run-1", "films": [film], "sha256": {"a.pdf": sha(b"film")}}


def test_films_are_waited_for_until_they_are_here(
    folder: Path, clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = answer_of(folder, None)
    sleep = exchange.time.sleep

    def arrive(seconds: float) -> None:
        sleep(seconds)
        (folder / "run-1" / "a.pdf").write_bytes(b"film" if clock[0] > 105 else b"fi")

    monkeypatch.setattr(exchange.time, "sleep", arrive)
    assert len(exchange.understand(answer, folder).films) == 1
    assert clock[0] == pytest.approx(105.1)


@pytest.mark.parametrize("data", [None, b"other"])
def test_films_that_do_not_arrive_are_the_shares_trouble(
    folder: Path, clock: list[float], data: bytes | None
) -> None:
    with pytest.raises(EnvironmentTrouble, match="mill wrote into this profile's"):
        exchange.understand(answer_of(folder, data), folder)
    assert clock[0] == pytest.approx(110.1)


def test_a_folder_that_is_gone_or_a_link_gives_no_film(
    folder: Path, clock: list[float], tmp_path: Path
) -> None:
    answer = answer_of(folder)
    (folder / "run-1" / "a.pdf").rename(tmp_path / "film")
    (folder / "run-1" / "a.pdf").symlink_to(tmp_path / "film")
    with pytest.raises(EnvironmentTrouble, match="has not arrived here"):
        exchange.understand(answer, folder)
    folder.rename(tmp_path / "away")
    with pytest.raises(FileNotFoundError):
        exchange.understand(answer, folder)


@pytest.mark.parametrize("name", ["../a.pdf", "..", "x/a.pdf", "/etc/passwd", ""])
def test_an_answer_leads_nowhere_else(folder: Path, clock: list[float], name: str) -> None:
    for change in ({"run": name}, {"sha256": {name: sha(b"film")}}):
        with pytest.raises(EnvironmentTrouble, match="which is no name of a file"):
            exchange.understand({**answer_of(folder), **change}, folder)


def test_a_question_is_the_request_with_the_hashes_of_its_files(
    folder: Path, request_: JobRequest
) -> None:
    told = exchange.question_of(request_, WorkerLimits(7, 2**29), "word")
    assert (told["folder"], told["token"], told["filmhand"]) == (str(folder), "word", __version__)
    assert (told["seconds"], told["memory"]) == (7, 2**29)
    assert told["request"] == request_to_json(request_)

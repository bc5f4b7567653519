"""What runs on a computer of the cluster, and what the service makes of its answer, without one."""

from __future__ import annotations

import hashlib
import json
import struct
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from test_service_worker import is_alive

from filmhand import __version__
from filmhand.cluster import exchange, task
from filmhand.cluster.exchange import question_of, understand
from filmhand.cluster.scheduler import load_library
from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.worker.parent import WorkerDied, WorkerKilled, WorkerLimits
from filmhand.worker.wire import request_to_json

Ask = Callable[..., dict[str, Any]]


PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "shared"
    folder.mkdir()
    (folder / "here").write_text("word")
    return folder


@pytest.fixture
def ask(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """ask(art, **other): the answer of a computer whose job misbehaves as the art says."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent))
    monkeypatch.setattr(task, "_APPEARS_WITHIN", 0.0)
    monkeypatch.setattr(task, "_LOOK_EVERY", 0.05)
    monkeypatch.setattr(task, "_SLOW_END", 0.0)

    def run(art: str, **other: Any) -> dict[str, Any]:
        (folder / "art").write_text(art)
        profile = read_profile(PROFILE, name="small", file="small.yaml")
        request = JobRequest(folder / "art", "a b.png", profile, folder / "out", folder / "work")
        question = {
            "filmhand": __version__,
            "libraries": [],
            "folder": str(folder),
            "token": "word",
            "request": request_to_json(request),
            "files": {"art": ["art", hashlib.sha256(art.encode()).hexdigest()]},
            "seconds": 30,
            "memory": 2**30,
            "language": "en",
            **other,
        }
        answer: dict[str, Any] = json.loads(task.run(json.dumps(question), module="worker_stub"))
        return answer

    return run


def test_a_film_comes_back_whole(ask: Ask, folder: Path) -> None:
    answer = ask("good")
    (film,) = understand(answer, folder).films
    assert film.files["pdf"].read_text() == "film of a b.png"
    assert film.files["pdf"].is_relative_to(folder)


def test_a_refusal_and_a_death_come_back(ask: Ask, folder: Path) -> None:
    with pytest.raises(Refused) as caught:
        understand(ask("refuse"), folder)
    assert caught.value.reason is Reason.TOO_SMALL
    with pytest.raises(WorkerDied, match="SIGSEGV"):
        understand(ask("signal SIGSEGV"), folder)
    with pytest.raises(Refused, match="not finished"):
        understand(ask("sleep", seconds=0.5), folder)


@pytest.mark.parametrize(
    ("art", "other", "say"),
    [
        ("good", {"filmhand": "0.0.9"}, "install the same version"),
        ("good", {"libraries": ["of_another_world"]}, "lacks an addition"),
        ("good", {"token": "another"}, "does not see this profile's folder"),
        ("good", {"folder": "/nowhere/at/all"}, "does not see this profile's folder"),
        ("good", {"files": {"art": ["art", "0" * 64]}}, "not what the service put there"),
        ("good", {"files": {"art": ["gone", "0" * 64]}}, "could not work in this profile's folder"),
        ("full", {}, "no space left"),
    ],
)
def test_trouble_of_a_computer_is_nobodys_fault(
    ask: Ask, folder: Path, art: str, other: dict[str, Any], say: str
) -> None:
    with pytest.raises(EnvironmentTrouble, match=say):
        understand(ask(art, **other), folder)


ICC = struct.pack(">I4xI4s4s4s12x4s", 200, 0x02400000, b"prtr", b"CMYK", b"Lab ", b"acsp")


@pytest.fixture
def ask_by_icc(ask: Ask, folder: Path, tmp_path: Path) -> Ask:
    """ask_by_icc(): asked as the service does, by a profile beside which an ICC profile lies."""
    named = tmp_path / "named"
    named.mkdir()
    (named / "press.icc").write_bytes(ICC.ljust(200, b"\1"))
    text = PROFILE + "inks: process\nicc: {file: press.icc, intent: perceptual}\n"
    profile = read_profile(text, name="small", file="small.yaml", curve_dir=named)

    def run() -> dict[str, Any]:
        (folder / "art").write_text("icc")
        request = JobRequest(folder / "art", "a b.png", profile, folder / "out", folder / "work")
        question = question_of(request, WorkerLimits(seconds=30, memory=2**30), "word")
        (named / "press.icc").unlink(missing_ok=True)  # other computers have no such file
        return ask("icc", **question)

    return run


def test_the_icc_profile_of_a_press_goes_with_the_job(ask_by_icc: Ask, folder: Path) -> None:
    (film,) = understand(ask_by_icc(), folder).films
    assert film.files["pdf"].read_bytes() == ICC.ljust(200, b"\1")


def test_an_icc_profile_that_is_another_by_now_is_told(ask_by_icc: Ask, tmp_path: Path) -> None:
    (tmp_path / "named/press.icc").write_bytes(b"another")
    with pytest.raises(EnvironmentTrouble, match=r"press\.icc .* not the file any more"):
        ask_by_icc()


def test_one_that_was_changed_on_its_way_is_not_believed(
    ask_by_icc: Ask, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def spoiled(*asked: Any) -> Any:
        (folder / "press.icc").write_bytes(ICC.ljust(200, b"\2"))
        return fetch(*asked)

    fetch = task._fetch
    monkeypatch.setattr(task, "_fetch", spoiled)
    with pytest.raises(EnvironmentTrouble, match=r"press\.icc is not what the service put there"):
        understand(ask_by_icc(), folder)


def test_a_job_whose_folder_is_taken_away_ends(
    ask: Ask, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    local = tmp_path / "local"
    local.mkdir()
    monkeypatch.setattr(task, "_local_folder", lambda: local)
    answers: list[dict[str, Any]] = []
    thread = threading.Thread(target=lambda: answers.append(ask("note")))
    thread.start()
    until = time.monotonic() + 20
    pid = ""
    while not pid:
        assert time.monotonic() < until
        time.sleep(0.02)
        pid = "".join(note.read_text() for note in local.glob("filmhand-*/out/pid"))
    folder.rename(tmp_path / "another host's")
    thread.join(120)
    assert answers[0]["trouble"] == task.ClusterTrouble.UNSEEN
    assert not is_alive(int(pid))
    with pytest.raises(FileNotFoundError):  # by which the spool knows that the job is lost
        understand(answers[0], folder)


def test_a_dask_worker_that_is_ended_with_all_its_processes_is_no_strike(
    ask: Ask, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(WorkerKilled, match="SIGKILL on "):
        understand(ask("signal SIGKILL"), folder)
    monkeypatch.setattr(task, "_is_ending", lambda: True)
    for name in ("SIGSEGV", "SIGKILL"):
        with pytest.raises(EnvironmentTrouble, match="being ended"):
            understand(ask(f"signal {name}"), folder)


def test_films_that_do_not_arrive_whole_are_not_taken(
    ask: Ask, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exchange, "_ARRIVES_WITHIN", 0.2)
    answer = ask("good")
    (folder / answer["run"] / "film.pdf").write_text("half a")
    with pytest.raises(EnvironmentTrouble, match="has not arrived"):
        understand(answer, folder)
    for name in ("../art", "/etc/passwd", ".."):
        with pytest.raises(EnvironmentTrouble, match="no name of a file"):
            understand({**answer, "sha256": {name: ""}}, folder)


def test_without_the_addition_it_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(EnvironmentTrouble, match=r"filmhand\[cluster\]"):
        load_library()

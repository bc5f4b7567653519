"""One question to a worker and its answer, without a process: pipes, bounds, tasks."""

from __future__ import annotations

import io
import json
import os
import runpy
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.errors import Reason, Refused
from filmhand.film.formats import Format
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, GangResult, JobRequest, JobResult, SheetSpace
from filmhand.worker import child
from filmhand.worker.wire import request_to_json

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"


class Bank:
    """A child whose standard output is a pipe, and whose bounds are only noted."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.order: list[Any] = []
        self._patch = monkeypatch
        self._folder = folder
        # Restored afterwards: the child goes to the folder of its question.
        monkeypatch.chdir(Path.cwd())
        monkeypatch.setenv("TMPDIR", "/tmp")
        monkeypatch.setattr(tempfile, "tempdir", None)
        profile = read_profile(PROFILE, name="small", file="small.yaml")
        self.request = JobRequest(
            folder / "art", "a.png", profile, folder / "out", folder / "work",
            ticket=folder / "art.ticket.yaml", tiles=folder / "tiles",
        )  # fmt: skip
        self.plain = JobRequest(folder / "b", "b.png", profile, folder / "out", folder / "more",
                                mask=folder / "b.clear.png")  # fmt: skip
        monkeypatch.setattr(child, "set_limits", lambda asked: self.order.append("limits"))
        monkeypatch.setattr(
            child, "confine", lambda read, write: self.order.append((set(read), set(write)))
        )
        monkeypatch.setattr(
            "filmhand.pipeline.opening.screen_and_tile",
            lambda profile, tiles: self.order.append(("tile", tiles)),
        )

    def question(self, task: str = "films", *requests: JobRequest, **more: Any) -> dict[str, Any]:
        asked = [request_to_json(request) for request in requests or (self.request, self.plain)]
        return {"task": task, "requests": asked, "memory": 2**30, **more}

    def ask(self, question: dict[str, Any], make: Any = None) -> tuple[int, Any, str]:
        """The exit code, the answer, and what was printed besides."""
        question = {"folder": str(self._folder), **question}
        given = SimpleNamespace(buffer=io.BytesIO(json.dumps(question).encode()))
        self._patch.setattr(sys, "stdin", given)
        kept = [os.dup(number) for number in (1, 2)]
        (answer, to_answer), (noise, to_noise) = os.pipe(), os.pipe()
        os.dup2(to_answer, 1)
        os.dup2(to_noise, 2)
        try:
            code = child.answer_parent(make)
        finally:
            for number, old in zip((1, 2), kept, strict=True):
                os.dup2(old, number)
                os.close(old)
            os.close(to_answer)
            os.close(to_noise)
        with os.fdopen(answer, "rb") as one, os.fdopen(noise, "rb") as other:
            return code, json.loads(one.read()), other.read().decode()


@pytest.fixture
def bank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bank]:
    yield Bank(tmp_path, monkeypatch)


def test_a_child_works_in_the_folder_that_it_is_told(bank: Bank, tmp_path: Path) -> None:
    """One that was started ahead did not know it; none began elsewhere."""
    (tmp_path / "scratch").mkdir()
    tempfile.tempdir = "/"
    question = bank.question(folder=str(tmp_path / "scratch"))

    def where(_: Any) -> Any:
        return [os.getcwd(), os.environ["TMPDIR"], tempfile.gettempdir()]  # noqa: PTH109

    assert bank.ask(question, where)[1] == {"ok": [str(tmp_path / "scratch")] * 3}


def test_limits_and_bounds_stand_before_anything_is_made(bank: Bank, tmp_path: Path) -> None:
    def make(question: Any) -> Any:
        bank.order.append("made")
        os.write(1, b"a library that prints")
        return {"films": []}

    code, answer, noise = bank.ask(bank.question(), make)
    assert (code, answer, noise) == (0, {"ok": {"films": []}}, "a library that prints")
    names = ("art", "art.ticket.yaml", "b", "b.clear.png", "tiles")
    readable = {tmp_path / name for name in names}
    assert bank.order == [
        "limits",
        (readable, {tmp_path / "out", tmp_path / "work", tmp_path / "more"}),
        "made",
    ]


def test_tiles_are_kept_while_that_may_be_done(
    bank: Bank, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        child, "_make", lambda question, asked, pipe: bank.order.append("made") or {}
    )
    _, answer, _ = bank.ask(bank.question())
    assert answer == {"ok": {}}
    assert bank.order[:2] == ["limits", ("tile", tmp_path / "tiles")]
    assert isinstance(bank.order[2], tuple) and bank.order[3:] == ["made"]


def test_a_question_without_art_is_bound_as_well(bank: Bank) -> None:
    _, answer, _ = bank.ask({"task": "none", "memory": 1}, lambda question: {"done": True})
    assert answer == {"ok": {"done": True}}
    assert bank.order == ["limits", (set(), set())]


def test_a_refusal_is_an_answer(bank: Bank) -> None:
    def refuse(question: Any) -> Any:
        raise Refused(Reason.BLANK, "It is bare.", "Draw.")

    code, answer, _ = bank.ask(bank.question(), refuse)
    assert code == 0
    assert answer["refused"]["reason"] == "blank"


def test_each_task_is_done_by_its_part_of_the_pipeline(
    bank: Bank, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    film = FinishedFilm(
        "", {Format.PDF: tmp_path / "out" / "a.pdf"}, tmp_path / "out" / "a.jpg", {}
    )

    def answer_with(told: Any) -> Any:
        return lambda *given: asked.append(given) or told

    monkeypatch.setattr("filmhand.pipeline.make.make_films", answer_with(JobResult([film])))
    monkeypatch.setattr("filmhand.pipeline.gang.make_gang", answer_with(GangResult(left=[1])))
    room = SheetSpace([(3, 4), None], [0])
    monkeypatch.setattr("filmhand.pipeline.gang.find_room", answer_with(room))
    both = [bank.request, bank.plain]
    films = child._make(bank.question("films"), both, io.BytesIO())
    assert films["films"][0]["files"] == {"pdf": "a.pdf"}
    assert child._make(bank.question("gang"), both, io.BytesIO())["left"] == [1]
    known = bank.question("space", known=[[0, [3, 4]], [1, None]])
    told = child._make(known, both, io.BytesIO())
    assert told["chosen"] == [0]
    assert asked == [(bank.request,), (both,), (both, {0: (3, 4), 1: None})]


def test_as_a_program_it_answers_and_ends_at_once(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without taking its heap apart, which would only keep the film waiting."""
    ended: list[int] = []

    class Stop(Exception):
        pass

    def end(code: int) -> None:
        ended.append(code)
        raise Stop

    monkeypatch.setattr(os, "_exit", end)
    monkeypatch.setattr("filmhand.worker.sandbox.confine", lambda read, write: None)
    monkeypatch.setattr("resource.setrlimit", lambda limit, pair: None)
    monkeypatch.setattr("filmhand.speaking_pool.work_alone", lambda: None)
    monkeypatch.setattr(Path, "write_text", lambda *_, **__: 0)
    monkeypatch.setattr("signal.signal", lambda *_: None)
    monkeypatch.setattr("ctypes.CDLL", lambda *_, **__: object())
    monkeypatch.delitem(sys.modules, "filmhand.worker.child")
    monkeypatch.delitem(sys.modules, "filmhand.worker.job", raising=False)

    def program(make: Any) -> int:
        with pytest.raises(Stop):
            runpy.run_module("filmhand.worker.job", run_name="__main__")
        return 5

    monkeypatch.setattr(child, "answer_parent", program)
    question = {"task": "dishes", "requests": [], "memory": 2**30, "cpu_seconds": 5}
    question["threads"] = 1
    code, answer, _ = bank.ask(question)
    assert (code, ended) == (5, [0])
    assert "no task 'dishes'" in answer["bug"]

"""Films on their way into the job's folder."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from filmhand.disk import atomic
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.film.formats import Format
from filmhand.jobs.claim import NotSettled
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job, State, TakenFiles
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.render_job import (
    copy_durably,
    copy_unchanged,
    crashed,
    earlier_film,
    render_job,
    strike_for_bug,
    unfinished_told,
)
from filmhand.request import FinishedFilm, JobRequest, JobResult
from filmhand.worker.parent import WorkerDied


def test_a_copy_is_whole_and_its_digest_is_that_of_the_film(tmp_path: Path) -> None:
    film, target = tmp_path / "film.tif", tmp_path / "out.tif"
    film.write_bytes(bytes(range(256)) * 5000)
    assert copy_durably(film, target) == hashlib.sha256(film.read_bytes()).hexdigest()
    assert target.read_bytes() == film.read_bytes()


@pytest.mark.parametrize("kept", [b"", b"dots, dot", b"dots, dotz", b"dots, dots, dots"])
def test_a_disk_that_keeps_something_else_is_found_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kept: bytes
) -> None:
    film, target = tmp_path / "film.tif", tmp_path / "out.tif"
    film.write_bytes(b"dots, dots")
    monkeypatch.setattr(atomic, "write_atomic", lambda path, data: path.write_bytes(kept))
    with pytest.raises(EnvironmentTrouble, match="did not keep what was written"):
        copy_durably(film, target)


# --- on a job of its own ------------------------------------------------------------------------


ID = "20260102T030405-0a1b2c3d"


@pytest.fixture
def context(tmp_path: Path) -> Iterator[JobContext]:
    folders = Folders(tmp_path / "small")
    folders.make()
    one = JobContext(
        folders=folders,
        host="here-00000000",
        ledger=Ledger(tmp_path / "ledger.sqlite"),
        scratch=tmp_path / "scratch",
        render=lambda request: JobResult(),
        why_note=lambda name, refused, is_scan: "",
        log=tmp_path / "filmhand.log",
    )
    yield one
    one.ledger.close()


@pytest.fixture
def job(context: JobContext) -> Job:
    one = Job(context.own / ID, ID, "small", {}, (), TakenFiles("a.png"))
    one.held.mkdir(parents=True)
    (one.held / "a.png").touch()
    one.state = State.CLAIMED
    one.decision.sha256 = "0a" * 32
    one.save()
    return one


def made(context: JobContext, stem: str, sha256: str = "0a" * 32, job: str = ID[:-1] + "e") -> None:
    told = {
        "job": job, "at": "2026-03-01T10:00:00Z",
        "source": {"name": "a.png", "sha256": sha256}, "film": {"files": {}},
    }  # fmt: skip
    (context.folders.output("records") / f"{stem}.json").path.write_text(json.dumps(told))


def test_a_ledger_that_is_whole_is_believed(context: JobContext, job: Job) -> None:
    context.ledger.has_learned()
    made(context, "a")
    assert earlier_film(job, context) == (None, True)


def test_films_of_the_same_name_are_looked_at_where_the_ledger_is_new(
    context: JobContext, job: Job
) -> None:
    assert context.ledger.fresh
    assert earlier_film(job, context) == (None, False)
    made(context, "a", sha256="0b" * 32)
    assert earlier_film(job, context) == (None, False)
    made(context, "a-2")
    assert earlier_film(job, context) == ("a-2", True)
    made(context, "a-3", job=ID)  # of this very job
    assert earlier_film(job, context) == ("a-2", True)
    made(context, "a-4")
    made(context, "a-6")  # there is no fifth, so none of its name behind it
    assert earlier_film(job, context) == ("a-4", True)


@pytest.mark.parametrize(("number", "found"), [(50, "a-50"), (51, None)])
def test_fifty_films_of_a_name_are_looked_at(
    context: JobContext, job: Job, number: int, found: str | None
) -> None:
    for count in range(1, number + 1):
        made(context, "a" if count == 1 else f"a-{count}", sha256="0b" * 32)
    made(context, f"a-{number}")
    assert earlier_film(job, context)[0] == found


def test_a_fault_of_ours_counts_against_art_in_work_and_parts_a_gang(
    context: JobContext, job: Job
) -> None:
    for strikes in (1, 2):
        assert strike_for_bug(job, context)
        assert (job.strikes, job.decision.refusal) == (strikes, None)
        assert Job.load(job.folder).strikes == strikes
    assert strike_for_bug(job, context)
    assert job.decision.refusal is not None
    assert "the file is not to blame" in job.decision.refusal["say"]
    assert str(context.log) in job.decision.refusal["do"]
    job.state = State.PUBLISHING
    assert not strike_for_bug(job, context)
    assert job.strikes == 3


def test_a_gang_parts_over_a_fault_and_gets_no_strike(context: JobContext, job: Job) -> None:
    job.state, job.gang.members = State.GANGED, [ID[:-1] + "e"]
    assert strike_for_bug(job, context)
    assert (job.state, job.strikes) == (State.PARTING, 0)


def test_what_a_worker_died_of_is_the_arts_or_ours() -> None:
    assert "could" not in crashed(is_bug=True).say and "in its log." in crashed(is_bug=True).do
    art = crashed(Path("/var/log/filmhand.log"))
    assert art.say.startswith("Filmhand tried this file three times")
    assert "the cause in /var/log/filmhand.log." in art.do


def test_films_that_were_made_too_early_are_told_in_the_record() -> None:
    record = {"notes": ["one"], "film": {}}
    assert unfinished_told(record, []) is record
    told = unfinished_told(record, ["a.pdf", "b\x1b.pdf"])
    assert told["unfinished"] == ["a.pdf", "b\ufffd.pdf"]
    assert told["notes"][0] == "one"
    assert told["notes"][1].startswith("a.pdf and b\ufffd.pdf were made")
    assert len(unfinished_told({}, ["a.pdf"])["notes"]) == 1
    assert record == {"notes": ["one"], "film": {}}


@pytest.mark.parametrize("size", [0, 1 << 20, (2 << 20) + 5])
def test_held_art_is_read_once_copied_and_hashed(context: JobContext, job: Job, size: int) -> None:
    data = bytes(range(251)) * (size // 251) + bytes(size % 251)
    (job.held / "a.png").path.write_bytes(data)
    found = (job.held / "a.png").lstat()
    job.taken.seen["a.png"] = [found.st_size, found.st_mtime_ns, found.st_ino]
    target = job.folder / "copy"
    assert copy_unchanged(job, "a.png", target) == hashlib.sha256(data).hexdigest()
    assert target.read_bytes(1 << 30) == data
    assert copy_unchanged(job, "a.png", None) == hashlib.sha256(data).hexdigest()
    (job.held / "a.png").path.write_bytes(b"other")
    with pytest.raises(NotSettled, match="changed while it was read"):
        copy_unchanged(job, "a.png", None)


# --- from claimed to staged or refused ----------------------------------------------------------


def settled(job: Job) -> None:
    """The art is as it was when it settled."""
    found = (job.held / "a.png").lstat()
    job.taken.seen["a.png"] = [found.st_size, found.st_mtime_ns, found.st_ino]
    job.save()


def rendering(context: JobContext, outcome: Any) -> JobContext:
    def render(request: JobRequest) -> JobResult:
        if isinstance(outcome, Exception):
            raise outcome
        film, proof = request.out / "x.pdf", request.out / "x.jpg"
        film.write_bytes(b"film")
        proof.write_bytes(b"proof")
        return JobResult([FinishedFilm("", {Format.PDF: film}, proof, {"film": {}})])

    now = datetime(2026, 3, 1, 10, tzinfo=UTC)
    profile = SimpleNamespace(approve=False, budget=None, print=None)
    return replace(
        context, render=render, now=lambda: now, profile_of=lambda _: cast("Any", profile)
    )


def test_a_refusal_is_on_disk_before_anything_follows(context: JobContext, job: Job) -> None:
    settled(job)
    render_job(job, rendering(context, Refused(Reason.BLANK, "It is bare.", "Draw.")))
    told = Job.load(job.folder)
    assert (told.state, told.decision.at) == (State.REJECTING, "2026-03-01T10:00:00Z")
    assert told.decision.refusal is not None and told.decision.refusal["reason"] == "blank"
    assert told.decision.sha256 == hashlib.sha256(b"").hexdigest()
    assert not (context.scratch / ID).exists()


def test_films_are_on_disk_with_their_names_before_they_are_published(
    context: JobContext, job: Job
) -> None:
    settled(job)
    render_job(job, rendering(context, None))
    told = Job.load(job.folder)
    assert (told.state, told.publication.stem) == (State.PUBLISHING, "a")
    kinds = [(item.kind, item.name) for item in told.publication.items]
    assert kinds == [("records", "a.json"), ("proofs", "a.jpg"), ("positives", "a.pdf")]
    for item in told.publication.items:
        data = (told.out / item.source).read_bytes(10_000)
        assert hashlib.sha256(data).hexdigest() == item.sha256
    record = json.loads((told.out / told.publication.items[0].source).read_bytes(10_000))
    assert (record["job"], record["at"]) == (ID, "2026-03-01T10:00:00Z")
    assert record["film"] == {"files": {"pdf": "a.pdf"}}
    assert (record["earlier"], record["earlier_known"]) == (None, False)


def test_the_third_death_of_its_worker_is_a_refusal(context: JobContext, job: Job) -> None:
    settled(job)
    dying = rendering(context, WorkerDied("it ended by SIGSEGV"))
    for strikes in (1, 2):
        with pytest.raises(WorkerDied):
            render_job(job, dying)
        told = Job.load(job.folder)
        assert (told.strikes, told.state) == (strikes, State.CLAIMED)
    render_job(job, dying)
    told = Job.load(job.folder)
    assert (told.strikes, told.state) == (3, State.REJECTING)
    assert told.decision.refusal is not None and told.decision.refusal["reason"] == "crashed"
    assert context.counts.strikes == 3


def test_art_that_changed_goes_back_unless_films_of_it_are_out(
    context: JobContext, job: Job
) -> None:
    settled(job)
    job.decision.unfinished = ["a.pdf"]
    (job.held / "a.png").path.write_bytes(b"longer")
    render_job(job, rendering(context, None))
    assert Job.load(job.folder).state is State.SETTLING
    job.state, job.decision.unfinished = State.CLAIMED, []
    with pytest.raises(NotSettled):
        render_job(job, rendering(context, None))
    assert not job.folder.exists()
    assert (context.folders.drop / "a.png").read_bytes(10) == b"longer"


def test_what_could_not_be_read_is_refused_without_a_hash(
    context: JobContext, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    settled(job)
    job.decision.sha256 = ""

    def refuse(*_: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("filmhand.jobs.render_job.copy_unchanged", refuse)
    for reason in ("unreadable", "blank"):
        job.decision.refusal = {
            "reason": reason, "say": "s", "do": "d", "found": None, "needed": None,
        }  # fmt: skip
        if reason == "blank":
            with pytest.raises(PermissionError):
                render_job(job, rendering(context, None))
        else:
            render_job(job, rendering(context, None))
            assert (job.state, job.decision.sha256) == (State.REJECTING, "")
            job.state = State.CLAIMED

"""Errors that jobs meet: whom they concern, which file is in the way, what follows after a day."""

from __future__ import annotations

import errno
import os
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job, State, TakenFiles
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.settling import ArtChanged
from filmhand.queue import job_trouble as module
from filmhand.queue.backlog import Backlog
from filmhand.queue.job_trouble import JobTroubles, give_up, in_the_way, part_from_others
from filmhand.queue.task import ClaimOne, ResumeJob
from filmhand.request import JobResult
from filmhand.worker.parent import WorkerKilled

ID = "20260102T030405-0a1b2c3d"


class Bank:
    def __init__(self, folder: Path) -> None:
        self.now = 0.0
        self.said: list[tuple[str, dict[str, Any]]] = []
        self.stopped: list[tuple[str, object]] = []
        self.again: list[Beneath] = []
        folders = Folders(folder / "small")
        folders.make()
        self.context = JobContext(
            folders=folders,
            host="here-00000000",
            ledger=Ledger(folder / "ledger.sqlite"),
            scratch=folder / "scratch",
            render=lambda request: JobResult(),
            why_note=lambda name, refused, is_scan: "",
            say=lambda event, **facts: self.said.append((event, facts)),
        )
        self.backlog = Backlog(lambda: self.now)
        self.troubles = JobTroubles(
            "small", self.context, self.backlog, threading.RLock(),
            lambda path, error: self.again.append(path),
            lambda why, *, kind=None: self.stopped.append((why, kind)),
        )  # fmt: skip
        self.job = Job(
            self.context.own / ID, ID, "small", {}, (), TakenFiles("a.png", "a.png.ticket.yaml")
        )
        self.job.held.mkdir(parents=True)
        for name in ("a.png", "a.png.ticket.yaml"):
            (self.job.held / name).touch()
        self.job.state = State.CLAIMED
        self.job.save()
        self.task = ResumeJob(self.job.folder)

    def met(self, error: Any, job: Job | None = None) -> list[tuple[str, str]]:
        """What waits by itself afterwards."""
        self.troubles.met(self.task, self.job.folder, job or self.job, error)
        return list(self.backlog.waiting())


@pytest.fixture
def bank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bank]:
    one = Bank(tmp_path)
    yield one
    one.context.ledger.close()


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EMFILE, errno.ENOMEM])
def test_what_is_short_for_all_stops_all(bank: Bank, code: int) -> None:
    assert bank.met(OSError(code, "short")) == []
    assert len(bank.stopped) == 1


def test_trouble_that_no_system_told_stops_all(bank: Bank) -> None:
    assert bank.met(EnvironmentTrouble("The scheduler is away.")) == []
    assert bank.stopped[0][0] == "The scheduler is away."
    told = EnvironmentTrouble("The disk fails.")
    told.__cause__ = OSError(errno.ENOSPC, "full")
    assert bank.met(told) == []
    assert len(bank.stopped) == 2


def test_a_jobs_own_trouble_holds_up_nobody_else(bank: Bank) -> None:
    error = PermissionError(errno.EACCES, "Permission denied")
    ((name, why),) = bank.met(error)
    assert name == "a.png" and "tried once" in why
    assert bank.stopped == []
    assert [event for event, _ in bank.said] == ["waits by itself"]
    bank.now += 300
    ((_, why),) = bank.met(error)
    assert "tried 2 times" in why
    assert len(bank.said) == 1  # said once, told for as long as it lasts


def test_trouble_that_others_would_meet_too_stops_all(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr(module, "try_folder", fail)
    assert bank.met(PermissionError(errno.EACCES, "Permission denied")) == []
    assert len(bank.stopped) == 1


def test_a_claim_that_failed_is_put_off_where_its_art_lies(bank: Bank) -> None:
    path = bank.context.folders.drop / "a.png"
    path.touch()
    bundle: Any = type("B", (), {"art": type("A", (), {"path": path})()})()
    error = PermissionError(errno.EACCES, "Permission denied")
    folder = bank.context.own / (ID[:-1] + "e")
    bank.troubles.met(ClaimOne(bundle), folder, None, error)
    assert bank.again == [path]
    assert list(bank.backlog.waiting()) == []  # no job was made of it
    bank.troubles.met(ClaimOne(bundle), bank.job.folder, bank.job, error)
    assert bank.again == [path]


def test_a_gang_parts_so_that_only_the_member_waits(bank: Bank) -> None:
    bank.job.state, bank.job.gang.members = State.GANGED, [ID[:-1] + "e"]
    assert bank.met(PermissionError(errno.EACCES, "Permission denied")) == []
    assert bank.job.state is State.PARTING
    assert bank.stopped == []
    for state, parts in (
        (State.GATHERING, True),
        (State.GANGED, True),
        (State.PARTING, False),
        (State.CLAIMED, False),
    ):
        bank.job.state = state
        assert part_from_others(bank.job) is parts
    assert not part_from_others(None)


def test_after_a_day_the_art_is_refused_as_unreadable(bank: Bank) -> None:
    error = PermissionError(errno.EACCES, "Permission denied")
    bank.met(error)
    bank.now = 86_399.0
    bank.met(error)
    assert bank.job.decision.refusal is None
    bank.now = 86_400.0
    bank.met(error)
    assert bank.job.decision.refusal is not None
    assert bank.job.decision.refusal["reason"] == "unreadable"
    assert Job.load(bank.job.folder).decision.refusal == bank.job.decision.refusal
    assert bank.backlog.due()  # it goes on at once


def test_what_is_given_up_goes_back_or_waits_on(bank: Bank) -> None:
    job = bank.job
    job.state = State.RETIRING
    assert not give_up(job, job.folder, bank.context, "a.png", "why")
    job.state, job.decision.refusal = State.CLAIMED, {"reason": "blank"}
    assert not give_up(job, job.folder, bank.context, "a.png", "why")
    job.state, job.decision.refusal = State.CLAIMING, None
    assert give_up(job, job.folder, bank.context, "a.png", "why")
    assert sorted(bank.context.folders.drop.names()) == ["a.png", "a.png.ticket.yaml"]
    lost = bank.context.own / (ID[:-1] + "e")
    (lost / "held").mkdir(parents=True)
    (lost / "held" / "b.png").touch()
    assert give_up(None, lost, bank.context, "b.png", "why")
    assert "b.png" in bank.context.folders.drop.names()
    assert not lost.exists()


def test_which_file_is_in_the_way(bank: Bank, monkeypatch: pytest.MonkeyPatch) -> None:
    job, error = bank.job, OSError(errno.EIO, "Input/output error")
    name, why = in_the_way(job, job.folder, error)
    assert name == "a.png" and not why.endswith(".")
    assert in_the_way(None, job.folder, error)[0] == ID
    truly, unreadable = Beneath.open, {"a.png.ticket.yaml"}

    def opened(path: Beneath, mode: Any = "rb") -> Any:
        if path.name in unreadable:
            raise PermissionError(errno.EACCES, "Permission denied")
        return truly(path, mode)

    monkeypatch.setattr(Beneath, "open", opened)
    assert in_the_way(job, job.folder, error)[0] == "a.png.ticket.yaml"
    (job.held / "a.png.ticket.yaml").unlink()
    unreadable.clear()
    assert in_the_way(job, job.folder, error)[0] == "a.png"


def test_what_goes_on_by_itself_is_tried_after_a_pause(bank: Bank) -> None:
    bank.troubles.tried(bank.job.folder, bank.job, ArtChanged("it changed"))
    assert bank.said == []  # told when it was found out
    bank.troubles.tried(bank.job.folder, bank.job, WorkerKilled("SIGKILL"))
    ((event, facts),) = bank.said
    assert (event, facts["how"], facts["name"]) == ("worker ended from outside", "SIGKILL", "a.png")
    assert bank.backlog.waits
    bank.troubles.tried(bank.job.folder, None, WorkerKilled("SIGKILL"))
    assert bank.said[-1][1]["name"] == ID


def test_a_fault_of_ours_counts_against_art_in_work_or_stops_all(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    bank.troubles.stumbled(bank.job)
    assert (bank.job.strikes, bank.stopped) == (1, [])
    assert bank.said[-1][0] == "filmhand itself failed" and bank.said[-1][1]["job"] == ID
    bank.job.state = State.PUBLISHING
    bank.troubles.stumbled(bank.job)
    bank.troubles.stumbled(None)
    assert len(bank.stopped) == 2 and "itself failed" in bank.stopped[0][0]

    def fail(*_: object) -> bool:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(module, "strike_for_bug", fail)
    bank.troubles.stumbled(bank.job)
    assert "no space left" in bank.stopped[2][0]


def test_what_a_trial_left_is_tidied_unless_one_is_made(bank: Bank) -> None:
    left = bank.context.own / ".trial"
    left.mkdir()
    with bank.troubles._trial:
        bank.troubles.tidy()
        assert left.exists()
    bank.troubles.tidy()
    assert not left.exists()
    assert not bank.troubles._trial.locked()

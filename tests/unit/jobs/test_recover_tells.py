"""What is counted and said of a job that ended, and whose an error on the way is."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs import recover
from filmhand.jobs.context import JobContext, JobLost, JobSetAside
from filmhand.jobs.job import Job, State, TakenFiles
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.recover import Outcome, RecoveryRow, advance, facts_of, tell, unfinished

ID = "20260102T030405-0a1b2c3d"


class Bank:
    """One job of one host, and all that is said of it."""

    def __init__(self, folder: Path) -> None:
        self.said: list[tuple[str, dict[str, Any]]] = []
        folders = Folders(folder / "small")
        folders.make()
        self.context = JobContext(
            folders=folders,
            host="here-00000000",
            ledger=Ledger(folder / "ledger.sqlite"),
            scratch=folder / "scratch",
            render=lambda request: None,  # type: ignore[arg-type, return-value]
            why_note=lambda name, refused, is_scan: "",
            say=lambda event, **facts: self.said.append((event, facts)),
        )
        self.job = self.new(ID)

    def new(self, identity: str) -> Job:
        folder = self.context.own / identity
        job = Job(folder, identity, "small", {}, ("class",), TakenFiles("a.png"))
        job.held.mkdir(parents=True)
        (job.held / "a.png").touch()
        job.state = State.CLAIMED
        job.save()
        return job

    def fails(self, monkeypatch: pytest.MonkeyPatch, error: OSError) -> None:
        def do(job: Job, context: JobContext) -> Outcome:
            raise error

        monkeypatch.setitem(recover.RECOVERY, State.CLAIMED, RecoveryRow("", "", do))


@pytest.fixture
def bank(tmp_path: Path) -> Any:
    one = Bank(tmp_path)
    yield one
    one.context.ledger.close()


def test_what_ended_is_counted_with_its_seconds(bank: Bank) -> None:
    for outcome, seconds in (
        (Outcome.MADE, 2.0),
        (Outcome.REFUSED, 3.0),
        (Outcome.GIVEN_BACK, 100.0),
        (Outcome.MADE, 4.12345),
    ):
        tell(bank.job, outcome, State.CLAIMED, seconds, bank.context)
    counts = bank.context.counts
    assert (counts.made, counts.refused, counts.strikes) == (2, 1, 0)
    assert counts.seconds == pytest.approx(9.12345)
    assert [event for event, _ in bank.said] == ["made", "refused", "given back", "made"]
    facts = bank.said[3][1]
    assert (facts["seconds"], facts["profile"], facts["job"]) == (4.123, "small", ID)
    assert (facts["name"], facts["films"]) == ("class/a.png", 0)


def test_a_film_usually_takes_as_long_as_its_making_and_not_as_its_release(bank: Bank) -> None:
    usual = bank.context.counts.usual
    tell(bank.job, Outcome.REFUSED, State.CLAIMED, 0.1, bank.context)
    assert usual() is None
    tell(bank.job, Outcome.HELD, State.CLAIMED, 6.0, bank.context)
    assert usual() == 6.0
    tell(bank.job, Outcome.MADE, State.HELD, 0.04, bank.context)
    tell(bank.job, Outcome.MADE, State.RETIRING, 0.04, bank.context)
    assert usual() == 6.0
    assert [event for event, _ in bank.said] == ["refused", "made", "made"]
    assert ["held" in facts for _, facts in bank.said] == [False, True, False]
    bank.job.gang.members = ["a", "b", "c"]
    tell(bank.job, Outcome.PARTED, State.GANGED, 10.0, bank.context)
    assert usual() == 4.0  # of each art on the sheet
    assert bank.context.counts.seconds == pytest.approx(10.18)


def test_what_the_log_says_of_each_end(bank: Bank) -> None:
    job = bank.job
    job.strikes, job.decision.sha256 = 2, "0a"
    job.decision.refusal = {"reason": "blank", "say": "It is bare.", "do": "Draw."}
    plain = {"name": "class/a.png", "sha256": "0a", "strikes": 2}
    told = facts_of(job, Outcome.REFUSED)
    assert told == {**plain, "reason": "blank", "say": "It is bare."}
    job.decision.refusal = None
    assert facts_of(job, Outcome.GIVEN_BACK) == plain
    job.publication.stem, job.publication.films = "a-2", [{}, {}]
    job.decision.earlier = "a"
    made = {**plain, "stem": "a-2", "films": 2, "earlier": "a"}
    assert facts_of(job, Outcome.MADE) == made
    job.decision.unfinished = ["b\x1b.png"]
    assert facts_of(job, Outcome.MADE) == {**made, "unfinished": ["b\ufffd.png"]}
    job.gang.sheet = "sheet"
    assert facts_of(job, Outcome.PARTED) == {"name": "class/a.png", "stem": "sheet", "arts": 2}


# --- whose an error is --------------------------------------------------------------------------


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO])
def test_trouble_of_the_system_is_nobodys(
    bank: Bank, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    bank.fails(monkeypatch, OSError(code, "x"))
    with pytest.raises((EnvironmentTrouble, OSError)):
        advance(bank.job, bank.context)
    assert bank.job.folder.exists()


def test_an_error_without_a_number_is_trouble(bank: Bank, monkeypatch: pytest.MonkeyPatch) -> None:
    bank.fails(monkeypatch, OSError("odd"))
    with pytest.raises(EnvironmentTrouble):
        advance(bank.job, bank.context)


def test_a_folder_that_is_gone_is_another_hosts_now(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    bank.fails(monkeypatch, FileNotFoundError(errno.ENOENT, "gone"))
    bank.job.folder.rmtree()
    with pytest.raises(JobLost) as caught:
        advance(bank.job, bank.context)
    assert not isinstance(caught.value, JobSetAside)


def test_a_job_whose_notes_were_forged_meanwhile_is_set_aside(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    bank.fails(monkeypatch, NotADirectoryError(errno.ENOTDIR, "not a folder"))
    (bank.job.folder / "job.json").path.write_text('{"id": 3}')
    with pytest.raises(JobSetAside, match=ID):
        advance(bank.job, bank.context)
    assert not bank.job.folder.exists()
    assert (bank.context.folders.hidden / "set-aside" / ID / "job.json").exists()
    (art,) = [path for path in bank.context.folders.drop.walk() if path[2]]
    assert art[2] == ["a.png"]
    assert [event for event, _ in bank.said] == [
        "a job lost its notes; its file is back in drop",
        "set aside",
    ]


def test_a_link_in_the_way_sets_the_job_aside_and_a_plain_error_does_not(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    bank.fails(monkeypatch, OSError(errno.ELOOP, "a link"))
    with pytest.raises(JobSetAside):
        advance(bank.job, bank.context)
    other = bank.new(ID[:-1] + "e")
    bank.fails(monkeypatch, OSError(errno.EACCES, "no right"))
    with pytest.raises((EnvironmentTrouble, PermissionError)):
        advance(other, bank.context)
    assert other.folder.exists()


# --- what is found at a start -------------------------------------------------------------------


def test_the_jobs_of_this_host_and_what_is_none(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = bank.context.own
    busy = bank.new(ID[:-1] + "e")
    (own / "no job").mkdir()
    (own / ".trial").mkdir()
    (own / "alive").touch()
    lost = bank.new(ID[:-1] + "f")
    (lost.folder / "job.json").unlink()
    found = unfinished(bank.context, busy=lambda folder: folder == busy.folder).folders
    assert [folder.name for folder in found] == [ID]
    assert sorted(own.names()) == sorted([ID, busy.id, ".trial", "alive"])
    events = [(event, facts.get("name") or facts.get("where")) for event, facts in bank.said]
    assert ("a job lost its notes; its file is back in drop", "a.png") in events
    assert [facts["why"] for event, facts in bank.said if event == "set aside"] == [
        "it is no job's folder"
    ]

    def fail(folder: Beneath) -> Job:
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr(Job, "load", fail)
    assert [folder.name for folder in unfinished(bank.context).folders] == [ID, busy.id]


# --- what the ledger remembers ------------------------------------------------------------------


def test_a_job_that_ended_is_remembered(bank: Bank) -> None:
    job = bank.job
    job.decision.sha256, job.decision.at = "0a", "2026-03-01T10:00:00Z"
    job.decision.refusal = {"reason": "blank", "say": "It is bare."}
    recover._remember(job, bank.context, Outcome.REFUSED)
    (entry,) = bank.context.ledger.history()
    assert (entry.job, entry.outcome, entry.stem) == (ID, "refused", None)
    assert (entry.name, entry.sha256, entry.at) == ("class/a.png", "0a", job.decision.at)
    assert entry.about == {**job.decision.refusal, "kept": "class/a.png"}
    made = bank.new(ID[:-1] + "e")
    made.decision.at = "2026-03-02T10:00:00Z"
    made.publication.stem = "a-2"
    made.publication.films = [
        {"suffix": page, "record": {}, "files": {"pdf": ["0.pdf", ""], "tiff": ["0.tif", ""]}}
        for page in ("-p01", "-p02")
    ]
    recover._remember(made, bank.context, Outcome.MADE)
    entry = bank.context.ledger.history()[0]
    assert (entry.job, entry.outcome, entry.stem) == (made.id, "made", "class/a-2")
    assert [(film["folder"], film["stem"], film["files"]) for film in entry.about["films"]] == [
        ("class", "a-2-p01", ["a-2-p01.pdf", "a-2-p01.tif"]),
        ("class", "a-2-p02", ["a-2-p02.pdf", "a-2-p02.tif"]),
    ]
    made.gang.sheet = "b-and-1-more"
    made.publication.films = [{"suffix": "", "record": {}, "files": {"pdf": ["sheet.pdf", ""]}}]
    made.id = ID[:-1] + "c"
    recover._remember(made, bank.context, Outcome.MADE)
    (film,) = next(one for one in bank.context.ledger.history() if one.job == made.id).about[
        "films"
    ]
    assert (film["stem"], film["files"]) == ("a-2", ["b-and-1-more.pdf"])

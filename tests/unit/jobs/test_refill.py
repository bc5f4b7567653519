"""A ledger that was lost takes in again what the folder tells, a part at a time."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.jobs import refill
from filmhand.jobs.context import JobContext
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.refill import LedgerRefill
from filmhand.request import JobResult


@pytest.fixture
def context(tmp_path: Path) -> JobContext:
    folders = Folders(tmp_path / "small")
    folders.make()
    return JobContext(
        folders=folders,
        host="here-00000000",
        ledger=Ledger(tmp_path / "ledger.sqlite"),
        scratch=tmp_path / "scratch",
        render=lambda request: JobResult(),
        why_note=lambda name, refused, is_scan: "",
    )


def record(context: JobContext, place: str, job: str, when: int) -> None:
    path = context.folders.output("records").path / f"{place}.json"
    path.parent.mkdir(exist_ok=True)
    told = {
        "job": job,
        "at": "2026-03-01T10:00:00Z",
        "film": {"files": {"pdf": f"{path.stem}.pdf"}},
        "source": {"name": "a.tif", "sha256": "ab" * 32},
    }
    path.write_text(json.dumps(told))
    os.utime(path, (when, when))


def job_id(number: int) -> str:
    return f"20260301T100000-{number:08d}"


def jobs(context: JobContext) -> set[str]:
    return {entry.job for entry in context.ledger.history()}


def test_it_learns_from_records_and_refusal_logs(context: JobContext) -> None:
    for page in (1, 2):
        record(context, f"class/a-p0{page}", job_id(1), page)
    (context.folders.output("records").path / "broken.json").write_text("{")
    line = {"job": job_id(2), "at": "2026-03-02T10:00:00Z", "name": "b", "sha256": "",
            "reason": "blank", "say": "s", "do": "d", "found": None, "needed": None}  # fmt: skip
    rejected = context.folders.rejected.path
    log = json.dumps(line) + "\nhalf a li"
    (rejected / "rejections.other-00000000.jsonl").write_text(log)
    # A customer's own file of such a name is no log of ours.
    (rejected / "rejections-2.jsonl").write_text(json.dumps({**line, "job": job_id(3)}))
    whole: list[str] = []
    one = LedgerRefill("small", context, lambda: whole.append("whole"))
    while not one.done:
        one.look()
    one.look()
    assert whole == ["whole"]
    refused, film = context.ledger.history()
    assert (refused.job, refused.outcome, refused.about["say"]) == (job_id(2), "refused", "s")
    assert [told["stem"] for told in film.about["films"]] == ["a-p01", "a-p02"]
    assert film.about["films"][0]["folder"] == "class"


def test_the_newest_come_first_and_a_look_reads_a_part(
    context: JobContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refill, "PART", 3)
    monkeypatch.setattr(refill, "_NOTED", 1)
    for number in range(10):
        record(context, f"class {number % 2}/{number}", job_id(number), 1000 + number)
    one = LedgerRefill("small", context, clock=lambda: 0.0)
    one.look()
    assert job_id(9) in jobs(context)
    assert len(jobs(context)) <= 3
    assert "still missing" in one.worry()
    seen = jobs(context)
    while not one.done:
        one.look()
        assert min(map(int, (job[-8:] for job in seen))) > max(
            (int(job[-8:]) for job in jobs(context) - seen), default=-1
        )
        seen = jobs(context)
    assert len(seen) == 10
    assert not one.worry()


def test_after_a_kill_only_the_rest_is_read(
    context: JobContext, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refill, "PART", 6)
    monkeypatch.setattr(refill, "_NOTED", 2)
    read: list[str] = []
    real = refill.of_record

    def of_record(profile: str, path: Beneath, top: Beneath) -> Any:
        read.append(path.name.removesuffix(".json"))
        return real(profile, path, top)

    monkeypatch.setattr(refill, "of_record", of_record)
    for number in range(10):
        record(context, f"{number}", job_id(number), 1000 + number)
    LedgerRefill("small", context, clock=lambda: 0.0).look()
    context.ledger.close()
    assert read == ["9", "8", "7", "6", "5", "4"]
    again = replace(context, ledger=Ledger(tmp_path / "ledger.sqlite"))
    assert again.ledger.fresh
    one = LedgerRefill("small", again, again.ledger.has_learned, clock=lambda: 0.0)
    while not one.done:
        one.look()
    assert sorted(read[6:], reverse=True) == ["5", "4", "3", "2", "1", "0"]  # two were not noted
    assert len(jobs(again)) == 10
    again.ledger.close()
    assert not Ledger(tmp_path / "ledger.sqlite").fresh


def test_a_profile_that_was_read_in_is_not_read_again_for_the_sake_of_another(
    context: JobContext, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One share is away for weeks: a restart reads nothing of the others again."""
    record(context, "a", job_id(1), 1)
    one = LedgerRefill("small", context)
    while not one.done:
        one.look()
    context.ledger.close()
    again = replace(context, ledger=Ledger(tmp_path / "ledger.sqlite"))
    monkeypatch.setattr(refill, "of_record", lambda *_: pytest.fail("read again"))
    assert again.ledger.fresh
    one = LedgerRefill("small", again)
    one.look()
    assert one.done
    assert jobs(again) == {job_id(1)}


def test_a_share_that_goes_away_in_the_middle_loses_nothing(
    context: JobContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refill, "PART", 4)
    monkeypatch.setattr(refill, "_NOTED", 2)
    for number in range(10):
        record(context, f"{number}", job_id(number), 1000 + number)
    one = LedgerRefill("small", context, clock=lambda: 0.0)
    one.look()
    root = context.folders.root
    root.rename(root.with_name("away"))
    with pytest.raises(OSError, match="went away"):
        one.look()
    with pytest.raises(OSError, match="No such file"):
        one.look()
    root.with_name("away").rename(root)
    while not one.done:
        one.look()
    assert len(jobs(context)) == 10


def test_what_cannot_be_noted_is_read_again(context: JobContext) -> None:
    record(context, "a", job_id(1), 1)
    one = LedgerRefill("small", context)
    ledger = context.ledger
    assert ledger._db is not None
    ledger._db.execute("PRAGMA query_only = ON")
    with pytest.raises(OSError, match="readonly"):
        one.look()
    assert not one.done
    ledger._db.execute("PRAGMA query_only = OFF")
    one.look()
    assert jobs(context) == {job_id(1)}


def test_three_hundred_are_read_at_a_look_and_fifty_noted_at_a_time(context: JobContext) -> None:
    for number in range(320):
        record(context, f"a{number}", job_id(number), number)
    now = [0.0]
    one = LedgerRefill("small", context, clock=lambda: now[0])
    one.look()  # the clock stands still
    assert one.read == 300
    assert context.ledger.counts()["made"] == 250  # what was noted is found again after a kill
    assert f"about {320 - 250} are still missing" in one.worry()
    one.look()
    assert (one.done, one.read, one.worry()) == (True, 320, "")
    assert context.ledger.counts()["made"] == 320


@pytest.mark.parametrize(("network", "seconds"), [(False, 0.02), (True, 0.2)])
def test_a_look_takes_no_longer_than_it_may(
    context: JobContext, seconds: float, *, network: bool
) -> None:
    for number in range(120):
        record(context, f"a{number}", job_id(number), number)
    now = [0.0]

    def clock() -> float:
        now[0] += 0.001
        return now[0]

    one = LedgerRefill("small", context, clock=clock)
    one.look(network=network)
    assert now[0] == pytest.approx(seconds + 0.001)


def test_refusals_are_noted_in_parts_too(context: JobContext) -> None:
    told = {"at": "2026-03-02T10:00:00Z", "name": "b", "sha256": "", "reason": "blank",
            "say": "s", "do": "d", "found": None, "needed": None}  # fmt: skip
    lines = [json.dumps({**told, "job": job_id(number)}) + "\n" for number in range(310)]
    (context.folders.rejected.path / "rejections.jsonl").write_text("".join(lines))
    one = LedgerRefill("small", context, clock=lambda: 0.0)
    one.look()
    assert one.read == 300
    assert context.ledger.counts()["refused"] == 250
    assert "about 60 are still missing" in one.worry()
    one.look()
    assert context.ledger.counts()["refused"] == 310
    assert job_id(0) in {entry.job for entry in context.ledger.history(limit=1000)}

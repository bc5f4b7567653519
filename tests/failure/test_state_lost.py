"""The state folder is gone where many jobs were finished: films come first, memory beside them."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import finished_jobs
import pytest
from job_harness import make_queue, work_through
from test_service_station import Shop, shop, stop, wait_until

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.jobs import refill
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.refill import LedgerRefill
from filmhand.queue.job_queue import JobQueue
from filmhand.service import history as history_module
from filmhand.service.history import file_history

__all__ = ["shop"]

JOBS = 2000


class Lost:
    """A queue in whose folder 2,000 jobs were finished, and of which its ledger knows nothing."""

    def __init__(self, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(refill, "PART", 100)
        self.root = place / "small"
        self.ledger = place / "state" / "ledger.sqlite"
        finished_jobs.finish(self.root, JOBS)
        self.now = 0.0
        self.events: list[str] = []
        self.queue: JobQueue = make_queue(
            self.root,
            place / "state",
            clock=lambda: self.now,
            say=lambda event, **facts: self.events.append(f"{event} {facts.get('name')}"),
        )
        ledger = self.queue.context.ledger
        self.refill = LedgerRefill("small", self.queue.context, ledger.has_learned, lambda: 0.0)
        self.queue.housekeeping._refill = self.refill

    def drop(self, name: str, data: bytes) -> None:
        (self.root / "drop" / name).write_bytes(data)

    def go_on(self) -> None:
        self.queue.look()
        self.now += 0.1
        while (task := self.queue.take()) is not None:
            self.queue.do(task)

    def make(self, name: str) -> dict[str, Any]:
        """Go on until it is made; its record."""
        while not any(event.startswith("made") and name in event for event in self.events):
            self.go_on()
            assert self.now < 60
        for path in sorted((self.root / "records").glob("*.json")):
            record: dict[str, Any] = json.loads(path.read_bytes())
            if record["source"]["name"] == name:
                return record
        raise AssertionError("no record")

    def finish(self) -> None:
        while not self.queue.idle():
            self.go_on()
            assert self.now < 60


@pytest.fixture
def lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Lost]:
    one = Lost(tmp_path, monkeypatch)
    yield one
    one.queue.context.ledger.close()


def test_the_first_film_comes_before_the_last_job_is_known(lost: Lost) -> None:
    lost.drop("fresh.png", b"art that is new")
    lost.make("fresh.png")
    known = lost.refill.read
    assert 0 < known < JOBS / 2
    assert lost.queue.context.ledger.fresh
    assert not lost.queue.idle()  # so that `once` goes on until all is known
    assert "still missing" in " ".join(lost.queue.housekeeping.worries())
    lost.finish()
    ledger = lost.queue.context.ledger
    assert not ledger.fresh
    assert sum(ledger.counts().values()) == JOBS + 1
    assert lost.queue.housekeeping.worries() == []


def test_the_newest_jobs_are_known_first(lost: Lost) -> None:
    lost.go_on()
    known = [int(entry.job[-8:], 16) for entry in lost.queue.context.ledger.history(limit=-1)]
    assert known
    assert min(known) > JOBS - 150


def test_art_that_was_made_before_under_its_name_is_known_at_once(lost: Lost) -> None:
    place = lost.root / "drop" / "class 0"
    place.mkdir()
    (place / "motif 1.png").write_bytes(finished_jobs.content(1))
    while not (path := lost.root / "records" / "class 0" / "motif 1-2.json").exists():
        lost.go_on()
    record = json.loads(path.read_bytes())
    assert record["earlier"] == "class 0/motif 1"
    assert "earlier_known" not in record
    assert lost.queue.context.ledger.fresh


def test_a_record_says_that_an_earlier_film_may_not_be_known_yet(lost: Lost) -> None:
    lost.drop("another name.png", finished_jobs.content(1))
    record = lost.make("another name.png")
    assert (record["earlier"], record["earlier_known"]) == (None, False)
    lost.finish()
    lost.drop("a third name.png", finished_jobs.content(1))
    record = lost.make("a third name.png")
    assert record["earlier"] == "another name"
    assert "earlier_known" not in record


def test_nothing_is_tidied_away_before_the_ledger_is_whole(lost: Lost) -> None:
    """By the ledger the program tells that a clock is wrong."""
    tidied: list[bool] = []
    lost.queue.housekeeping._pruner.tidy = lambda keep: tidied.append(lost.refill.done)  # type: ignore
    lost.finish()
    lost.go_on()
    assert tidied
    assert all(tidied)


def test_history_answers_while_the_ledger_is_read_in(
    lost: Lost, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A film's name leads to its record, without reading the others; what is not sure is said."""
    monkeypatch.setattr(history_module, "READS_FOR", 0.0)
    lost.go_on()
    roots = {"small": Folders(lost.root)}
    oldest = file_history(roots, finished_jobs.shown(0), lost.ledger)
    assert [one["outcome"] for one in oldest.found] == ["made"]
    assert "read in again" in oldest.lacks
    refused = file_history(roots, f"motif {finished_jobs.REFUSED - 1}", lost.ledger)
    assert [one["outcome"] for one in refused.found] == ["refused"]
    read: list[Beneath] = []
    real = history_module.of_record

    def of_record(profile: str, path: Beneath, top: Beneath) -> Any:
        read.append(path)
        return real(profile, path, top)

    monkeypatch.setattr(history_module, "of_record", of_record)
    file_history(roots, "motif 7.pdf", lost.ledger)
    assert len(read) <= 2
    assert read[0].name == "motif 7.json"
    lost.finish()
    read.clear()
    by_job = file_history(roots, oldest.found[0]["job"], lost.ledger)
    assert by_job.found == oldest.found
    assert (by_job.lacks, read) == ("", [])
    assert file_history(roots, "nobody's.png", lost.ledger).found == []


def test_history_without_any_ledger_reads_the_records(lost: Lost) -> None:
    job = json.loads((lost.root / "records" / "class 0" / "motif 0.json").read_bytes())["job"]
    told = file_history({"small": Folders(lost.root)}, job, lost.ledger.with_name("none"))
    assert [one["name"] for one in told.found] == [finished_jobs.shown(0)]


def test_each_film_of_a_job_leads_to_all_of_them_without_a_ledger(tmp_path: Path) -> None:
    queue = make_queue(tmp_path / "small", tmp_path / "state")
    queue.context.folders.make()
    (tmp_path / "small" / "drop" / "a.png").write_bytes(b"pages")
    work_through(queue)
    for name in ("a.png", "a-p01.pdf", "a-p02"):
        (told,) = file_history({"small": queue.context.folders}, name, tmp_path / "none").found
        assert len(told["films"]) == 4


def test_names_that_are_not_plain_are_found_in_the_ledger(tmp_path: Path) -> None:
    queue = make_queue(tmp_path / "small", tmp_path / "state")
    for name in ("\u00c9t\u00e9.png", 'a "b".png'):
        queue.context.folders.make()
        (tmp_path / "small" / "drop" / name).write_bytes(b"art")
    work_through(queue)
    shutil.rmtree(tmp_path / "small" / "records")
    ledger = tmp_path / "state" / "ledger.sqlite"
    for name in ("e\u0301te\u0301.PNG", "\u00c9t\u00e9.pdf", 'a "b".png'):
        (told,) = file_history({"small": Folders(tmp_path / "small")}, name, ledger).found
        assert told["outcome"] == "made"


def test_a_service_without_state_makes_and_learns_and_goes_on_after_a_kill(shop: Shop) -> None:
    finished_jobs.finish(shop.root(), JOBS)
    shop.drop("a.png", b"art a")
    service = shop.serve()
    wait_until(lambda: shop.made("a.png"))
    service.kill()
    service.wait()
    shop.drop("b.png", b"art b")
    service = shop.serve()
    wait_until(lambda: shop.made("b.png"))

    def whole() -> bool:
        with sqlite3.connect(shop.state / "ledger.sqlite") as db:
            return bool(db.execute("PRAGMA user_version").fetchone()[0])

    wait_until(whole, 300)
    wait_until(lambda: sum(shop.status()["counts"].values()) == JOBS + 2)
    assert shop.status()["faults"] == []
    assert stop(service) == 0
    ledger = Ledger(shop.state / "ledger.sqlite")
    assert not ledger.fresh
    ledger.close()

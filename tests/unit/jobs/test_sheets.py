"""The count of sheets: once a job and day, over kills, broken lines and hosts."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.folders import Folders
from filmhand.disk.forms import is_day
from filmhand.jobs.sheets import SheetCount, Wanted, counted_since, local_day
from filmhand.profile.printing import Budget

AT, DAY = "2026-03-01T10:00:00Z", "2026-03-01"


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    made = Folders(tmp_path / "small")
    made.make()
    return made


def job(number: int, person: str = "", sheets: int = 1) -> Wanted:
    return Wanted(f"20260301T100000-{number:08x}", person, sheets, (number,))


def count(sheets: SheetCount, wanted: Wanted, *, day: str = DAY, **told: Any) -> bool:
    return sheets.count(wanted, "a", AT, day, told.get("budget"), shared=told.get("shared", False))


def test_a_job_counts_once_whoever_writes_it_again(folders: Folders) -> None:
    one, two = SheetCount(folders, "one-00000001"), SheetCount(folders, "two-00000002")
    assert count(one, job(1, sheets=3)) and count(one, job(1, sheets=3))
    assert count(two, job(1, sheets=3))
    assert [(day, found.sheets) for day, found in counted_since(folders)] == [(DAY, 3)]


def test_the_limits_of_a_day_and_of_a_person(folders: Folders) -> None:
    sheets, budget = SheetCount(folders, "one-00000001"), Budget(day=5, person=2)
    assert count(sheets, job(1, "Anna", 2), budget=budget)
    assert not count(sheets, job(2, "anna"), budget=budget)
    assert sheets.room(job(2, "anna"), budget, DAY).passes == ("person", 2, 2)
    assert count(sheets, job(3, "", 3), budget=budget)  # nobody has no limit of his own
    assert sheets.room(job(4, "ben"), budget, DAY).passes == ("day", 5, 5)
    assert sheets.room(job(4, "ben"), budget, "2026-03-02").passes is None
    assert count(sheets, job(2, "anna"))  # by somebody's word


def test_those_that_wait_for_longer_come_first_if_they_have_room(folders: Folders) -> None:
    sheets, budget = SheetCount(folders, "one-00000001"), Budget(day=3)
    sheets.expect(job(1, sheets=9))
    sheets.expect(job(2, sheets=2))
    assert not sheets.room(job(3), budget, DAY).turn
    sheets.forget(job(2).job)
    assert sheets.room(job(3), budget, DAY).turn  # nine never fit
    sheets.expect(job(2))
    sheets.keep_only({job(1).job})
    assert sheets.room(job(3), budget, DAY).turn


def test_two_hosts_that_count_at_one_moment_never_pass_the_budget(
    folders: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = SheetCount(folders, "one-00000001"), SheetCount(folders, "two-00000002")
    budget, append = Budget(day=1), SheetCount._append
    between: list[bool] = []

    def appended(self: SheetCount, *told: Any) -> None:
        if not between:  # the other one has looked already, and writes first
            between.append(True)
            between.append(count(two, job(2), budget=budget, shared=True))
        append(self, *told)

    monkeypatch.setattr(SheetCount, "_append", appended)
    first = count(one, job(1), budget=budget, shared=True)
    assert sum(found.sheets for _, found in counted_since(folders)) <= 1
    assert [first, between[1]].count(True) == 1
    assert count(one, job(1), day="2026-03-02", budget=budget, shared=True)
    assert count(one, job(1), budget=Budget(day=2), shared=True)  # taken back, and counted anew
    assert [(day, found.job[-1]) for day, found in counted_since(folders)] == [
        (DAY, "1"), (DAY, "2"), ("2026-03-02", "1"),
    ]  # fmt: skip


def test_taken_back_it_counts_no_longer(folders: Folders) -> None:
    sheets = SheetCount(folders, "one-00000001")
    count(sheets, job(1, sheets=2))
    for _ in range(2):
        sheets.take_back(job(1, sheets=2), "a", AT, DAY)
    assert list(counted_since(folders)) == [] and not sheets.counted(job(1).job, DAY)


def test_lines_that_no_count_has_are_passed_over(folders: Folders) -> None:
    sheets = SheetCount(folders, "one-00000001")
    count(sheets, job(1))
    around = folders.root / ".filmhand" / "sheets"
    log = around / f"{DAY}.one-00000001.jsonl"
    log.write_bytes(log.read_bytes() + b'{"schema": "filmhand-sheets/1", "sheets": 1e9}\nhalf')
    (around / f"{DAY}.two-00000002.jsonl").symlink_to("/etc/passwd")
    (around / "2026-02-30.one-00000001.jsonl").write_bytes(log.read_bytes())
    (around / "else.jsonl").write_bytes(log.read_bytes())
    count(sheets, job(2))
    assert [found.job[-1] for _, found in counted_since(folders)] == ["1", "2"]
    assert b"half\n{" in log.read_bytes()


def test_only_from_a_day_on(folders: Folders) -> None:
    sheets = SheetCount(folders, "one-00000001")
    for number, day in enumerate(["2026-02-28", "2026-03-01", "2026-03-02"]):
        count(sheets, job(number), day=day)
    assert [day for day, _ in counted_since(folders, "2026-03-01")] == ["2026-03-01", "2026-03-02"]


def test_days_are_those_of_the_calendar_here() -> None:
    assert is_day("2026-03-01")
    assert not any(map(is_day, ("2026-02-30", "20260301", "2026-3-1", "", "2026-03-01T00:00")))
    assert local_day(datetime.fromisoformat("2026-03-01T12:00:00").astimezone()) == DAY

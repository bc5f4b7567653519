"""The sheets of a profile that were let go, a line each, and how many are left of a day's budget.

::

    .filmhand/sheets/<day>.<host>.jsonl    the local day that the lines count for

Each host appends to files of its own, and reads those of all. A job counts once a day, however
often its line is there, and a job keeps the day that it chose before its line was written: so no
kill counts it twice or loses it, and neither does a clock that jumps over midnight and back.

What can be half-done when we die here: a line that broke off, which readers skip, or a line of a
job that did not note yet that it was let go. It finds the line when it goes on. Where two hosts
let films go at one moment, each reads again after writing; one that finds the budget passed takes
its sheets back by a line of its own, so a budget is never passed, and the film waits on.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator, Mapping
from dataclasses import field
from datetime import datetime

from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import HOST_NAME, Folders
from filmhand.disk.set_aside import entries, own_folder
from filmhand.jobs.job_form import MOST_SHEETS_OF_JOB
from filmhand.jobs.ledger import lines_of
from filmhand.profile.printing import Budget
from filmhand.values import dataclass

_SCHEMA = "filmhand-sheets/1"
_FILE = re.compile(rf"(\d{{4}}-\d\d-\d\d)\.{HOST_NAME.pattern}\.jsonl")
_LINE = forms.record(
    {
        "schema": forms.one_word_of([_SCHEMA]),
        "at": forms.TIME,
        "job": forms.JOB_ID,
        "film": forms.text(longest=20_000),
        "for": forms.text(longest=1000),
        "sheets": forms.whole_number(-MOST_SHEETS_OF_JOB, MOST_SHEETS_OF_JOB),
    },
    closed=False,
)


@dataclass(slots=True)
class CountedJob:
    """What a job let go on one day; `person` is empty where nobody is named."""

    at: str
    job: str
    film: str
    person: str
    sheets: int


@dataclass(frozen=True, slots=True)
class Wanted:
    """The sheets that a job asks for; `order` sorts those that wait by their age."""

    job: str
    person: str
    sheets: int
    order: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class Room:
    """What is left for a job: sheets counted so far that day, and which limit it would pass.

    `passes` is a limit with the sheets that count against it, None for none; `turn` is False while
    a job that waits for longer is to have its sheets first.
    """

    passes: tuple[str, int, int] | None = None
    turn: bool = True


def local_day(now: datetime) -> str:
    """The day by this computer's calendar, as 2026-03-01."""
    return now.astimezone().date().isoformat()


@dataclass(slots=True)
class SheetCount:
    """The count of one profile; safe to use from several threads."""

    folders: Folders
    host: str
    _waiting: dict[str, Wanted] = field(default_factory=dict)
    lock: threading.RLock = field(default_factory=threading.RLock)

    # --- who waits ---------------------------------------------------------------------------

    def expect(self, wanted: Wanted) -> None:
        """This job waits for sheets of the budget; those that came later wait behind it."""
        with self.lock:
            self._waiting[wanted.job] = wanted

    def forget(self, job: str) -> None:
        """This job waits no longer."""
        with self.lock:
            self._waiting.pop(job, None)

    def keep_only(self, jobs: set[str]) -> None:
        """Of all that wait, only these are still there."""
        with self.lock:
            self._waiting = {job: one for job, one in self._waiting.items() if job in jobs}

    # --- counting ----------------------------------------------------------------------------

    def counted(self, job: str, day: str) -> bool:
        """True if the sheets of a job count for that day already."""
        return job in self.of_day(day)

    def room(self, wanted: Wanted, budget: Budget, day: str) -> Room:
        """Whether a job may have its sheets that day, after those that wait for longer."""
        with self.lock:
            counted = self.of_day(day)
            passes = _passed(wanted, budget, counted)
            if passes is not None:
                return Room(passes)
            first = any(
                one.order < wanted.order and _passed(one, budget, counted) is None
                for one in self._waiting.values()
            )
            return Room(turn=not first)

    def count(
        self, wanted: Wanted, film: str, at: str, day: str, budget: Budget | None, *, shared: bool
    ) -> bool:
        """Count a job's sheets for that day, once; False if that would pass the `budget`.

        `shared`: other hosts may count at this moment. OSError if nothing could be written, and
        then the line may be there all the same.
        """
        with self.lock:
            known = self.of_day(day)
            if wanted.job not in known:
                if budget is not None and _passed(wanted, budget, known) is not None:
                    return False
                self._append(wanted, film, at, day, wanted.sheets)
            if budget is not None and shared:
                others = self.of_day(day)
                others.pop(wanted.job, None)
                if _passed(wanted, budget, others) is not None:
                    self._append(wanted, film, at, day, -wanted.sheets)
                    return False
            return True

    def take_back(self, wanted: Wanted, film: str, at: str, day: str) -> None:
        """Let a job that was counted for that day count no longer."""
        with self.lock:
            if self.counted(wanted.job, day):
                self._append(wanted, film, at, day, -self.of_day(day)[wanted.job].sheets)

    def _append(self, wanted: Wanted, film: str, at: str, day: str, sheets: int) -> None:
        folder = _folder(self.folders)
        own_folder(folder, self.folders.hidden)
        line = {
            "schema": _SCHEMA,
            "at": at,
            "job": wanted.job,
            "film": file_names.shown(film),
            "for": wanted.person,
            "sheets": sheets,
        }
        path = folder / f"{day}.{self.host}.jsonl"
        aside = self.folders.hidden / "set-aside"
        atomic.append_line(path, json.dumps(line).encode(), aside=aside)

    def of_day(self, day: str) -> dict[str, CountedJob]:
        """What counts for that day, by job, as all hosts have written it."""
        files = [file for found, file in _files(self.folders) if found == day]
        return _sums(files)


def counted_since(folders: Folders, since: str = "") -> Iterator[tuple[str, CountedJob]]:
    """Every day from `since` on, with the jobs that count for it in the order of their time."""
    days: dict[str, list[Beneath]] = {}
    for day, file in _files(folders):
        if day >= since:
            days.setdefault(day, []).append(file)
    for day, files in sorted(days.items()):
        for job in sorted(_sums(files).values(), key=lambda one: (one.at, one.job)):
            yield day, job


def _folder(folders: Folders) -> Beneath:
    return folders.hidden / "sheets"


def _files(folders: Folders) -> Iterator[tuple[str, Beneath]]:
    for file in entries(_folder(folders)):
        found = _FILE.fullmatch(file.name)
        if found and forms.is_day(found[1]):
            yield found[1], file


def _sums(files: list[Beneath]) -> dict[str, CountedJob]:
    found: dict[str, CountedJob] = {}
    for file in files:
        for line in lines_of(file):
            try:
                told = _LINE(forms.parsed(line))
            except ValueError:
                continue  # a piece that a full disk or a power cut left
            one = found.setdefault(
                told["job"], CountedJob(told["at"], told["job"], told["film"], told["for"], 0)
            )
            one.sheets += told["sheets"]
    return {job: one for job, one in found.items() if one.sheets > 0}


def _passed(
    wanted: Wanted, budget: Budget, counted: Mapping[str, CountedJob]
) -> tuple[str, int, int] | None:
    """The limit that a job would pass, its value, and what counts against it; None for none."""
    person = file_names.compared(wanted.person)
    if budget.person is not None and person:
        used = sum(
            one.sheets
            for one in counted.values()
            if file_names.compared(one.person) == person and one.job != wanted.job
        )
        if used + wanted.sheets > budget.person:
            return "person", budget.person, used
    if budget.day is not None:
        used = sum(one.sheets for one in counted.values() if one.job != wanted.job)
        if used + wanted.sheets > budget.day:
            return "day", budget.day, used
    return None

"""What happened to every drop: memory for `history`, the status page and `earlier`.

It lies on the local disk and decides nothing. It may be deleted at any time and is then rebuilt
from the records and refusal logs in the folders. No error of it ever stops a job.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import astuple, replace
from pathlib import Path
from typing import Any

from filmhand.disk import atomic, file_names, forms
from filmhand.disk.beneath import Beneath
from filmhand.jobs.film_sets import place_in_set, stem_of_set
from filmhand.jobs.job import whose_film
from filmhand.jobs.job_form import REFUSAL_KEYS
from filmhand.jobs.job_words import JobCount, JobWord
from filmhand.values import dataclass

_VERSION = 1
LARGEST_RECORD = 4 << 20  # bytes
_LONGEST_LINE = 1 << 18  # bytes of a refusal log's line
# Records and logs may hold more than is read here; other programs may add to them.
_RECORD = forms.record(
    {
        "job": forms.JOB_ID,
        "at": forms.TIME,
        "source": forms.record({"name": forms.raw_name, "sha256": forms.SHA256}, closed=False),
        "film": forms.record(
            {"files": forms.table(forms.text(longest=40), forms.single_name, most=20)}, closed=False
        ),
    },
    dict.fromkeys(
        ("left_out", "warnings", "reminders", "set"), forms.anything
    ),  # judged when shown
    closed=False,
)
_REFUSAL = forms.record(
    {
        **REFUSAL_KEYS,
        "job": forms.JOB_ID,
        "at": forms.TIME,
        "name": forms.text(longest=20_000),
        "sha256": forms.either(forms.text(""), forms.SHA256),
    },
    {"kept": forms.text(longest=20_000)},
    closed=False,
)
_LEFT_OUT = forms.several(
    forms.record(
        {"page": forms.whole_number(1, 10_000), "say": forms.text(longest=2000)}, closed=False
    ),
    most=10_000,
)
_MOST_LEFT_OUT = 20  # that are shown
_WARNINGS = forms.several(forms.text(longest=2000), most=100)
_MOST_WARNINGS = 10
_TABLE = """
CREATE TABLE IF NOT EXISTS jobs (
    job TEXT PRIMARY KEY, at TEXT NOT NULL, profile TEXT NOT NULL, outcome TEXT NOT NULL,
    name TEXT NOT NULL, sha256 TEXT NOT NULL, stem TEXT, about TEXT NOT NULL
) STRICT;
CREATE INDEX IF NOT EXISTS by_art ON jobs (profile, sha256, outcome, at);
CREATE INDEX IF NOT EXISTS by_time ON jobs (at);
CREATE INDEX IF NOT EXISTS by_outcome ON jobs (outcome, at, job);
CREATE TABLE IF NOT EXISTS read_in (
    profile TEXT NOT NULL, record TEXT NOT NULL, PRIMARY KEY (profile, record)
) STRICT, WITHOUT ROWID;
"""


@dataclass(frozen=True, slots=True)
class Entry:
    """One finished job: `outcome` is made or refused, `about` what the page needs to show it.

    One whose films are held is `held`, and `about` has `film`, `why` and `until`.
    """

    job: str
    at: str
    profile: str
    outcome: str
    name: str
    sha256: str
    stem: str | None
    about: dict[str, Any]


class Ledger:
    """A small SQLite file with one row a job; safe to use from several threads.

    `noted` is handed each job that ended on this host, once, and each that is held here.
    """

    def __init__(
        self,
        path: Path,
        *,
        trouble: Callable[[str], None] = lambda _: None,
        noted: Callable[[Entry], None] = lambda _: None,
    ) -> None:
        self._path = path
        self._trouble = trouble
        self._noted = noted
        self._lock = threading.RLock()
        self._db: sqlite3.Connection | None = None
        self._notes = 0
        self._counts: tuple[int, dict[str, int]] | None = None  # after so many notes
        self.fresh = False  # True while it has not taken in all that the folders tell
        with self._lock:
            self._open()

    def _open(self) -> None:
        try:
            self._db = self._connect()
        except sqlite3.DatabaseError as error:
            self._trouble(JobWord.LEDGER_UNREADABLE.say(error=error))
            self._set_aside()
            with contextlib.suppress(sqlite3.Error):
                self._db = self._connect()

    def _connect(self) -> sqlite3.Connection:
        db = sqlite3.connect(self._path, timeout=5, check_same_thread=False, isolation_level=None)
        try:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("PRAGMA synchronous = NORMAL")
            version = db.execute("PRAGMA user_version").fetchone()[0]
            if version not in (0, _VERSION):
                raise sqlite3.DatabaseError(f"version {version}")
            db.executescript(_TABLE)
            self.fresh = version == 0
        except BaseException:
            db.close()
            raise
        return db

    def _set_aside(self) -> None:
        for end in ("", "-wal", "-shm"):
            old = self._path.with_name(self._path.name + end)
            with contextlib.suppress(OSError):
                atomic.rename_unreadable(old)

    def has_learned(self) -> None:
        """From now on this is the ledger of all that was ever made here."""
        if self.fresh:
            self._run(f"PRAGMA user_version = {_VERSION}", ())
            self._run("DELETE FROM read_in", ())
            self.fresh = False

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            if self._db is not None:
                self._db.close()
                self._db = None

    def _run(self, sql: str, values: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        with self._lock:
            if self._db is None:
                return []
            try:
                return self._db.execute(sql, values).fetchall()
            except sqlite3.Error as error:
                self._trouble(JobWord.LEDGER_UNUSABLE.say(error=error))
                return []

    def note(self, entry: Entry) -> None:
        """Remember a job that ended here, and pass it on; noting it again changes nothing."""
        known = self._run("SELECT 1 FROM jobs WHERE job = ?", (entry.job,))
        self._keep(entry)
        if not known:
            self._noted(entry)

    def tell_held(self, entry: Entry) -> None:
        """Pass on that the films of a job wait; nothing of it is remembered, as it goes on."""
        self._noted(entry)

    def _keep(self, entry: Entry) -> None:
        stem = None if entry.stem is None else file_names.shown(entry.stem)
        *row, about = astuple(replace(entry, name=file_names.shown(entry.name), stem=stem))
        sql = "INSERT OR REPLACE INTO jobs VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
        self._run(sql, (*row, json.dumps(about)))
        self._notes += 1

    def earlier(self, profile: str, sha256: str, *, but: str) -> str | None:
        """The stem of the newest film of the same art and profile, from another job than `but`."""
        rows = self._run(
            # Left alone, SQLite walks by_outcome through all that was ever made, to save sorting.
            "SELECT stem FROM jobs INDEXED BY by_art "
            "WHERE profile = ? AND sha256 = ? AND outcome = 'made' AND job <> ? "
            "AND stem IS NOT NULL "
            "ORDER BY at DESC, job DESC LIMIT 1",
            (profile, sha256, but),
        )
        return str(rows[0][0]) if rows else None

    def history(self, *, limit: int = 200, outcome: str | None = None) -> list[Entry]:
        """The newest jobs, newest first; all of them for a limit of -1."""
        # Two queries, so that each has an index: the status asks every second, all year long.
        which, values = ("", ()) if outcome is None else ("WHERE outcome = ? ", (outcome,))
        rows = self._run(
            "SELECT job, at, profile, outcome, name, sha256, stem, about FROM jobs "
            f"{which}ORDER BY at DESC, job DESC LIMIT ?",
            (*values, limit),
        )
        return [Entry(*[*row, json.loads(about)]) for *row, about in rows]

    def named(self, wanted: str) -> list[Entry]:
        """The jobs in whose names, films or id `wanted` occurs as names are compared; perhaps more.

        No index helps to find a part of a text, and none is needed: this is some microseconds a
        job, and asked by people only.
        """

        def says(text: str) -> bool:
            # What is not plain ASCII stands there as \u00e9, and is looked at more closely later.
            return "\\" in text or wanted in file_names.compared(text)

        with self._lock:
            if self._db is not None:
                self._db.create_function("says", 1, says, deterministic=True)
        rows = self._run(
            "SELECT job, at, profile, outcome, name, sha256, stem, about FROM jobs "
            "WHERE says(job || char(10) || name || char(10) || about)",
            (),
        )
        return [Entry(*[*row, json.loads(about)]) for *row, about in rows]

    def counts(self) -> dict[str, int]:
        """How many jobs got films and how many were refused; a scan that was read is neither."""
        known, notes = self._counts, self._notes
        if known is None or known[0] != notes:
            rows = self._run(
                "SELECT outcome, count(*) FROM jobs "
                "WHERE outcome != 'made' OR stem IS NOT NULL GROUP BY outcome",
                (),
            )
            sums = {"made": 0, "refused": 0} | {str(what): int(count) for what, count in rows}
            self._counts = known = (notes, sums)
        return known[1]

    def newest(self) -> str | None:
        """The time of the newest job as records show it; None without any."""
        rows = self._run("SELECT max(at) FROM jobs", ())
        return str(rows[0][0]) if rows and rows[0][0] is not None else None

    def take_in(self, entry: Entry) -> bool:
        """Note a job that another host may have ended, or one film of it; True if it was news."""
        rows = self._run("SELECT about FROM jobs WHERE job = ?", (entry.job,))
        if rows:
            known = json.loads(rows[0][0]).get("films", [])
            films = entry.about.get("films", [])
            if all(film in known for film in films):
                return False
            entry.about["films"] = sorted(
                [*known, *(film for film in films if film not in known)],
                key=lambda film: str(film["stem"]),
            )
        self._keep(entry)
        return True

    # --- a ledger that was lost ------------------------------------------------------------------

    def take_in_all(self, entries: Iterable[Entry], profile: str, read: Iterable[str]) -> None:
        """Take in these jobs of a profile at one stroke, and which records they were `read` from.

        OSError if it could not be noted.
        """
        with self._lock:
            if self._db is None:
                return
            try:
                with self._db:  # ends the transaction
                    self._db.execute("BEGIN")
                    for entry in entries:
                        self.take_in(entry)
                    self._db.executemany(
                        "INSERT OR IGNORE INTO read_in VALUES (?, ?)",
                        [(profile, file_names.shown(name)) for name in read],
                    )
            except sqlite3.Error as error:
                self._trouble(JobWord.LEDGER_UNUSABLE.say(error=error))
                raise OSError(str(error)) from error

    def read_in(self, profile: str) -> set[str] | None:
        """The records of a profile that were taken in, as shown; None if all of it was ("")."""
        rows = self._run("SELECT record FROM read_in WHERE profile = ?", (profile,))
        read = {str(record) for (record,) in rows}
        return None if "" in read else read


def film_about(
    sub: tuple[str, ...], stem: str, files: list[str], record: dict[str, Any]
) -> dict[str, Any]:
    """What the page needs to show one film, whose record may come from a stranger."""
    about: dict[str, Any] = {
        "folder": "/".join(map(file_names.shown, sub)),
        "stem": file_names.shown(stem),
        "files": files,
    }
    left_out = _judged(_LEFT_OUT, record.get("left_out"))
    warnings = _judged(_WARNINGS, record.get("warnings"))
    if whose := whose_film(record.get("for")):
        about["for"] = whose
    if warnings:
        about["warnings"] = warnings[:_MOST_WARNINGS]
    if reminders := _judged(_WARNINGS, record.get("reminders")):
        about["reminders"] = reminders[:_MOST_WARNINGS]
    if (place := place_in_set(record)) is not None:
        whole = stem_of_set(stem, place)
        about["set"] = place | {"ink": file_names.shown(place["ink"])}
        if whole is not None:
            about["set"]["stem"] = file_names.shown(whole)
    if left_out:
        shown = left_out[:_MOST_LEFT_OUT]
        about["left_out"] = [
            JobWord.LEFT_OUT.say(page=one["page"], why=one["say"]) for one in shown
        ]
        more = len(left_out) - len(shown)
        if more:
            about["left_out"].append(JobCount.MORE_LEFT_OUT.say(more))
    return about


def _judged(form: Callable[[Any], Any], told: Any) -> list[Any]:
    """A list from a record; empty where it is not as we write it."""
    try:
        return list(form(told or []))
    except ValueError:
        return []


def of_record(profile: str, path: Beneath, top: Beneath) -> Entry | None:
    """What one record below `top` tells; None if it is gone or no record."""
    told = record_told(path)
    if told is None:
        return None
    *folders, name = path.names_below(top)
    sub, stem = tuple(folders), Path(name).stem
    return Entry(
        job=told["job"],
        at=told["at"],
        profile=profile,
        outcome="made",
        name="/".join((*map(file_names.shown, sub), told["source"]["name"])),
        sha256=told["source"]["sha256"],
        stem="/".join((*sub, stem)),
        about={"films": [film_about(sub, stem, list(told["film"]["files"].values()), told)]},
    )


def record_told(path: Beneath) -> dict[str, Any] | None:
    """Job, time, source and files that a record tells of; None if it is gone or no record."""
    try:
        told: dict[str, Any] = _RECORD(forms.read_json(path, LARGEST_RECORD))
    except (OSError, ValueError):
        return None
    return told


def lines_of(log: Beneath) -> Iterator[bytes]:
    """The lines of a refusal log that are no longer than a line can be; none if it is no file."""
    with contextlib.suppress(OSError), log.open() as file:
        whole = True
        while line := file.readline(_LONGEST_LINE):
            if whole:
                yield line
            whole = line.endswith(b"\n")


def refusal_line(line: bytes) -> dict[str, Any]:
    """What a line of a refusal log says; ValueError for a piece that a full disk left."""
    told: dict[str, Any] = _REFUSAL(forms.parsed(line))
    return told


def of_refusal(profile: str, line: bytes) -> Entry | None:
    """What one line of a refusal log tells; None for a piece that a full disk left."""
    try:
        data = refusal_line(line)
    except ValueError:
        return None
    return Entry(
        job=data["job"],
        at=data["at"],
        profile=profile,
        outcome="refused",
        name=data["name"],
        sha256=data["sha256"],
        stem=None,
        about={key: data[key] for key in ("reason", "say", "do", "found", "needed")}
        | {"kept": data.get("kept", "")},
    )

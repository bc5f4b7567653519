from __future__ import annotations

import os
import sqlite3
import threading
from pathlib import Path

import pytest

from filmhand.jobs.ledger import Entry, Ledger, film_about


def made(job: str, *, at: str = "2026-03-01T10:00:00Z", stem: str = "a", sha: str = "x") -> Entry:
    about = {"films": [film_about((), stem, [f"{stem}.pdf"], {})]}
    return Entry(job, at, "small", "made", f"{stem}.png", sha, stem, about)


ONE, TWO = "20260301T100000-00000001", "20260302T100000-00000002"


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    return Ledger(tmp_path / "ledger.sqlite")


def test_noting_twice_is_noting_once(ledger: Ledger) -> None:
    ledger.note(made("1"))
    ledger.note(made("1"))
    assert ledger.counts() == {"made": 1, "refused": 0}
    assert ledger.history() == [made("1")]


def test_the_earlier_film_is_the_newest_of_the_same_art_and_profile(ledger: Ledger) -> None:
    ledger.note(made("1", at="2026-03-01T10:00:00Z", stem="a"))
    ledger.note(made("2", at="2026-03-02T10:00:00Z", stem="a-2"))
    ledger.note(made("3", at="2026-03-03T10:00:00Z", stem="other", sha="y"))
    assert ledger.earlier("small", "x", but="4") == "a-2"
    assert ledger.earlier("small", "x", but="2") == "a"
    assert ledger.earlier("large", "x", but="4") is None
    assert ledger.earlier("small", "z", but="4") is None


def test_a_refusal_is_no_earlier_film(ledger: Ledger) -> None:
    ledger.note(Entry("1", "2026", "small", "refused", "a.png", "x", None, {}))
    assert ledger.earlier("small", "x", but="2") is None


def test_history_is_newest_first_and_limited(ledger: Ledger) -> None:
    for number in range(10):
        ledger.note(made(str(number), at=f"2026-03-{number + 1:02}T10:00:00Z"))
    assert [entry.job for entry in ledger.history(limit=3)] == ["9", "8", "7"]
    assert ledger.history(outcome="refused") == []


def test_names_that_are_not_text_do_not_stop_it(ledger: Ledger) -> None:
    name = os.fsdecode(b"caf\xe9.png")
    ledger.note(Entry("1", "2026", "small", "made", name, "x", name, {"films": []}))
    assert ledger.history()[0].name == "caf\ufffd.png"


def test_no_question_takes_longer_for_a_year_of_jobs(ledger: Ledger) -> None:
    """SQLite counts the steps of its machine: a hundredfold ledger must not take tenfold."""
    steps = 0

    def count() -> int:
        nonlocal steps
        steps += 1
        return 0

    assert ledger._db is not None
    ledger._db.set_progress_handler(count, 10)

    def cost(number: int) -> list[int]:
        nonlocal steps
        found = []
        for ask in (
            lambda: ledger.earlier("small", "none", but="0"),
            lambda: ledger.history(limit=20),
            lambda: ledger.history(limit=20, outcome="made"),
            lambda: ledger.history(limit=20, outcome="refused"),
            lambda: ledger.note(made(f"new {number}", sha=f"new {number}")),
            ledger.newest,
        ):
            before, _ = steps, ask()
            found.append(steps - before)
        return found

    for number in range(30):
        ledger.note(made(f"{number:05}", sha=f"{number}", at=f"2026-{number:05}"))
    few = cost(1)
    for number in range(30, 3000):
        ledger.note(made(f"{number:05}", sha=f"{number}", at=f"2026-{number:05}"))
    many = cost(2)
    assert all(late < 10 * max(early, 2) for early, late in zip(few, many, strict=True)), many


def test_it_is_fresh_until_it_has_learned(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    first = Ledger(path)
    assert first.fresh
    first.close()
    second = Ledger(path)
    assert second.fresh  # killed before it had learned
    second.has_learned()
    second.close()
    third = Ledger(path)
    assert not third.fresh


def test_another_version_is_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version = 99")
    db.close()
    said: list[str] = []
    ledger = Ledger(path, trouble=said.append)
    ledger.note(made("1"))
    assert ledger.counts()["made"] == 1
    assert len(said) == 1
    assert (tmp_path / "unreadable-ledger.sqlite").exists()


def test_a_locked_or_closed_ledger_stops_nothing(tmp_path: Path) -> None:
    said: list[str] = []
    ledger = Ledger(tmp_path / "ledger.sqlite", trouble=said.append)
    ledger._run("PRAGMA busy_timeout = 50", ())
    other = sqlite3.connect(tmp_path / "ledger.sqlite", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    ledger.note(made("1"))
    assert len(said) == 1
    other.execute("ROLLBACK")
    other.close()
    ledger.close()
    ledger.note(made("2"))
    assert ledger.counts() == {"made": 0, "refused": 0}


def test_several_threads(ledger: Ledger) -> None:
    def note(start: int) -> None:
        for number in range(50):
            ledger.note(made(f"{start}-{number}"))

    threads = [threading.Thread(target=note, args=(start,)) for start in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert ledger.counts()["made"] == 200

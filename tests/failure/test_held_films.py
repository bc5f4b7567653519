"""Films that wait for somebody's word or for sheets: proofs, releases, budgets, restarts."""

from __future__ import annotations

import itertools
import json
import os
import shutil
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import job_harness
import pytest
from held_harness import make_queue

from filmhand.disk.folders import Folders
from filmhand.jobs.requests import Asked, ask
from filmhand.jobs.sheets import counted_since
from filmhand.profile.printing import Budget
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue

DROPS = itertools.count()


class Clock:
    """A wall clock that tests set, and seconds that go on with it."""

    def __init__(self, text: str = "2026-03-01T12:00:00") -> None:
        self.at = datetime.fromisoformat(text).astimezone()
        self.seconds = 0.0

    def now(self) -> datetime:
        return self.at

    def set(self, text: str) -> None:
        self.at = datetime.fromisoformat(text).astimezone()

    def go_on(self, seconds: float) -> None:
        self.at += timedelta(seconds=seconds)
        self.seconds += seconds

    def monotonic(self) -> float:
        self.seconds += 0.02
        return self.seconds


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "small"


def drop(root: Path, *names: str, word: str = "art") -> list[bytes]:
    dropped = []
    for name in names:
        path = root / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(f"{word} {name}".encode())
        at = 1_700_000_000 + next(DROPS)
        os.utime(path, (at, at))
        dropped.append(path.read_bytes())
    return dropped


def in_turn(queue: JobQueue, root: Path, *names: str, word: str = "art") -> list[bytes]:
    """Drop one after another, each worked off before the next comes."""
    dropped = []
    for name in names:
        dropped += drop(root, name, word=word)
        job_harness.work_through(queue)
    return dropped


def names(root: Path, folder: str) -> list[str]:
    around = root / folder
    return [path.relative_to(around).as_posix() for path in job_harness.files_in(around)]


def films(root: Path) -> list[str]:
    return [name for name in names(root, "positives") if name.endswith(".pdf")]


def counts(root: Path) -> list[tuple[str, str, str, int]]:
    return [
        (day, one.person, one.film, one.sheets) for day, one in counted_since(Folders(root))
    ]  # fmt: skip


@pytest.fixture
def queue_of(root: Path, tmp_path: Path, clock: Clock) -> Callable[..., JobQueue]:
    def make(host: str = "here-00000000", **told: Any) -> JobQueue:
        state = tmp_path / f"state-{host}"
        options = {"now": clock.now, "clock": clock.monotonic, "settle": 0.05, **told}
        return make_queue(root, state, host, **options)

    return make


# --- approval ------------------------------------------------------------------------------------


def test_a_film_waits_with_its_proof_and_note_and_holds_up_nobody(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    dropped = drop(root, "poster.jpg", "anna/photo.jpg", "bad.gif", word="art")
    (root / "drop" / "bad.gif").write_bytes(b"refuse this")
    dropped[2] = b"refuse this"
    job_harness.work_through(queue)
    assert films(root) == names(root, "proofs") == names(root, "records") == []
    assert names(root, "held") == [
        "anna/photo.jpg", "anna/photo.why.txt", "poster.jpg", "poster.why.txt",
    ]  # fmt: skip
    assert names(root, "rejected") == ["bad.gif", "bad.gif.why.txt", "rejections.jsonl"]
    job_harness.assert_invariants_in_hand(root, dropped)
    note = (root / "held" / "anna" / "photo.why.txt").read_text()
    assert "approves" in note and "release/" in note and "filmhand discard" in note
    assert "(for anna)" in note
    held = queue.status()["held"]
    assert [(one["name"], one["film"], one["for"]) for one in held] == [
        ("poster.jpg", "poster", ""),
        ("anna/photo.jpg", "anna/photo", "anna"),
    ]
    assert queue.idle()


@pytest.mark.parametrize("to", ["release/anna/photo.jpg", "release/photo.jpg"])
def test_the_proof_moved_to_release_lets_the_film_go(
    root: Path, queue_of: Callable[..., JobQueue], to: str
) -> None:
    queue = queue_of(approve=True)
    dropped = drop(root, "anna/photo.jpg")
    job_harness.work_through(queue)
    (root / to).parent.mkdir(exist_ok=True)
    (root / "held/anna/photo.jpg").rename(root / to)
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, dropped, besides={"sheets"})
    assert films(root) == ["anna/photo.pdf"]
    assert names(root, "held") == names(root, "release") == []
    assert counts(root) == [("2026-03-01", "anna", "anna/photo", 1)]
    # Its release tells nothing of how long a film takes.
    assert (queue.context.counts.rendered, queue.context.counts.made) == (1, 1)


def test_two_of_one_name_are_told_apart(root: Path, queue_of: Callable[..., JobQueue]) -> None:
    queue = queue_of(approve=True)
    drop(root, "anna/photo.jpg", "ben/photo.jpg")
    job_harness.work_through(queue)
    (root / "held/ben/photo.jpg").rename(root / "release/photo.jpg")
    job_harness.work_through(queue)
    assert films(root) == ["ben/photo.pdf"]
    assert names(root, "held") == ["anna/photo.jpg", "anna/photo.why.txt"]


def test_of_several_films_the_first_proof_that_is_moved_lets_all_go(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    dropped = drop(root, "book.tif", word="pages")
    job_harness.work_through(queue)
    assert names(root, "held") == ["book-p01.jpg", "book-p02.jpg", "book.why.txt"]
    (root / "held/book-p02.jpg").rename(root / "release/book-p02.jpg")
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, dropped, besides={"sheets"})
    assert films(root) == ["book-p01.pdf", "book-p02.pdf"]
    assert names(root, "held") == names(root, "release") == []
    assert counts(root)[0][3] == 2


def test_a_shared_sheet_is_released_and_given_up_as_one(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True, gang=GangWishes(0.2), room=None)
    dropped = drop(root, "a.png", "b.png", "c.png")
    job_harness.work_through(queue)
    assert names(root, "held") == ["a-and-2-more.jpg", "a-and-2-more.why.txt"]
    assert films(root) == []
    dropped += drop(root, "d.png", "e.png")
    job_harness.work_through(queue)
    (given_up,) = (one["job"] for one in queue.status()["held"] if one["film"].startswith("d-"))
    ask(queue.context.folders, Asked.DISCARD, given_up, queue.context.now())
    (root / "held/a-and-2-more.jpg").rename(root / "release/a-and-2-more.jpg")
    job_harness.work_through(queue)
    assert films(root) == ["a-and-2-more.pdf"]
    assert [n for n in names(root, "rejected") if n.endswith(".png")] == ["d.png", "e.png"]
    assert names(root, "held") == names(root, "release") == names(root, ".filmhand/asked") == []
    assert [one[3] for one in counts(root)] == [1]
    job_harness.assert_invariants_in_hand(root, dropped)


def test_a_removed_proof_is_made_again_and_releases_nothing(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    queue = queue_of(approve=True)
    drop(root, "poster.jpg")
    job_harness.work_through(queue)
    (root / "held/poster.jpg").unlink()
    (root / "held/poster.why.txt").unlink()
    clock.go_on(61)
    job_harness.work_through(queue)
    assert (root / "held/poster.jpg").read_bytes() == b"proof"
    assert names(root, "held") == ["poster.jpg", "poster.why.txt"] and films(root) == []


def test_what_else_lies_in_release_is_left_alone_and_named(
    root: Path, queue_of: Callable[..., JobQueue], tmp_path: Path
) -> None:
    queue = queue_of(approve=True)
    drop(root, "poster.jpg")
    job_harness.work_through(queue)
    (root / "release/poster.jpg").write_bytes(b"a customer's own picture")
    (root / "release/else.jpg").write_bytes(b"else")
    (root / "release/Thumbs.db").write_bytes(b"noise")
    secret = tmp_path / "secret.jpg"
    secret.write_bytes(b"proof")
    (root / "release/link.jpg").symlink_to(secret)
    job_harness.work_through(queue)
    job_harness.work_through(queue)
    told = {one["name"]: one["why"] for one in queue.status()["left_alone"]}
    assert set(told) == {"release/poster.jpg", "release/else.jpg", "release/link.jpg"}
    assert "move the proof itself" in told["release/poster.jpg"]
    assert films(root) == [] and len(names(root, "release")) == 4
    # A link of the proof's name in its place lets nothing go either.
    (root / "release/poster.jpg").unlink()
    (root / "release/poster.jpg").symlink_to(secret)
    (root / "held/poster.jpg").unlink()
    job_harness.work_through(queue)
    assert films(root) == [] and secret.read_bytes() == b"proof"


def test_a_copy_of_the_proof_and_one_that_was_changed_when_it_was_moved(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    drop(root, "copy.jpg", "turned.jpg")
    job_harness.work_through(queue)
    shutil.copy(root / "held/copy.jpg", root / "release/copy.jpg")
    (root / "held/turned.jpg").rename(root / "release/turned.jpg")
    (root / "release/turned.jpg").write_bytes(b"turned in a viewer")
    job_harness.work_through(queue)
    assert films(root) == ["copy.pdf", "turned.pdf"]
    assert names(root, "held") == names(root, "release") == []
    assert names(root, ".filmhand/set-aside") == ["turned.jpg"]


def test_a_name_that_is_taken_in_held_is_never_replaced(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    (root / "held").mkdir(parents=True)
    (root / "held/poster.jpg").write_bytes(b"somebody's")
    drop(root, "poster.jpg")
    job_harness.work_through(queue)
    assert names(root, "held") == ["poster-2.jpg", "poster-2.why.txt", "poster.jpg"]
    assert (root / "held/poster.jpg").read_bytes() == b"somebody's"
    (root / "held/poster-2.jpg").rename(root / "release/poster-2.jpg")
    job_harness.work_through(queue)
    assert films(root) == ["poster-2.pdf"]


def test_given_up_its_art_is_refused_with_a_note(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    drop(root, "anna/photo.jpg")
    (root / "drop/anna/photo.jpg.ticket.yaml").write_bytes(b"ticket of it")
    job_harness.work_through(queue)
    (held,) = queue.status()["held"]
    ask(queue.context.folders, Asked.DISCARD, held["job"], queue.context.now())
    ask(queue.context.folders, Asked.DISCARD, "20260101T000000-00000000", queue.context.now())
    job_harness.work_through(queue)
    queue.look()
    assert names(root, "rejected") == [
        "anna/photo.jpg", "anna/photo.jpg.ticket.yaml", "anna/photo.jpg.why.txt",
        "rejections.jsonl",
    ]  # fmt: skip
    line = json.loads((root / "rejected/rejections.jsonl").read_bytes())
    assert (line["reason"], line["job"]) == ("discarded", held["job"])
    assert films(root) == names(root, "held") == names(root, ".filmhand/asked") == []
    assert counts(root) == [] and queue.status()["held"] == []


def test_art_that_changes_while_it_is_held_is_made_again_and_held_again(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    drop(root, "poster.jpg")
    job_harness.work_through(queue)
    (art,) = (root / ".filmhand").rglob("held/poster.jpg")
    art.write_bytes(b"art that somebody went on writing")
    (root / "held/poster.jpg").rename(root / "release/poster.jpg")
    job_harness.work_through(queue)
    assert films(root) == [] and names(root, "held") == ["poster.jpg", "poster.why.txt"]
    (root / "held/poster.jpg").rename(root / "release/poster.jpg")
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, [b"art that somebody went on writing"], besides={"sheets"})
    assert [one[3] for one in counts(root)] == [1]


def test_finished_files_that_somebody_took_away_are_made_again(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    dropped = drop(root, "poster.jpg")
    job_harness.work_through(queue)
    (film,) = (root / ".filmhand").rglob("out/0.pdf")
    film.unlink()
    (root / "held/poster.jpg").rename(root / "release/poster.jpg")
    job_harness.work_through(queue)
    assert films(root) == names(root, "release") == []
    assert names(root, "held") == ["poster.jpg", "poster.why.txt"]
    (root / "held/poster.jpg").rename(root / "release/poster.jpg")
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, dropped, besides={"sheets"})


def test_a_film_for_the_printer_has_no_order_before_it_is_released(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(approve=True)
    drop(root, "poster.jpg", word="print to the printer")
    job_harness.work_through(queue)
    orders = root / ".filmhand" / "here-00000000" / "prints"
    assert not orders.exists() and names(root, "held")
    (root / "held/poster.jpg").rename(root / "release/poster.jpg")
    job_harness.work_through(queue)
    assert len(list(orders.iterdir())) == 1 and films(root) == ["poster.pdf"]


def test_hundreds_of_held_films_are_not_met_at_each_look(
    root: Path, queue_of: Callable[..., JobQueue], monkeypatch: pytest.MonkeyPatch
) -> None:
    queue = queue_of(approve=True)
    drop(root, *(f"{number:03}.jpg" for number in range(120)))
    job_harness.work_through(queue)
    assert queue.status()["held_count"] == 120
    restarted = queue_of(approve=True)
    job_harness.work_through(restarted)
    assert restarted.status()["held_count"] == 120
    loaded: list[object] = []
    monkeypatch.setattr("filmhand.jobs.job.Job.load", loaded.append)
    for _ in range(20):
        restarted.look()
        assert restarted.take() is None
    assert loaded == []


# --- budget --------------------------------------------------------------------------------------


def test_sheets_of_a_day_and_of_a_person(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    queue = queue_of(day=4, person=2)
    in_turn(queue, root, "anna/1.jpg", "anna/2.jpg", "anna/3.jpg", "4.jpg", "5.jpg", "6.jpg")
    assert films(root) == ["4.pdf", "5.pdf", "anna/1.pdf", "anna/2.pdf"]
    held = {one["film"]: one for one in queue.status()["held"]}
    assert held["anna/3"]["why"] == (
        "It takes 1 sheet, and anna may have at most 2 on 2026-03-01; used so far: 2."
    )
    assert held["6"]["why"] == (
        "It takes 1 sheet, and this profile may have at most 4 on 2026-03-01; used so far: 4."
    )
    assert held["6"]["until"] == "2026-03-02"
    assert "By itself on 2026-03-02" in (root / "held/6.why.txt").read_text()
    clock.set("2026-03-02T00:00:01")
    job_harness.work_through(queue)
    assert len(films(root)) == 6 and names(root, "held") == []
    assert {(day, film) for day, _, film, _ in counts(root)[4:]} == {
        ("2026-03-02", "6"),
        ("2026-03-02", "anna/3"),
    }


def test_the_oldest_go_first_when_the_day_turns_also_after_a_restart(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    queue = queue_of(day=2)
    in_turn(queue, root, *(f"{number}.jpg" for number in range(6)))
    assert films(root) == ["0.pdf", "1.pdf"]
    clock.set("2026-03-02T00:00:01")
    again = queue_of(day=2)
    drop(root, "newest.jpg")
    job_harness.work_through(again)
    assert films(root) == ["0.pdf", "1.pdf", "2.pdf", "3.pdf"]
    assert {one["film"] for one in again.status()["held"]} == {"4", "5", "newest"}
    assert {one["until"] for one in again.status()["held"]} == {"2026-03-03"}
    clock.set("2026-03-03T07:00:00")
    job_harness.work_through(again)
    assert films(root) == ["0.pdf", "1.pdf", "2.pdf", "3.pdf", "4.pdf", "5.pdf"]


def test_a_clock_that_jumps_over_midnight_and_back_frees_nothing_twice(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    queue = queue_of(day=2)
    in_turn(queue, root, *(f"{number}.jpg" for number in range(7)))
    clock.set("2026-03-02T00:10:00")
    job_harness.work_through(queue)
    assert len(films(root)) == 4
    for moment in ("2026-03-01T23:59:00", "2026-03-02T00:01:00", "2026-03-01T12:00:00"):
        clock.set(moment)
        job_harness.work_through(queue)
        job_harness.work_through(queue_of(day=2))
        queue = queue_of(day=2)
        job_harness.work_through(queue)
        assert len(films(root)) == 4
    clock.set("2026-03-03T00:01:00")
    job_harness.work_through(queue)
    assert len(films(root)) == 6
    of_days = [day for day, *_ in counts(root)]
    assert {day: of_days.count(day) for day in of_days} == {
        "2026-03-01": 2, "2026-03-02": 2, "2026-03-03": 2,
    }  # fmt: skip


def test_a_person_goes_beyond_the_budget_only_by_somebodys_word(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(person=1)
    in_turn(queue, root, "anna/1.jpg", "anna/2.jpg", "anna/3.jpg")
    (root / "release/anna").mkdir()
    (root / "held/anna/2.jpg").rename(root / "release/anna/2.jpg")
    job_harness.work_through(queue)
    assert films(root) == ["anna/1.pdf", "anna/2.pdf"]
    assert [one[3] for one in counts(root)] == [1, 1]


def test_more_sheets_than_a_day_has_wait_for_somebody(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    queue = queue_of(day=1)
    drop(root, "book.tif", word="pages")
    in_turn(queue, root, "small.jpg")
    (held,) = queue.status()["held"]
    assert "only a release lets it go" in held["why"]
    assert held["until"] == "somebody releases it"
    clock.set("2026-03-02T12:00:00")
    job_harness.work_through(queue)
    assert films(root) == ["small.pdf"]


def test_a_budget_that_the_profile_raises_lets_films_go_at_once(
    root: Path, queue_of: Callable[..., JobQueue]
) -> None:
    queue = queue_of(day=1)
    in_turn(queue, root, "1.jpg", "2.jpg", "3.jpg")
    queue.change(replace(queue.settings, budget=Budget(day=2)))
    job_harness.work_through(queue)
    assert films(root) == ["1.pdf", "2.pdf"]
    queue.change(replace(queue.settings, budget=None, holds=False))
    job_harness.work_through(queue)
    assert films(root) == ["1.pdf", "2.pdf", "3.pdf"]


def test_once_ends_while_films_are_held(root: Path, queue_of: Callable[..., JobQueue]) -> None:
    queue = queue_of(day=1, patient=False)
    drop(root, "1.jpg", "2.jpg")
    job_harness.work_through(queue)  # raises unless it comes to rest
    assert queue.status()["held_count"] == 1


def test_many_threads_never_pass_the_budget(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    queue = queue_of(day=5, person=3, settle=0.0)
    drop(root, *(f"{who}/{n}.jpg" for who in ("anna", "ben", "cy") for n in range(8)))

    def work() -> None:
        for _ in range(200):
            while (task := queue.take()) is not None:
                queue.do(task)

    for day in ("2026-03-01T12:00:00", "2026-03-02T12:00:00"):
        clock.set(day)
        for _ in range(12):
            queue.look()
            threads = [threading.Thread(target=work) for _ in range(4)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
    for day in ("2026-03-01", "2026-03-02"):
        people = [who for on, who, *_ in counts(root) if on == day]
        assert len(people) == 5 and max(map(people.count, people)) <= 3
    assert len(films(root)) == 10


# --- hosts ---------------------------------------------------------------------------------------


def test_held_films_of_a_silent_host_are_taken_over(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    first = queue_of("one-00000001", approve=True)
    dropped = drop(root, "poster.jpg")
    job_harness.work_through(first)
    second = queue_of("two-00000002", approve=True)
    job_harness.work_through(second)
    assert second.status()["held"] == [] and first.status()["held_count"] == 1
    (root / "held/poster.jpg").rename(root / "release/poster.jpg")
    second.look()
    assert second.status()["left_alone"] == []  # it is another host's
    clock.go_on(1000)
    second.look()
    clock.go_on(1000)
    job_harness.work_through(second)
    assert films(root) == ["poster.pdf"]
    clock.go_on(61)
    job_harness.work_through(first)
    assert first.status()["held"] == []
    first.close()
    second.close()
    job_harness.assert_invariants(root, dropped, besides={"sheets"})
    assert [one[3] for one in counts(root)] == [1]


def test_two_hosts_share_one_budget(
    root: Path, queue_of: Callable[..., JobQueue], clock: Clock
) -> None:
    first, second = queue_of("one-00000001", day=3), queue_of("two-00000002", day=3)
    for number in range(6):
        drop(root, f"{number}.jpg")
        job_harness.work_through((first, second)[number % 2])
    assert films(root) == ["0.pdf", "1.pdf", "2.pdf"]
    assert len(names(root, ".filmhand/sheets")) == 2
    clock.set("2026-03-02T00:00:01")
    job_harness.work_through(second)
    job_harness.work_through(first)
    assert len(films(root)) == 6
    assert len(counts(root)) == 6

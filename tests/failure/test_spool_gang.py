"""Several drops on one sheet: who waits, who joins, who leaves, and what is put where."""

from __future__ import annotations

import json
import os
import shutil
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import job_harness
import pytest

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath, as_beneath
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.jobs import gang as gang_jobs
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job, State
from filmhand.jobs.ledger import Ledger
from filmhand.jobs.recover import Outcome
from filmhand.jobs.refill import LedgerRefill
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.task import MeasureSheet, Task, claimed_paths
from filmhand.request import ArtSize, JobRequest, SheetSpace
from filmhand.request import GangResult as Ganged
from filmhand.service.history import file_history, retry_refused
from filmhand.worker.parent import Interrupted, WorkerDied

NOW = GangWishes(wait=0.2)


def drop(root: Path, **files: bytes) -> list[bytes]:
    """Settled long ago, in the order given."""
    for number, (name, data) in enumerate(files.items()):
        path = root / "drop" / name.replace("__", "/").replace("_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (1_700_000_000 + number, 1_700_000_000 + number))
    return list(files.values())


def records(root: Path) -> dict[str, dict[str, Any]]:
    return {
        str(path.relative_to(root / "records")): json.loads(path.read_bytes())
        for path in job_harness.files_in(root / "records")
    }


def positives(root: Path) -> list[str]:
    folder = root / "positives"
    return [str(path.relative_to(folder)) for path in job_harness.files_in(folder)]


def sheets(state: Path) -> list[str]:
    """What each call of the renderer was given."""
    return (state / "scratch" / "sheets").read_text().splitlines()


def first_work(queue: JobQueue) -> Task | None:
    until = time.monotonic() + 10
    while time.monotonic() < until:
        queue.look()
        if (work := queue.take()) is not None:
            if not isinstance(work, MeasureSheet):
                return work
            queue.do(work)
    return None


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "small"


@pytest.fixture
def state(tmp_path: Path) -> Path:
    return tmp_path / "state"


def test_three_drops_share_a_film_and_keep_all_else_apart(root: Path, state: Path) -> None:
    ticket = b"for: class 4\n"
    dropped = drop(root, b_png=b"art b", a_png=b"art a", c_png=b"art c", c_png_ticket_yaml=ticket)
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["b-and-2-more.pdf", "b-and-2-more.tif"]
    found = records(root)
    assert sorted(found) == ["a.json", "b-and-2-more.json", "c.json"]
    for record in found.values():
        assert record["film"]["files"] == {"pdf": "b-and-2-more.pdf", "tiff": "b-and-2-more.tif"}
        assert record["gang"]["film"] == "b-and-2-more.pdf"
    assert found["a.json"]["gang"]["with"] == ["b.png", "c.png"]
    assert len({record["job"] for record in found.values()}) == 3
    kept = sorted(path.name for path in (root / "originals").iterdir())
    assert kept == ["a.png", "b.png", "c.png", "c.png.ticket.yaml"]


def test_the_first_waits_for_others_and_the_time_counts_from_it(root: Path, state: Path) -> None:
    now = [1000.0]
    queue = job_harness.make_queue(
        root, state, settle=0.0, clock=lambda: now[0], gang=GangWishes(wait=60.0)
    )

    dropped = drop(root, a_png=b"art a")
    assert settled(queue, now) is None
    (waiting,) = queue.status()["waiting"]
    assert waiting["name"] == "a.png"
    assert waiting["why"].startswith("waiting for company until ")
    assert not queue.idle()
    now[0] += 50
    dropped += drop(root, b_png=b"art b")
    assert settled(queue, now) is None
    now[0] += 9.9
    work = settled(queue, now)
    assert work is not None
    assert [path.name for path in claimed_paths(work)] == ["a.png", "b.png"]
    queue.do(work)
    while (work := settled(queue, now)) is not None:
        queue.do(work)
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["a-and-1-more.pdf", "a-and-1-more.tif"]


def test_nobody_came(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a")
    job_harness.work_through(job_harness.make_queue(root, state, gang=GangWishes(wait=0.2)))
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["a.pdf", "a.tif"]
    assert not (state / "scratch" / "sheets").exists()


def test_a_sheet_is_full_by_number(root: Path, state: Path) -> None:
    drop(root, a_png=b"art a", b_png=b"art b", c_png=b"art c")
    queue = job_harness.make_queue(root, state, gang=GangWishes(wait=3600.0, most=2))
    queue.look()
    time.sleep(4 * job_harness.SETTLE)  # so that all three have settled at the next look
    work = first_work(queue)
    assert work is not None
    assert [path.name for path in claimed_paths(work)] == ["a.png", "b.png"]
    assert [waiting.name for waiting in queue.view.waiting] == ["c.png"]


def settled(queue: JobQueue, now: list[float]) -> Task | None:
    """What there is to do when all that lies there has settled; what is measured is measured."""
    for _ in range(4):
        queue.look()
        now[0] += 0.1
        while (work := queue.take()) is not None:
            if not isinstance(work, MeasureSheet):
                return work
            queue.do(work)
    return None


def test_a_sheet_is_made_when_the_next_finds_no_room(root: Path, state: Path) -> None:
    now, measured = [1000.0], []

    def room(orders: list[JobRequest], known: dict[int, ArtSize | None]) -> SheetSpace:
        measured.append([order.name for n, order in enumerate(orders) if n not in known])
        return job_harness.room(orders, known)

    queue = job_harness.make_queue(
        root, state, settle=0.0, clock=lambda: now[0], gang=GangWishes(wait=3600.0), room=room
    )
    dropped = drop(root, a_png=b"art a", b_png=b"art b", c_png=b"art c", d_tif=b"pages d")
    assert settled(queue, now) is None
    assert measured == [["a.png", "b.png", "c.png", "d.tif"]]
    now[0] += 100
    (root / "drop" / "e.png").write_bytes(b"art e")
    work = settled(queue, now)
    assert work is not None
    assert [path.name for path in claimed_paths(work)] == ["a.png", "b.png", "c.png"]
    # Only what is new was opened, and nothing is asked twice.
    assert measured == [["a.png", "b.png", "c.png", "d.tif"], ["e.png"]]
    (last,) = [w for w in queue.view.waiting if w.name == "e.png"]
    assert last.why.startswith("waiting for company until ")
    queue.do(work)
    now[0] += 3601
    while (work := settled(queue, now)) is not None:
        queue.do(work)
    job_harness.assert_invariants(root, [*dropped, b"art e"])


def test_a_measuring_that_fails_leaves_it_to_the_time(root: Path, state: Path) -> None:
    now, asked = [1000.0], []

    def room(orders: list[JobRequest], known: dict[int, ArtSize | None]) -> SheetSpace:
        asked.append(len(orders))
        raise WorkerDied("it ended by SIGSEGV")

    queue = job_harness.make_queue(
        root, state, settle=0.0, clock=lambda: now[0], gang=GangWishes(wait=60.0), room=room
    )
    dropped = drop(root, **{f"a{n}_png": b"art %d" % n for n in range(5)})
    assert settled(queue, now) is None
    assert settled(queue, now) is None
    assert asked == [5]
    assert not queue.trouble.pause.why
    now[0] += 60
    while (work := settled(queue, now)) is not None:
        queue.do(work)
    job_harness.assert_invariants(root, dropped)


def test_those_without_room_take_the_next_sheet(root: Path, state: Path) -> None:
    dropped = drop(root, **{f"a{n}_png": b"art %d" % n for n in range(7)})
    job_harness.work_through(
        job_harness.make_queue(root, state, gang=GangWishes(wait=0.3), room=None)
    )
    job_harness.assert_invariants(root, dropped)
    assert sheets(state) == [
        "a0.png a1.png a2.png a3.png a4.png a5.png a6.png",
        "a3.png a4.png a5.png a6.png",
    ]
    assert [name for name in positives(root) if name.endswith("pdf")] == [
        "a0-and-2-more.pdf",
        "a3-and-2-more.pdf",
        "a6.pdf",
    ]


def test_one_refused_among_three(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"refuse b", c_png=b"art c")
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["a-and-1-more.pdf", "a-and-1-more.tif"]
    assert (root / "rejected" / "b.png").read_bytes() == b"refuse b"


def test_only_one_is_left_when_the_others_are_refused(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"refuse b", c_png=b"refuse c")
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["a.pdf", "a.tif"]


def test_several_pages_and_wishes_for_a_whole_sheet_go_alone(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a", b_tif=b"pages b", c_png=b"art c", d_png=b"art d")
    ticket = b"gang: false\n"
    (root / "drop" / "d.png.ticket.yaml").write_bytes(ticket)
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    job_harness.assert_invariants(root, [*dropped, ticket])
    assert sheets(state) == ["a.png b.tif c.png"]
    assert [name for name in positives(root) if name.endswith("pdf")] == [
        "a-and-1-more.pdf",
        "b-p01.pdf",
        "b-p02.pdf",
        "d.pdf",
    ]


def test_the_one_that_harms_its_worker_is_found_and_the_others_are_made(
    root: Path, state: Path
) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"poison b", c_png=b"art c")
    told: list[tuple[str, dict[str, Any]]] = []
    queue = job_harness.make_queue(
        root, state, gang=NOW, say=lambda event, **facts: told.append((event, facts))
    )
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, dropped)
    assert [name for name in positives(root) if name.endswith("pdf")] == ["a.pdf", "c.pdf"]
    strikes = {facts["name"]: facts["strikes"] for event, facts in told if event == "made"}
    assert strikes == {"a.png": 0, "c.png": 0}
    line = json.loads((root / "rejected" / "rejections.jsonl").read_text())
    assert (line["name"], line["reason"]) == ("b.png", "crashed")


def test_folders_stay_apart(root: Path, state: Path) -> None:
    dropped = drop(root, one__a_png=b"art a", two__b_png=b"art b", one__c_png=b"art c")
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    job_harness.assert_invariants(root, dropped)
    assert [name for name in positives(root) if name.endswith("pdf")] == [
        "one/a-and-1-more.pdf",
        "two/b.pdf",
    ]


def test_names_that_are_taken_get_numbers(root: Path, state: Path) -> None:
    dropped = []
    for _ in range(2):
        dropped += drop(root, a_png=b"art a", b_png=b"art b", b_jpg=b"art b too")
        job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    found = records(root)
    assert sorted(found) == [
        "a-and-2-more-2.json",
        "a-and-2-more.json",
        "b-2.json",
        "b-3.json",
        "b-4.json",
        "b.json",
    ]
    assert found["b-3.json"]["film"]["files"]["pdf"] == "a-and-2-more-2.pdf"
    assert found["b-3.json"]["earlier"] in {"b", "b-2"}
    job_harness.assert_invariants(root, dropped)


def test_a_name_taken_between_choosing_and_publishing(
    root: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"art b")
    real, seen = atomic.publish_no_replace, []

    def publish(source: Beneath, target: Beneath, **how: bool) -> None:
        if target.parent.name == "proofs" and not seen:
            seen.append(target.path)
            target.path.write_bytes(b"proof")
        real(source, target, **how)

    monkeypatch.setattr(atomic, "publish_no_replace", publish)
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    seen[0].unlink()
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["a-and-1-more-2.pdf", "a-and-1-more-2.tif"]
    assert sorted(records(root)) == ["a-and-1-more-2.json", "b.json"]


def test_spoiled_staged_films_are_made_again(
    root: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from filmhand.jobs import publish

    dropped = drop(root, a_png=b"art a", b_png=b"art b")
    real, times = publish._whole, []

    def whole(job: Job, item: Any) -> bool:
        if not times:
            times.append(1)
            (job.out / job.publication.items[-1].source).path.write_bytes(b"rot")
        return real(job, item)

    monkeypatch.setattr(publish, "_whole", whole)
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    job_harness.assert_invariants(root, dropped)
    assert len(sheets(state)) == 2


def test_a_deleted_ledger_learns_of_each_again(root: Path, state: Path) -> None:
    drop(root, a_png=b"art a", b_png=b"art b", c_png=b"art c")
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    before = Ledger(state / "ledger.sqlite")
    kept = before.history()
    before.close()
    fresh = Ledger(state / "fresh.sqlite")
    context = job_harness.make_queue(root, state).context
    LedgerRefill("small", replace(context, ledger=fresh)).look()
    # Where the original lies no record tells: it is put away last.
    for entry in kept:
        assert entry.about.pop("original") == entry.name
    assert fresh.history() == kept
    assert {film["files"][0] for e in kept for film in e.about["films"]} == {"a-and-2-more.pdf"}
    fresh.close()


@pytest.mark.parametrize("spoil", [lambda path: path.unlink(), lambda path: path.write_text("{")])
def test_a_gang_that_lost_its_notes_loses_no_art(
    root: Path, state: Path, spoil: Callable[[Path], Any]
) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"art b", c_png=b"art c")

    def stopped(orders: list[JobRequest]) -> Ganged:
        raise Interrupted

    queue = job_harness.make_queue(root, state, gang=NOW, render_gang=stopped)
    work = first_work(queue)
    assert work is not None
    queue.do(work)
    (notes,) = (root / ".filmhand").glob("*/*/job.json")
    assert Job.load(as_beneath(notes.parent)).state is State.GANGED
    job_harness.assert_invariants_in_hand(root, dropped)
    spoil(notes)
    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW))
    aside = root / ".filmhand" / "set-aside"
    for kept in aside.iterdir() if aside.exists() else ():  # notes that are there but say nothing
        assert job_harness.files_in(kept) == [kept / "job.json"]
        shutil.rmtree(aside)
    job_harness.assert_invariants(root, dropped)


def test_art_that_changes_at_the_last_moment_is_given_back_alone(
    root: Path, state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"art b", c_png=b"art c")
    queue = job_harness.make_queue(root, state, gang=NOW)
    work = first_work(queue)
    assert work is not None
    (root / "drop" / "b.png").write_bytes(b"art b, longer")
    dropped[1] = b"art b, longer"
    queue.do(work)
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, dropped)
    assert sheets(state)[0] == "a.png c.png"


def test_a_fault_of_filmhand_itself_lets_all_go(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"art b")

    def fails(orders: list[JobRequest]) -> Ganged:
        raise ZeroDivisionError

    job_harness.work_through(job_harness.make_queue(root, state, gang=NOW, render_gang=fails))
    job_harness.assert_invariants(root, dropped)
    assert [name for name in positives(root) if name.endswith("pdf")] == ["a.pdf", "b.pdf"]


def test_once_waits_for_what_settles_and_no_longer(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"art b")
    late = root / "drop" / "c.png"
    late.write_bytes(b"art c")
    queue = job_harness.make_queue(
        root, state, gang=GangWishes(wait=3600.0), patient=False, settle=0.3
    )
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, [*dropped, b"art c"])
    assert sheets(state) == ["a.png b.png c.png"]


def test_a_folder_taken_over_meanwhile_is_let_be(root: Path, state: Path) -> None:
    dropped = drop(root, a_png=b"art a", b_png=b"art b")
    other = root / ".filmhand" / "other-00000009"

    def stolen(orders: list[JobRequest]) -> Ganged:
        (notes,) = (root / ".filmhand").glob("here-*/*/job.json")
        other.mkdir()
        shutil.move(notes.parent, other / notes.parent.name)
        return job_harness.render_gang(orders)

    queue = job_harness.make_queue(root, state, gang=NOW, render_gang=stolen)
    work = first_work(queue)
    assert work is not None
    queue.do(work)
    assert not queue.trouble.pause.why
    job_harness.assert_invariants_in_hand(root, dropped)
    job_harness.work_through(job_harness.make_queue(root, state, host="other-00000009", gang=NOW))
    shutil.rmtree(root / ".filmhand" / "here-00000000", ignore_errors=True)
    job_harness.assert_invariants(root, dropped)
    assert positives(root) == ["a-and-1-more.pdf", "a-and-1-more.tif"]


def test_a_member_let_go_just_before_another_host_takes_the_gang(root: Path, state: Path) -> None:
    """The other listed this host's jobs before the member was one; nobody else will find it."""
    dropped = drop(root, a_png=b"art a", b_png=b"refuse b", c_png=b"art c")
    queue = job_harness.make_queue(root, state, gang=NOW, host="one-00000001")
    work = first_work(queue)
    assert work is not None
    other = root / ".filmhand" / "two-00000002"
    other.mkdir()
    real = gang_jobs._let_go

    def let_go(folder: Path, context: JobContext) -> None:
        real(folder, context)
        atomic.rename_durably(folder.parent, other / folder.parent.name)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gang_jobs, "_let_go", let_go)
        queue.do(work)
    queue.look()
    left = queue.take()
    assert left is not None
    assert queue.do(left) is Outcome.REFUSED
    (root / ".filmhand" / "two-00000002" / "alive").unlink(missing_ok=True)
    job_harness.work_through(job_harness.make_queue(root, state, host="two-00000002"))
    job_harness.assert_invariants(root, dropped)


def test_every_worker_that_died_is_counted(root: Path, state: Path) -> None:
    """Once over the sheet, and then three times over the file alone, the last of them too."""
    dropped = drop(root, a_png=b"art a", b_png=b"poison b", c_png=b"art c")
    said: list[str] = []
    queue = job_harness.make_queue(
        root, state, gang=NOW, say=lambda event, **facts: said.append(event)
    )
    job_harness.work_through(queue)
    job_harness.assert_invariants(root, dropped)
    assert queue.context.counts.strikes == said.count("worker failed") == 4
    assert (queue.context.counts.made, queue.context.counts.refused) == (2, 1)


def test_a_member_in_hand_is_no_unknown_job(root: Path, state: Path) -> None:
    drop(root, a_png=b"art a", b_png=b"art b")
    queue = job_harness.make_queue(root, state, gang=NOW)
    work = first_work(queue)
    assert work is not None
    member = job_harness.begun(queue, work).gang.members[0]
    with pytest.raises(FilmhandError, match=f"^Job {member} is not finished yet"):
        retry_refused({"small": Folders(root)}, member, state)
    (told,) = file_history({"small": Folders(root)}, member, state / "ledger.sqlite").found
    assert (told["outcome"], told["name"]) == ("in hand (claimed)", "a.png")

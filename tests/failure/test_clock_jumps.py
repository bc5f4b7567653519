"""Clocks that jump: the computer's own, and that of a share. Nothing waits by the wall clock."""

from __future__ import annotations

import ast
import json
import os
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import test_waits_by_itself as in_process
from job_harness import assert_invariants
from test_service_station import PROFILE, Shop, shop, stop, wait_until

from filmhand.disk.forms import is_job_id
from filmhand.jobs.job import new_id
from filmhand.peers import host
from filmhand.profile.ticket.gang import GangWishes
from filmhand.timing.lone_wait import GIVEN_UP_AFTER
from filmhand.worker.parent import Interrupted

__all__ = ["shop"]

DAY = 86_400.0
START = datetime(2026, 3, 1, 12, tzinfo=UTC)
JUMPS = [START + timedelta(days=1), START - timedelta(days=1), datetime(1970, 1, 1, tzinfo=UTC)]
OTHER = "there-00000001"


class Clocked(in_process.Shop):
    """A queue whose wall clock (`wall`) and monotonic clock (`now`) are the test's."""

    def __init__(self, place: Path, **options: Any) -> None:
        self.wall = START
        super().__init__(place, now=lambda: self.wall, **options)

    def start(self, **options: Any) -> Any:
        # The harness takes the wall clock out of what it is given.
        return super().start(now=lambda: self.wall, **options)


@pytest.fixture(params=JUMPS, ids=["a day on", "a day back", "1970"])
def jump(request: pytest.FixtureRequest) -> datetime:
    moved: datetime = request.param
    return moved


def test_settling_goes_by_the_steady_clock(tmp_path: Path, jump: datetime) -> None:
    shop = Clocked(tmp_path, settle=10.0)
    shop.drop("a.png", b"art")
    shop.work(looks=2, step=1)
    shop.wall = jump
    shop.work(looks=5, step=1)
    assert shop.names("drop") == {"a.png"}
    shop.work(looks=5, step=1)
    assert shop.names("originals") == {"a.png"}
    assert_invariants(shop.root, [b"art"])


def test_company_is_waited_for_by_the_steady_clock(tmp_path: Path, jump: datetime) -> None:
    shop = Clocked(tmp_path, settle=1.0, gang=GangWishes(wait=100.0))
    shop.drop("a.png", b"art a")
    shop.drop("b.png", b"art b")
    shop.work(looks=3, step=1)
    shop.wall = jump
    shop.work(looks=3, step=10)
    assert shop.names("drop") == {"a.png", "b.png"}
    assert all("waiting for company until" in why for why in shop.waiting().values())
    shop.work(looks=4, step=40)
    assert shop.names("originals") == {"a.png", "b.png"}
    assert_invariants(shop.root, [b"art a", b"art b"])


def test_no_host_is_taken_for_dead_by_the_wall_clock(tmp_path: Path, jump: datetime) -> None:
    """Nor by the times of its files, whatever the clock of the share says."""
    shop = Clocked(tmp_path, takeover=60.0)
    job = shop.root / ".filmhand" / OTHER / new_id(START)
    job.mkdir(parents=True)
    alive = job.parent / "alive"

    def sign(number: int) -> None:
        alive.write_text(f"a sign of another computer {number}")
        os.utime(alive, (jump.timestamp(),) * 2)

    sign(0)
    shop.work(looks=2, step=host.ALIVE_EVERY)
    shop.wall = jump
    for number in range(10):
        sign(number + 1)
        shop.work(looks=1, step=30)
    assert job.is_dir() and "took over" not in shop.said
    shop.work(looks=10, step=30)
    assert not job.exists() and "took over" in shop.said


def test_a_day_of_waiting_is_one_of_the_steady_clock(tmp_path: Path, jump: datetime) -> None:
    shop = Clocked(tmp_path)
    shop.drop("a.png", b"art", mode=0)
    shop.work()
    shop.wall = jump
    shop.work(looks=5, step=600)
    assert shop.names("drop") == {"a.png"} and not shop.refusals()
    shop.now += GIVEN_UP_AFTER
    shop.work()
    assert [line["reason"] for line in shop.refusals()] == ["unreadable"]
    assert [path.read_bytes() for path in (shop.root / "rejected").glob("*.png")] == [b"art"]


def test_jobs_taken_before_and_after_a_jump_are_told_apart_and_ended(
    tmp_path: Path, jump: datetime
) -> None:
    """Their ids can be read and differ; a restart finishes all, whatever the clock is then."""
    ends = [True]

    def render(order: Any) -> Any:
        if ends[0]:  # as if the service were told to stop
            raise Interrupted
        return in_process.render(order)

    shop = Clocked(tmp_path, render=render)
    for name in ("a.png", "b.png"):
        shop.drop(name, b"art " + name[:1].encode())
    for _ in range(2):
        shop.queue.look()
        shop.now += 0.2
    tasks = [shop.queue.take() for _ in range(2)]
    for task in tasks:
        assert task is not None
        shop.queue.do(task)
        shop.wall = jump
    jobs = [path.name for path in (shop.root / ".filmhand" / "here-00000000").glob("*-*")]
    assert len(set(jobs)) == 2 and all(map(is_job_id, jobs))
    assert {job[:8] for job in jobs} == {f"{START:%Y%m%d}", f"{jump:%Y%m%d}"}
    shop.wall, ends[0] = START + timedelta(hours=1), False
    shop.start()
    shop.work()
    shop.drop("a.png", b"art a")  # once more, to be known by its earlier film
    shop.wall = jump
    shop.work()
    assert_invariants(shop.root, [b"art a", b"art b", b"art a"])
    records = [json.loads(path.read_bytes()) for path in (shop.root / "records").iterdir()]
    for record in records:
        datetime.strptime(record["at"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    ledger = shop.queue.context.ledger
    made = {record["job"] for record in records}
    assert {one.job for one in ledger.history(outcome="made")} == made and len(made) == 3
    assert ledger.counts()["made"] == 3


def test_ids_of_one_moment_differ_in_1970_too() -> None:
    moment = datetime(1970, 1, 1, tzinfo=UTC)
    made = {new_id(moment) for _ in range(1000)}
    assert len(made) == 1000 and all(map(is_job_id, made))
    assert {one[:16] for one in made} == {"19700101T000000-"}


# Where the time of day is told to people, or compared with a file's: never waited by.
TELLS_THE_TIME = {
    "cli/held_commands.py", "cli/make.py", "cli/options.py", "cli/press/calibrate.py",
    "cli/print_commands.py",
    "jobs/context.py", "notify/notifier.py", "pipeline/readings/kept_reading.py",
    "service/doctor/folder_probe.py", "service/heartbeat.py", "service/history.py",
    "service/station.py", "service/status.py",
}  # fmt: skip


def test_nothing_else_looks_at_the_wall_clock() -> None:
    """All that waits or compares has a steady clock as a parameter."""
    import filmhand

    top = Path(filmhand.__file__).parent
    found = set()
    for path in top.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Attribute) and ast.unparse(node) in {
                "datetime.now", "datetime.utcnow", "datetime.today", "date.today", "time.time",
                "time.time_ns", "time.localtime", "time.gmtime",
            }:  # fmt: skip
                found.add(str(path.relative_to(top)))
    assert found == TELLS_THE_TIME


def test_the_computers_clock_jumps_by_days(shop: Shop, tmp_path: Path) -> None:
    """A day on, two back, three on: all is made, nothing is tidied away or taken over."""
    shop.profile("small", PROFILE + "keep: {films: 12 h, proofs: 12 h}\ntakeover: 30 min\n")
    clock = tmp_path / "clock"
    service = shop.serve(WALL_CLOCK=str(clock))
    peer = shop.root() / ".filmhand" / "other-00000001"
    (peer / "job").mkdir(parents=True)
    (peer / "alive").write_text("a sign of life of another computer")
    contents = []
    for number, days in enumerate([0, 1, -1, 2]):
        clock.write_text(str(days * DAY))
        contents.append(b"art %d" % number)
        shop.drop(f"{number}.png", contents[-1])
        wait_until(lambda: len(shop.said("made")) == len(contents))
    time.sleep(1)
    assert stop(service) == 0
    days = {line["timestamp"][:10] for line in shop.said("made")}
    assert len(days) == 4  # the clock did jump
    assert not shop.said("took over")
    assert not shop.said("tidied away")
    (peer / "alive").unlink()
    (peer / "job").rmdir()
    peer.rmdir()
    assert_invariants(shop.root(), contents)


def test_files_from_the_future_and_the_past_settle_like_any_other(shop: Shop) -> None:
    """The clock of a share, or of whoever dropped the file, tells nothing about rest."""
    service = shop.serve()
    contents = []
    for number, ahead in enumerate([3600, -3600, 50 * 365 * DAY, -50 * 365 * DAY]):
        contents.append(b"art %d" % number)
        shop.drop(f"{number}.png", contents[-1])
        then = time.time() + ahead
        os.utime(shop.root() / "drop" / f"{number}.png", (then, then))
    wait_until(lambda: all(shop.made(f"{number}.png") for number in range(4)))
    assert stop(service) == 0
    assert_invariants(shop.root(), contents)


def test_a_file_that_is_still_written_under_a_time_of_the_past_is_waited_for(shop: Shop) -> None:
    """A copy that restores the file's old time after each part is not at rest."""
    service = shop.serve()
    path = shop.root() / "drop" / "slow.png"
    until = time.monotonic() + 2
    data = b"art"
    while time.monotonic() < until:
        data += b" more"
        path.write_bytes(data)
        os.utime(path, (1_000_000_000, 1_000_000_000))
        time.sleep(0.08)
        assert path.exists()
    wait_until(lambda: shop.made("slow.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [data])

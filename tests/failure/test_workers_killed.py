"""A worker that is ended by a person, or for want of memory, is no fault of the art."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import job_harness

from filmhand.profile.ticket.gang import GangWishes
from filmhand.request import GangResult, JobRequest, JobResult
from filmhand.worker.parent import WorkerKilled


class Killed:
    """A renderer whose worker is killed so many times over one art."""

    def __init__(self, name: str, times: int) -> None:
        self.left = Counter({name: times})

    def __call__(self, order: JobRequest) -> JobResult:
        self.left[order.name] -= 1
        if self.left[order.name] >= 0:
            raise WorkerKilled("SIGKILL")
        return job_harness.render(order)


def work(queue: Any) -> None:
    queue.look()
    while (task := queue.take()) is not None:
        queue.do(task)
    queue.look()


def test_it_is_tried_again_later_without_a_strike_and_holds_up_nobody(tmp_path: Path) -> None:
    now, said = [0.0], []
    root = tmp_path / "small"
    queue = job_harness.make_queue(
        root,
        tmp_path / "state",
        render=Killed("a.png", 5),
        clock=lambda: now[0],
        say=lambda event, **facts: said.append((event, facts)),
    )
    queue.look()
    for name in ("a.png", "b.png", "c.png"):
        (root / "drop" / name).write_bytes(b"art " + name.encode())
    for _ in range(3):
        work(queue)
        now[0] += 0.2
    assert {path.name for path in (root / "originals").iterdir()} == {"b.png", "c.png"}
    assert not queue.trouble.why  # the profile does not pause
    (waits,) = [one for one in queue.status()["waiting"] if one["name"] == "a.png"]
    assert (
        "ended from outside (SIGKILL)" in waits["why"]
        and "(tried once, again within a minute)" in waits["why"]
    )
    assert not queue.idle()
    for tries in range(2, 6):
        now[0] += 300
        work(queue)
        assert f"tried {tries} times" in queue.status()["waiting"][0]["why"]
    now[0] += 300
    work(queue)
    now[0] += 1
    work(queue)
    assert (root / "originals" / "a.png").read_bytes() == b"art a.png"
    assert queue.idle() and queue.status()["waiting"] == []
    (made,) = [facts for event, facts in said if event == "made" and facts["name"] == "a.png"]
    assert made["strikes"] == 0
    assert [event for event, _ in said].count("worker ended from outside") == 5


def test_a_gang_parts_and_nobody_has_a_strike(tmp_path: Path) -> None:
    root = tmp_path / "small"

    def killed(orders: list[JobRequest]) -> GangResult:
        raise WorkerKilled("SIGKILL")

    said = []
    queue = job_harness.make_queue(
        root, tmp_path / "state", render_gang=killed, gang=GangWishes(0.1),
        say=lambda event, **facts: said.append((event, facts)),
    )  # fmt: skip
    queue.look()
    for name in ("a.png", "b.png"):
        (root / "drop" / name).write_bytes(b"art " + name.encode())
    job_harness.work_through(queue)
    assert {path.name for path in (root / "originals").iterdir()} == {"a.png", "b.png"}
    assert [facts["strikes"] for event, facts in said if event == "made"] == [0, 0]

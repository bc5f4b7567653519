"""Trouble that lasts is said once, not twice a second: a year's log must fit."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))

from filmhand.disk.free_space import LOW, Space


def looks(tmp_path: Path, seconds: int, **options: Any) -> list[str]:
    from job_harness import make_queue

    now, said = [0.0], []
    queue = make_queue(
        tmp_path / "small",
        tmp_path / "state",
        clock=lambda: now[0],
        say=lambda event, **facts: said.append(event),
        **options,
    )
    for _ in range(2 * seconds):
        queue.look()
        now[0] += 0.5
    return said


def test_a_share_that_is_away_for_hours(tmp_path: Path) -> None:
    assert looks(tmp_path, 3 * 3600, elsewhere=True) == ["paused"]


def test_a_folder_that_hangs_is_said_once(tmp_path: Path) -> None:
    from job_harness import make_queue

    said: list[str] = []
    queue = make_queue(
        tmp_path / "small", tmp_path / "state", say=lambda event, **facts: said.append(event)
    )
    for seconds in range(30, 3600):
        queue.trouble.hangs(queue.context.folders.root, seconds)
    assert queue.take() is None
    assert queue.status()["state"] == "unreachable"
    assert "3599 s" in queue.status()["paused"]
    queue.trouble.answers()
    queue.trouble.answers()
    assert said == ["unreachable", "answers again"]
    assert queue.status()["state"] == "working"


def test_a_disk_that_is_nearly_full_for_an_hour(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("filmhand.disk.free_space.space_of", lambda _: Space(LOW // 2, 100 * LOW))
    assert looks(tmp_path, 3600) == ["low on space"]


def test_a_fault_of_filmhand_itself_stops_the_queue_for_a_while(tmp_path: Path) -> None:
    from job_harness import make_queue

    queue = make_queue(tmp_path / "small", tmp_path / "state")
    queue.stop_for_bug()
    assert queue.take() is None
    told = queue.status()
    assert (told["state"], told["paused"]) == (
        "paused",
        "Filmhand itself failed; its log tells how. It tries again.",
    )

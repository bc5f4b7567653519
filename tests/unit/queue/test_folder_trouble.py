from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from filmhand.errors import EnvironmentTrouble
from filmhand.timing.log_rate_limit import FIRST_GAP, LONGEST_GAP, LogRateLimit

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))


class Bank:
    """A limit with a clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 0.0
        self.limit = LogRateLimit(lambda: self.now)

    def come_and_go(self, every: float, seconds: float) -> list[tuple[float, int]]:
        """Trouble for half of each period; when it was said, and how many times it had come."""
        said = []
        until = self.now + seconds
        while self.now < until:
            times = self.limit.comes("gone")
            if times:
                said.append((self.now, times))
            self.now += every / 2
            went = self.limit.goes()
            assert went == bool(times)  # its end is said if its beginning was
            self.now += every / 2
        return said


def test_the_first_time_is_said_at_once_and_the_rest_is_counted() -> None:
    said = Bank().come_and_go(every=10, seconds=1000)
    assert [when for when, _ in said] == [0, 60, 180, 420, 900]
    assert [times for _, times in said] == [1, 6, 12, 24, 48]


def test_a_month_of_coming_and_going_is_some_hundred_lines() -> None:
    month = 30 * 86400
    said = Bank().come_and_go(every=60, seconds=month)
    assert len(said) <= month / LONGEST_GAP + 7
    assert sum(times for _, times in said) > 0.99 * month / 60  # none goes uncounted


def test_what_stays_is_said_once_and_its_end_too() -> None:
    bank = Bank()
    assert [bank.limit.comes("gone") for _ in range(5)] == [1, 0, 0, 0, 0]
    bank.now = 10 * LONGEST_GAP
    assert bank.limit.comes("gone") == 0
    assert bank.limit.goes()
    assert not bank.limit.goes()


def test_what_came_unsaid_and_stays_is_said_after_all() -> None:
    bank = Bank()
    assert bank.limit.comes("gone") == 1
    assert bank.limit.goes()
    bank.now = 5
    assert bank.limit.comes("gone") == 0
    bank.now = FIRST_GAP
    assert bank.limit.comes("gone") == 1
    assert bank.limit.goes()


def test_after_a_long_rest_it_is_new() -> None:
    bank = Bank()
    bank.come_and_go(every=10, seconds=5000)
    bank.now += 3 * LONGEST_GAP
    assert bank.come_and_go(every=10, seconds=61)[0] == (bank.now - 70, 1)


def test_a_rest_of_less_than_two_gaps_is_not_long() -> None:
    bank = Bank()
    bank.come_and_go(
        every=10, seconds=65
    )  # said at 0 and at 60, so the next gap is 120 s and then 240
    bank.now = 60 + 1.5 * 240
    assert bank.limit.comes("gone") > 0  # its gap is over, but what is next is not said for long
    assert bank.limit.goes()
    bank.now += 2 * FIRST_GAP
    assert bank.limit.comes("gone") == 0


def test_another_trouble_is_said_though_the_first_is_there() -> None:
    bank = Bank()
    assert (bank.limit.comes("gone"), bank.limit.comes("full")) == (1, 1)
    assert bank.limit.goes()


def test_kinds_are_not_kept_for_ever() -> None:
    bank = Bank()
    for number in range(1000):
        bank.limit.comes(number)
    assert len(bank.limit._past) <= 100


def test_a_share_that_comes_and_goes_for_hours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every half minute the folder is away for a while; the queue goes on each time."""
    from job_harness import make_queue

    now, said, away = [0.0], [], [False]
    queue = make_queue(
        tmp_path / "small",
        tmp_path / "state",
        clock=lambda: now[0],
        say=lambda event, **facts: said.append((event, facts.get("times"))),
    )
    ensure = type(queue.context.folders).ensure

    def sometimes(self: Any, *, there: bool) -> None:
        if away[0]:
            raise EnvironmentTrouble("away")
        ensure(self, there=there)

    monkeypatch.setattr(type(queue.context.folders), "ensure", sometimes)
    limit = 0
    while now[0] < 2 * 3600:
        away[0] = not away[0]
        limit += away[0]
        queue.look()
        assert bool(queue.trouble.pause.why) == away[0]
        now[0] += 15
    paused = [times or 1 for event, times in said if event == "paused"]
    assert len(paused) < 10
    assert sum(paused) > limit - 3600 / 30 - 1
    assert [event for event, _ in said].count("goes on") == len(paused)

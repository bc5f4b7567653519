"""A process that is started before its job is known."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from filmhand.worker import ahead, process


@pytest.fixture(autouse=True)
def none_is_left() -> Iterator[None]:
    yield
    assert ahead.take_waiting() is None


def test_whoever_has_a_job_takes_the_process_that_waits() -> None:
    ahead.start_ahead()
    taken = ahead.take_waiting()
    assert taken is not None
    with taken:
        assert taken.poll() is None
        assert ahead.take_waiting() is None
        ahead.end_waiting()
        assert taken.poll() is None  # it is none of ours any more
        taken.kill_group()


def test_one_that_nobody_took_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[process.FreshProcess] = []

    def start(folder: str) -> process.FreshProcess:
        started.append(process.fresh_process(folder))
        return started[-1]

    monkeypatch.setattr(ahead, "fresh_process", start)
    ahead.start_ahead()
    ahead.end_waiting()
    assert started[0].returncode == -9
    ahead.end_waiting()


def test_where_none_can_be_started_none_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_more(folder: str) -> process.FreshProcess:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(ahead, "fresh_process", no_more)
    ahead.start_ahead()

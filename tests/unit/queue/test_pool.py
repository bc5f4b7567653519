"""Which queue is served next, by how many threads, and who stands in for those that hang."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.jobs.recover import Outcome
from filmhand.queue import pool as module
from filmhand.queue.pool import WorkerPool, WorkerPools


def wait_until(true: Callable[[], object]) -> None:
    until = time.monotonic() + 120
    while not true():
        assert time.monotonic() < until
        time.sleep(0.005)


class Queue:
    """A queue with so many tasks; each is in hand until :meth:`end` lets it go."""

    def __init__(self, name: str, tasks: int = 0, workers: str | None = None) -> None:
        self.name = name
        self.settings = SimpleNamespace(workers=workers)
        self.left = tasks
        self.asked = 0
        self.in_hand = 0
        self.lock = threading.Lock()
        self.free = threading.Semaphore(0)

    def take(self) -> str | None:
        with self.lock:
            self.asked += 1
            if self.left <= 0:
                return None
            self.left -= 1
            return f"task of {self.name}"

    def do(self, task: str) -> Outcome:
        assert task == f"task of {self.name}"
        with self.lock:
            self.in_hand += 1  # only here, when the pool has it in its books
        self.free.acquire(timeout=600)
        with self.lock:
            self.in_hand -= 1
        return Outcome.MADE

    def end(self, count: int = 1) -> None:
        for _ in range(count):
            self.free.release()


class Bank:
    def __init__(self, size: int, *queues: Queue) -> None:
        self.size, self.queues = size, list(queues)
        self.done: list[tuple[str, Outcome | None]] = []
        before = set(threading.enumerate())
        self.pool = WorkerPool(lambda: self.queues, lambda: self.size, self._done)  # type: ignore
        self.threads = [one for one in threading.enumerate() if one not in before]

    def _done(self, queue: Any, outcome: Outcome | None) -> None:
        self.done.append((queue.name, outcome))

    def in_hand(self) -> dict[str, int]:
        return {queue.name: queue.in_hand for queue in self.queues}

    def count(self) -> int:
        return len(self.pool._threads)


Start = Callable[..., Bank]


@pytest.fixture
def start(monkeypatch: pytest.MonkeyPatch) -> Iterator[Start]:
    banks: list[Bank] = []
    monkeypatch.setattr(module, "_ANYWAY", 1000.0)

    def make(size: int, *queues: Queue) -> Bank:
        banks.append(Bank(size, *queues))
        return banks[-1]

    yield make
    for bank in banks:
        bank.pool.stop()
        for queue in bank.queues:
            queue.end(100)


def test_so_many_threads_work_and_what_they_did_is_told(start: Start) -> None:
    one = Queue("a", tasks=5)
    bank = start(3, one)
    assert bank.count() == 3
    assert all(thread.daemon and thread.name == "work" for thread in bank.threads)
    wait_until(lambda: one.in_hand == 3)
    one.end(2)
    wait_until(lambda: one.left == 0 and one.in_hand == 3)
    one.end(3)
    wait_until(lambda: len(bank.done) == 5)
    assert set(bank.done) == {("a", Outcome.MADE)}
    assert bank.pool._in_hand == {"a": 0}


def test_the_queue_with_least_in_hand_is_served_and_then_the_one_that_waited_longest(
    start: Start,
) -> None:
    full, small = Queue("full", tasks=100), Queue("small")
    bank = start(4, full, small)
    wait_until(lambda: full.in_hand == 4)
    small.left = 3
    full.end(2)
    wait_until(lambda: bank.in_hand() == {"full": 2, "small": 2})
    third = Queue("third", tasks=1)
    bank.queues.append(third)
    full.end()
    wait_until(lambda: third.in_hand == 1)
    assert bank.in_hand() == {"full": 1, "small": 2, "third": 1}
    bank.queues.clear()


def test_of_equals_the_one_served_longest_ago_is_next(start: Start) -> None:
    queues = [Queue(name, tasks=3) for name in "abc"]
    bank = start(1, *queues)
    order: list[str] = []
    for _ in range(9):
        wait_until(lambda: sum(queue.in_hand for queue in queues) == 1)
        (now,) = (queue for queue in queues if queue.in_hand)
        order.append(now.name)
        now.end()
        wait_until(lambda: len(bank.done) == len(order))
    assert order == list("abcabcabc")


def test_idle_threads_ask_nobody_until_they_are_woken(start: Start) -> None:
    one = Queue("a")
    bank = start(2, one)
    wait_until(lambda: one.asked >= 2)
    time.sleep(0.1)
    asked = one.asked
    time.sleep(0.1)
    assert one.asked == asked
    one.left = 1
    bank.pool.wake()
    wait_until(lambda: one.in_hand == 1)


def test_a_word_that_comes_while_all_are_asked_is_not_lost(start: Start) -> None:
    """Work that comes just after a queue had none, and before the thread waits."""
    one, late = Queue("a"), threading.Event()
    take = one.take

    def just_before() -> str | None:
        task = take()
        if not late.is_set():
            late.set()
            one.left = 1
            bank.pool.wake()
        return task

    bank = start(1, one)
    wait_until(lambda: one.asked)
    one.take = just_before  # type: ignore[method-assign]
    bank.pool.wake()
    wait_until(lambda: one.in_hand == 1)


def test_whoever_was_not_woken_looks_anyway(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_ANYWAY", 0.02)
    one = Queue("a")
    start(1, one)
    wait_until(lambda: one.asked)
    one.left = 1
    wait_until(lambda: one.in_hand == 1)


def test_threads_that_hang_are_replaced_until_they_come_back(start: Start) -> None:
    dead, well = Queue("dead", tasks=2), Queue("well")
    bank = start(2, dead, well)
    wait_until(lambda: dead.in_hand == 2)
    well.left = 9
    bank.pool.without({"dead"})
    assert bank.count() == 4
    wait_until(lambda: well.in_hand == 2)
    bank.pool.without({"dead"})
    assert bank.count() == 4
    dead.end(2)  # it answers again
    bank.pool.without(set())
    well.end(9)
    wait_until(lambda: bank.count() == 2)
    assert bank.pool.busy()


def test_the_size_may_change(start: Start) -> None:
    one = Queue("a", tasks=9)
    bank = start(1, one)
    wait_until(lambda: one.in_hand == 1)
    bank.size = 3
    bank.pool.without(set())
    wait_until(lambda: one.in_hand == 3)
    bank.size = 1
    one.end(9)
    bank.pool.wake()
    wait_until(lambda: bank.count() == 1)


def test_a_pool_that_stops_ends_what_is_in_hand_and_takes_nothing_more(start: Start) -> None:
    one, dead = Queue("a", tasks=1), Queue("dead", tasks=1)
    bank = start(3, one, dead)
    wait_until(lambda: bank.in_hand() == {"a": 1, "dead": 1})
    bank.pool.stop()
    one.left = 5
    bank.pool.without({"dead"})
    assert bank.count() <= 3  # nobody is put in place of it now
    wait_until(lambda: bank.count() == 2)
    assert bank.pool.busy()
    one.end()
    wait_until(lambda: not bank.pool.busy())  # whoever hangs does not count
    assert (one.left, bank.done) == (5, [("a", Outcome.MADE)])
    assert bank.count() == 1


# --- several pools ------------------------------------------------------------------------------


def test_each_cluster_has_a_pool_of_its_own() -> None:
    here, away = Queue("here", tasks=9), Queue("away", tasks=9, workers="dask://a:1")
    queues, asked = [here], []
    done: list[str] = []

    def engine(address: str | None) -> Any:
        asked.append(address)
        return SimpleNamespace(room=lambda: 1 if address is None else 3)

    pools = WorkerPools(
        lambda: queues,  # type: ignore[arg-type, return-value]
        engine,
        lambda queue, outcome: done.append(queue.name),
    )
    assert asked == [None]  # its pool begins with it
    wait_until(lambda: here.in_hand == 1)
    queues.append(away)
    pools.wake()
    wait_until(lambda: away.in_hand == 3)
    assert asked == [None, "dask://a:1"]
    assert here.in_hand == 1
    pools.without({"away"})
    wait_until(lambda: away.in_hand == 6)
    assert here.in_hand == 1
    pools.stop()
    late = Queue("late", tasks=1, workers="dask://b:2")
    queues.append(late)
    pools.wake()
    assert late.in_hand == 0 and len(asked) == 2
    assert pools.busy()
    here.end(9)
    away.end(9)
    pools.without(set())
    wait_until(lambda: not pools.busy())
    assert sorted(done) == ["away"] * 6 + ["here"]

"""When a folder is looked at next, and by whom, on a clock that the test moves."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.queue.lookers import Lookers, WatchedFolder


class Queue:
    """A queue whose look takes so long, and which is then as the test says."""

    def __init__(self, name: str, clock: list[float], **state: Any) -> None:
        self.name = name
        self.clock = clock
        self.takes = 0.0
        self.error: Exception | None = None
        self.looks: list[float] = []
        self.answered = 0
        self.stopped: list[str] = []
        self.said: list[str] = []
        self.network = state.get("network", False)
        self.settle = state.get("settle", 2.0)
        self.is_idle = state.get("idle", True)
        self.is_settling = state.get("settles", True)
        self.work = state.get("work", False)
        self.to_watch = ["drop"]
        self.trouble = SimpleNamespace(
            pause=SimpleNamespace(left=lambda: state.get("left", 0.0)),
            why=state.get("why", ""),
            answers=self._answers,
        )
        self.housekeeping = SimpleNamespace(refilling=state.get("refilling", False))
        self.context = SimpleNamespace(say=lambda event, **facts: self.said.append(event))

    def _answers(self) -> None:
        self.answered += 1

    def look(self) -> None:
        self.looks.append(self.clock[0])
        self.clock[0] += self.takes
        if self.error is not None:
            raise self.error

    def idle(self) -> bool:
        return bool(self.is_idle)

    def settles(self) -> bool:
        return bool(self.is_settling)

    def has_work(self) -> bool:
        return bool(self.work)

    def stop_for_bug(self) -> None:
        self.stopped.append("Filmhand itself failed")


class Watch:
    def __init__(self, *, heard: bool = True) -> None:
        self.heard = heard
        self.kept: list[tuple[str, list[str]]] = []
        self.gone: list[str] = []

    def keep(self, owner: str, folders: list[str], hint: Callable[[], None]) -> bool:
        self.kept.append((owner, folders))
        hint()
        return self.heard

    def let_go(self, owner: str) -> None:
        self.gone.append(owner)

    def close(self) -> None:
        pass


@pytest.fixture
def clock() -> list[float]:
    return [1000.0]


# --- how often ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "heard", "wait"),
    [
        ({}, True, 15.0),
        ({}, False, 0.5),
        ({"idle": False}, True, 0.5),
        ({"idle": False, "settle": 0.6}, True, 0.3),  # often enough to see it come to rest
        ({"idle": False, "settle": 0.05}, True, 0.05),  # but never without a rest
        ({"idle": False, "settle": 0.05, "settles": False}, True, 0.5),  # it is worked off
        ({"network": True}, True, 10.0),
        ({"network": True, "idle": False}, True, 10.0),
        ({"refilling": True}, True, 0.1),
        ({"refilling": True, "network": True}, True, 1.0),
        ({"refilling": True, "why": "away", "network": True}, True, 10.0),
        ({"left": 7.0, "network": True}, True, 7.0),
        ({"left": 300.0}, True, 15.0),  # a look gives the sign of life as well
    ],
)
def test_how_soon_a_folder_is_looked_at_again(
    clock: list[float], state: dict[str, Any], wait: float, *, heard: bool
) -> None:
    queue: Any = Queue("a", clock, **state)
    folder = WatchedFolder(queue, lambda: clock[0])
    hints: list[bool] = []
    watch: Any = Watch(heard=heard)
    folder.look(watch, lambda: hints.append(True))
    assert folder.due - 1000 == pytest.approx(wait)
    assert (watch.kept, hints) == ([("a", ["drop"])], [True])
    assert queue.answered == 1
    assert folder.looked_at == 1000


@pytest.mark.parametrize(
    ("takes", "rests"), [(0.0, 0.05), (0.0125, 0.05), (0.5, 2.0), (2.5, 10.0), (60.0, 10.0)]
)
def test_a_long_look_is_followed_by_four_times_as_long_a_rest(
    clock: list[float], takes: float, rests: float
) -> None:
    queue: Any = Queue("a", clock, idle=False)
    queue.takes = takes
    folder = WatchedFolder(queue, lambda: clock[0])
    folder.look(Watch(), lambda: None)  # type: ignore[arg-type]
    assert folder.looked_at == 1000 + takes
    assert folder.rests_until - folder.looked_at == pytest.approx(rests)
    assert folder.due == pytest.approx(max(folder.rests_until, folder.looked_at + 0.5))


def test_a_look_that_fails_is_said_and_the_queue_waits(clock: list[float]) -> None:
    queue: Any = Queue("a", clock)
    queue.error = ZeroDivisionError("a bug")
    folder = WatchedFolder(queue, lambda: clock[0])
    folder.look(Watch(), lambda: None)  # type: ignore[arg-type]
    assert queue.said == ["looking failed"]
    assert len(queue.stopped) == 1 and "itself failed" in queue.stopped[0]
    assert queue.answered == 1


def test_a_look_hangs_after_half_a_minute(clock: list[float]) -> None:
    folder = WatchedFolder(Queue("a", clock), lambda: clock[0])  # type: ignore[arg-type]
    assert (folder.looks_for(), folder.hangs_for()) == (0, 0)
    folder.looking_since = 1000.0
    for now, hangs in ((1029.9, 0), (1030.0, 30.0), (1100.0, 100.0)):
        clock[0] = now
        assert folder.looks_for() == pytest.approx(now - 1000)
        assert folder.hangs_for() == pytest.approx(hangs)


# --- the schedule -------------------------------------------------------------------------------


class Bank:
    """Lookers whose threads have ended: the test hands out and looks in their place."""

    def __init__(self, clock: list[float], *queues: Queue) -> None:
        self.ready: list[str] = []
        self.started = 0
        looks: Any = Lookers(lambda queue: self.ready.append(queue.name), lambda: clock[0])
        looks.stop()
        looks.join(120)
        looks._stopped = False
        looks.watch = self.watch = Watch()
        looks._start = self._start
        self.looks = looks
        self.folders = [looks.add(queue) for queue in queues]

    def _start(self) -> None:
        self.started += 1
        self.looks._threads.add(threading.Thread())

    def hand_out(self, now: float) -> float:
        self.looks._clock = lambda: now
        with self.looks._changed:
            wait: float = self.looks._hand_out(now)
        return wait

    def due(self) -> list[str]:
        return [folder.queue.name for folder in self.looks._due]


def test_what_is_due_is_handed_on_once_and_the_wait_is_to_the_next(clock: list[float]) -> None:
    bank = Bank(clock, *(Queue(name, clock) for name in "abc"))
    a, b, c = bank.folders
    a.due, b.due, c.due = 1000.0, 1000.1, 1005.0
    assert bank.hand_out(1000.0) == pytest.approx(0.1)
    assert bank.due() == ["a"]
    assert bank.hand_out(1000.05) == pytest.approx(0.05)
    assert bank.due() == ["a"]
    assert bank.hand_out(1000.08) == 0.03  # together with the next
    assert bank.hand_out(1000.1) == pytest.approx(0.4)  # when another thread would help
    assert bank.due() == ["a", "b"]
    bank.looks._due.clear()
    assert bank.hand_out(1001.0) == pytest.approx(4.0)
    assert Bank(clock).hand_out(1000.0) == 3600.0


def test_two_threads_look_and_one_more_for_each_look_that_is_held_up(clock: list[float]) -> None:
    bank = Bank(clock, *(Queue(name, clock) for name in "abcdef"))
    for folder in bank.folders:
        folder.due = 1000.0
    for _ in range(4):
        bank.hand_out(1000.0)
    assert bank.started == 2
    bank.folders[0].looking_since = 1000.0
    bank.folders[1].looking_since = 1000.5
    clock[0] = 1000.99
    for now, started in ((1000.99, 2), (1001.0, 3), (1001.5, 4)):
        clock[0] = now
        for _ in range(3):
            bank.hand_out(now)
        assert bank.started == started
    bank.looks._due.clear()
    bank.looks._threads.clear()
    bank.hand_out(1002.0)
    assert bank.started == 4  # nothing is due


def test_a_wake_makes_it_due_but_not_before_it_has_rested(clock: list[float]) -> None:
    bank = Bank(clock, Queue("a", clock))
    (folder,) = bank.folders
    for due, rests, now, wanted in (
        (1010.0, 1005.0, 1000.0, 1005.0),
        (1010.0, 990.0, 1000.0, 1000.0),
        (1002.0, 1005.0, 1000.0, 1002.0),
    ):
        folder.due, folder.rests_until, folder.hinted = due, rests, False
        bank.looks._clock = lambda now=now: now
        bank.looks.wake(folder)
        assert (folder.due, folder.hinted) == (wanted, True)


def test_a_folder_that_is_removed_is_not_looked_at(clock: list[float]) -> None:
    bank = Bank(clock, Queue("a", clock), Queue("b", clock))
    a, b = bank.folders
    bank.hand_out(1000.0)
    assert bank.due() == ["a", "b"]
    bank.looks.remove(a)
    assert bank.due() == ["b"]
    assert bank.watch.gone == ["a"]
    bank.looks._due.clear()
    bank.looks.remove(b)
    assert bank.hand_out(2000.0) == 3600.0


# --- with threads -------------------------------------------------------------------------------


@pytest.fixture
def lookers() -> Iterator[tuple[Lookers, list[str]]]:
    ready: list[str] = []
    one = Lookers(lambda queue: ready.append(queue.name))
    yield one, ready
    one.stop()
    one.join(120)


def wait_until(true: Callable[[], object]) -> None:
    until = time.monotonic() + 120
    while not true():
        assert time.monotonic() < until
        time.sleep(0.005)


def test_folders_are_looked_at_at_once_and_their_work_is_told(
    lookers: tuple[Lookers, list[str]],
) -> None:
    looks, ready = lookers
    clock = [0.0]
    busy, idle = Queue("busy", clock, work=True, idle=False), Queue("idle", clock)
    for queue in (busy, idle):
        queue.network = True  # looked at by itself every ten seconds only
        queue.to_watch = []
    folders = [looks.add(queue) for queue in (busy, idle)]  # type: ignore[arg-type]
    wait_until(lambda: busy.looks and idle.looks and ready)
    wait_until(lambda: not any(folder.in_hand for folder in folders))
    assert set(ready) == {"busy"}
    count = len(busy.looks)
    looks.wake(folders[0])
    wait_until(lambda: len(busy.looks) > count)
    looks.remove(folders[1])
    names = {thread.name for thread in threading.enumerate()}
    assert {"schedule", "look"} <= names


def test_a_hint_during_a_look_is_followed_by_another(lookers: tuple[Lookers, list[str]]) -> None:
    looks, _ = lookers
    begun, free = threading.Event(), threading.Event()
    queue = Queue("a", [0.0], network=True)
    queue.to_watch = []
    look = queue.look

    def slowly() -> None:
        look()
        begun.set()
        free.wait(600)

    queue.look = slowly  # type: ignore[method-assign]
    folder = looks.add(queue)  # type: ignore[arg-type]
    assert begun.wait(120)
    assert folder.in_hand and folder.looking_since is not None
    looks.wake(folder)
    free.set()
    wait_until(lambda: len(queue.looks) == 2)
    wait_until(lambda: folder.looking_since is None)


def test_a_folder_that_is_removed_during_its_look_is_watched_no_more(
    lookers: tuple[Lookers, list[str]],
) -> None:
    looks, ready = lookers
    begun, free = threading.Event(), threading.Event()
    queue = Queue("a", [0.0], work=True)
    gone: list[str] = []
    let_go = looks.watch.let_go
    looks.watch.let_go = lambda owner: (gone.append(owner), let_go(owner))[1]  # type: ignore
    look = queue.look

    def slowly() -> None:
        look()
        begun.set()
        free.wait(600)

    queue.look = slowly  # type: ignore[method-assign]
    folder = looks.add(queue)  # type: ignore[arg-type]
    assert begun.wait(120)
    looks.remove(folder)
    free.set()
    wait_until(lambda: gone == ["a", "a"])
    assert ready == []

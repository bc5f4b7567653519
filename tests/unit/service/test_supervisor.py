"""The main loop on a clock that the test moves: when it tells, waits, reads again and ends."""

from __future__ import annotations

import json
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.disk.folders import Folders
from filmhand.errors import Reason, Refused
from filmhand.jobs.recover import Outcome
from filmhand.request import JobResult
from filmhand.service import supervisor as module
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.station_mark import StationMark
from filmhand.service.supervisor import Supervisor


class Trouble(SimpleNamespace):
    why = ""
    hanging = False


class Queue:
    """A queue that is as the test says."""

    def __init__(self, name: str, *, idle: bool = True, work: bool = False, why: str = "") -> None:
        self.name = name
        self.settings = SimpleNamespace(printing=None)
        self.trouble = Trouble(why=why)
        self._idle, self._work = idle, work
        self.closed = 0

    def idle(self) -> bool:
        return self._idle

    def has_work(self) -> bool:
        return self._work

    def close(self) -> None:
        self.closed += 1


class Profiles:
    """Queues as the test says, and what was asked of them."""

    def __init__(self, *queues: Queue) -> None:
        self.all = list(queues)
        self.asked: list[Any] = []
        self.rests = False
        self.read = False
        self.faults: list[str] = []

    def queues(self) -> list[Queue]:
        return self.all

    def wishes(self) -> dict[str, Any]:
        return {}

    def at_rest(self) -> bool:
        return self.rests

    def start_reading(self, *, asked: bool) -> bool:
        self.asked.append(("read", asked))
        return True

    def take_what_was_read(self) -> bool:
        taken, self.read = self.read, False
        return taken

    def watched(self) -> list[Any]:
        return [SimpleNamespace(queue=queue, looked_at=7.0) for queue in self.all]

    def troubles(self) -> list[str]:
        return ["a profile is not right"]

    def roots(self) -> dict[str, Path]:
        return {}

    def mark_hanging(self) -> None:
        self.asked.append("mark")

    def wake(self, name: str) -> None:
        self.asked.append(("wake", name))

    def stop(self) -> None:
        self.asked.append("stop")

    def join(self, timeout: float) -> None:
        self.asked.append(("join", timeout))


class Pools:
    """Threads that are busy for so many questions."""

    def __init__(self, busy: int = 0) -> None:
        self.left = busy
        self.lost: list[set[str]] = []
        self.asked: list[str] = []

    def busy(self) -> bool:
        self.left -= 1
        return self.left >= 0

    def without(self, names: set[str]) -> None:
        self.lost.append(names)

    def stop(self) -> None:
        self.asked.append("stop")

    def wake(self) -> None:
        self.asked.append("wake")


class Manager:
    def __init__(self) -> None:
        self.words: list[str] = []

    def __getattr__(self, word: str) -> Callable[..., None]:
        return lambda *given: self.words.append(" ".join([word, *given]))


class Run:
    """A supervisor with queues, pools and a manager of the test's, and a clock."""

    def __init__(self, folder: Path, *queues: Queue, **options: Any) -> None:
        self.now = 100.0
        self.station, self.state = folder / "station", folder / "state"
        self.state.mkdir()
        self.mark = StationMark(self.station, self.state)
        self.mark.begin()
        registry = ProfileRegistry(self.station / "profiles", self.station)
        options.setdefault("patient", True)
        self.it = Supervisor(
            self.station, self.state, self.mark, registry, [],
            finished=lambda path: None, render=options.pop("render", None),  # type: ignore
            clock=lambda: self.now, **options,
        )  # fmt: skip
        self.it.profiles.stop()
        self.it.profiles.join(120)
        self.profiles = self.it.profiles = Profiles(*queues)  # type: ignore[assignment]
        self.pools = self.it._pools = Pools()  # type: ignore[assignment]
        self.manager = self.it.manager = Manager()  # type: ignore[assignment]
        self.told: list[float] = []
        self.waits: list[float] = []
        self.quiet: list[float] = []

    def loop(self, rounds: int, each: Callable[[int], object] = lambda number: None) -> None:
        """So many rounds of the loop; what it tells is noted with the time."""
        it: Any = self.it
        it._tell = lambda: self.told.append(self.now)

        def wait(seconds: float) -> None:
            self.waits.append(seconds)
            self.now = round(self.now + seconds, 3)
            each(len(self.waits))
            if len(self.waits) == rounds:
                it._stop_asked = 1

        it._wait = wait
        it._loop()

    def events(self, *names: str) -> list[dict[str, Any]]:
        text = (self.state / "filmhand.log").read_text()
        lines = [json.loads(line) for line in text.splitlines()]
        return [line for line in lines if not names or line["event"] in names]

    def close(self) -> None:
        self.it.ledger.close()
        self.it.log.close()


Start = Callable[..., Run]


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Start]:
    runs: list[Run] = []
    for name in ("WATCHDOG_USEC", "WATCHDOG_PID", "NOTIFY_SOCKET"):
        monkeypatch.delenv(name, raising=False)

    def make(*queues: Queue, **options: Any) -> Run:
        folder = tmp_path / str(len(runs))
        folder.mkdir()
        runs.append(Run(folder, *queues, **options))
        return runs[-1]

    yield make
    for one in runs:
        one.close()


# --- the loop -----------------------------------------------------------------------------------


def test_it_tells_each_second_and_every_five_at_rest(start: Start) -> None:
    run = start()
    run.loop(6)
    assert run.waits == [1.0] * 6
    assert run.told == [100, 101, 102, 103, 104, 105]
    run = start()
    run.profiles.rests = True
    run.loop(12)
    assert run.told == [100, 105, 110]
    assert run.profiles.asked.count("mark") == 3  # whoever hangs is found as often


@pytest.mark.parametrize(
    ("watchdog", "waits", "told"),
    [("1000000", 0.5, [100, 100.5, 101]), ("8000000", 1.0, [100, 104])],
)
def test_under_a_watchdog_it_gives_signs_twice_as_often_as_asked(
    start: Start, monkeypatch: pytest.MonkeyPatch, watchdog: str, waits: float, told: list[float]
) -> None:
    """sd_watchdog_enabled(3) recommends half the time."""
    monkeypatch.setenv("WATCHDOG_USEC", watchdog)
    run = start()
    run.profiles.rests = True
    run.loop(3 if waits < 1 else 5)
    assert set(run.waits) == {waits}
    assert run.told == told


def test_a_wish_to_read_again_is_told_to_the_manager_and_forgotten(start: Start) -> None:
    run = start()

    def each(number: int) -> None:
        if number == 2:
            run.it._ask_to_reload()
        run.profiles.read = number == 4

    run.loop(6, each)
    assert run.profiles.asked == [
        *[("read", False), "mark"] * 2,
        *[("read", True), "mark"],
        *[("read", False), "mark"] * 3,
    ]
    assert run.manager.words == ["reloading", "ready"]


def test_a_wish_stands_while_the_profiles_cannot_be_read(start: Start) -> None:
    run = start()
    run.it._reload_asked = True
    asked: list[bool] = []

    def reading(*, asked: bool, noted: list[bool] = asked) -> bool:
        noted.append(asked)
        return len(noted) == 3

    run.profiles.start_reading = reading  # type: ignore[method-assign]
    run.loop(5)
    assert asked == [True, True, True, False, False]
    assert run.manager.words == ["reloading"]


def test_once_looks_often_and_ends_when_all_is_done(start: Start) -> None:
    run, quiet = start(patient=False), []

    def all_done(seconds: float) -> bool:
        quiet.append(round(seconds, 3))
        return len(quiet) == 7

    run.it._all_done = all_done  # type: ignore[method-assign]
    run.loop(20, lambda number: run.it._done(Queue("a"), Outcome.MADE if number == 3 else None))
    assert run.waits == [0.1] * 6
    assert quiet == [0.0, 0.1, 0.2, 0.0, 0.1, 0.2, 0.3]  # since the last job that ended


@pytest.mark.parametrize(
    ("queues", "quiet", "done"),
    [
        ([], 0, True),
        ([Queue("a"), Queue("b", idle=False, why="full")], 0, True),
        ([Queue("a"), Queue("b", idle=False)], 600, False),
        ([Queue("a"), Queue("b", idle=False)], 600.5, True),  # something never comes to rest
        ([Queue("a", idle=False), Queue("b", idle=False, work=True)], 9999, False),
    ],
)
def test_when_once_has_done_all(
    start: Start, queues: list[Queue], quiet: float, *, done: bool
) -> None:
    assert start(*queues, patient=False).it._all_done(quiet) is done


def test_it_waits_until_woken_and_forgets_that_it_was(start: Start) -> None:
    run = start()
    for _ in range(3):
        run.it._wake()
    began = time.monotonic()
    run.it._wait(600)
    assert time.monotonic() - began < 300
    assert run.it._wakes.empty()
    run.it._wait(0.01)  # nobody wakes it


# --- what it tells ------------------------------------------------------------------------------


def test_what_is_told_to_the_manager_the_monitors_and_the_files(
    start: Start, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    run = start(Queue("a"), Queue("b"), metrics=tmp_path / "m.prom")
    status = {
        "counts": {"working": 2, "waiting": 5},
        "faults": ["Fault."],
        "profiles": [{"name": "a", "paused": None}, {"name": "b", "paused": "full"}],
        "printers": [{"printer": "ipp://p", "why": "off"}, {"printer": "ipp://q", "why": None}],
    }
    monkeypatch.setattr(run.it, "_write_status", lambda *, running: status if running else None)
    monkeypatch.setattr(module, "figures_of", lambda queue: queue.name)
    monkeypatch.setattr(
        module,
        "metrics_text",
        lambda figures, *, printers, reload_failed: f"{figures} {printers} {reload_failed}",
    )
    run.it._tell()
    assert run.manager.words == [
        "status 2 in work, 5 waiting; Fault.; b: full; ipp://p: off",
        "alive",
    ]
    assert (tmp_path / "m.prom").read_text() == "['a', 'b'] [] False"
    sign = json.loads((run.state / "heartbeat.json").read_bytes())
    assert (sign["tick"], sign["looks"]) == (100.0, {"a": 7.0, "b": 7.0})
    run.profiles.faults = ["not right"]
    assert run.it._figures().endswith(" True")


def test_the_status_holds_all_that_is_wrong(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    run, asked = start(), []
    monkeypatch.setattr(module, "status_of", lambda *given, **named: asked.append((given, named)))
    monkeypatch.setattr(run.it.files, "write", asked.append)
    monkeypatch.setattr(run.it.strays, "look", lambda roots: None)
    monkeypatch.setattr(run.it.strays, "found", ["Something strays."])
    monkeypatch.setattr(run.it.space, "worry", lambda: "low")
    run.it._write_status(running=True)
    (station, queues, ledger), named = asked[0]
    assert (station, queues, ledger) == (run.station, [], run.it.ledger)
    assert named == {
        "faults": ["a profile is not right", "Something strays.", "State folder: low"],
        "printers": [],
        "profiles_folder": run.it._profiles_folder,
        "running": True,
    }
    assert asked[1:] == [None]
    run.mark.present = False  # what strays there cannot be told then
    monkeypatch.setattr(run.it.space, "worry", lambda: None)
    run.it._write_status(running=False)
    faults = [run.mark.why, "a profile is not right"]
    assert asked[2][1] == named | {"faults": faults, "running": False}


def test_that_the_station_goes_and_comes_is_said_once_each(start: Start) -> None:
    run = start()
    mark = run.station / ".filmhand" / "station"
    away = mark.with_name("away")
    pointer = run.station / ".filmhand" / f"{run.it.host}.json"
    assert run.it._station_is_there()
    assert json.loads(pointer.read_bytes())["state"] == str(run.state)
    pointer.unlink()
    assert run.it._station_is_there()
    assert not pointer.exists()  # left when the station comes, not at each look
    mark.rename(away)
    for _ in range(2):
        assert not run.it._station_is_there()
    assert not pointer.exists()
    away.rename(mark)
    for _ in range(2):
        assert run.it._station_is_there()
    assert pointer.exists()
    assert [line["event"] for line in run.events()] == [
        "station is not there",
        "station is there again",
    ]


def test_a_station_that_is_away_at_the_start_is_said(start: Start) -> None:
    run = start()
    (run.station / ".filmhand" / "station").unlink()
    assert not run.it._station_is_there()
    assert [line["event"] for line in run.events()] == ["station is not there"]


def test_trouble_of_the_ledger_is_counted_and_thinned_out(start: Start) -> None:
    run, now = start(), [0.0]
    run.it._ledger_lines._clock = lambda: now[0]
    for _ in range(61):
        run.it._say_ledger_trouble("locked")
        now[0] += 1
    first, again = run.events("ledger")
    assert first["why"] == "locked" and "times" not in first
    assert again["times"] == 60
    for _ in range(40):  # after weeks it is still said once a day, not less
        now[0] += 86_400
        run.it._say_ledger_trouble("locked")
    assert len(run.events("ledger")) >= 35


def test_jobs_that_ended_are_counted_and_their_folder_looked_at(start: Start) -> None:
    run = start()
    for outcome in (Outcome.MADE, Outcome.REFUSED, Outcome.MADE, None):
        run.it._done(Queue("a"), outcome)
    assert (run.it.finished_jobs, run.it.refused) == (3, 1)
    assert run.profiles.asked == [("wake", "a")] * 4


def test_threads_in_the_hands_of_what_hangs_are_replaced(start: Start) -> None:
    run = start(Queue("a"), Queue("b"))
    run.profiles.all[1].trouble.hanging = True
    run.it._mind_hanging()
    assert run.profiles.asked == ["mark"]
    assert run.pools.lost == [{"b"}]
    run.it._pools = None
    run.it._mind_hanging()  # before there are any
    run.it._wake_pools()
    run.it._pools = run.pools  # type: ignore[assignment]
    run.it._wake_pools()
    assert run.pools.asked == ["wake"]


def test_the_context_of_a_job(start: Start, tmp_path: Path) -> None:
    run, folders = start(), Folders(tmp_path / "small")

    def films(request: Any) -> JobResult:
        return JobResult()

    context = run.it._context_of(films, "small", folders)
    assert context.folders is folders and context.render is films
    assert (context.host, context.ledger) == (run.it.host, run.it.ledger)
    assert context.scratch == run.state / "scratch"
    assert context.log == run.state / "filmhand.log"
    assert context.room == run.it.rendering.sheet_space
    assert context.render_gang == run.it.rendering.gang
    note = context.why_note("a.png", Refused(Reason.BLANK, "It is bare.", "Draw."))
    assert "for small from this file" in " ".join(note.split())


# --- the end ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("queues", "refused", "stopped", "code", "says"),
    [
        ([Queue("a")], 0, 0, 0, ""),
        ([Queue("a")], 1, 0, 1, ""),
        ([Queue("a", why="full"), Queue("b"), Queue("c", why="gone")], 0, 0, 75,
         "a: full\nc: gone\n"),
        ([Queue("a", why="full")], 1, 0, 1, ""),
        ([Queue("a")], 0, 1, 75, "Stopped before all was done.\n"),
    ],
)  # fmt: skip
def test_the_exit_code_of_once(
    start: Start, capsys: pytest.CaptureFixture[str],
    queues: list[Queue], refused: int, stopped: int, code: int, says: str,
) -> None:  # fmt: skip
    run = start(*queues, patient=False)
    run.it.refused, run.it._stop_asked = refused, stopped
    assert run.it._code() == code
    assert capsys.readouterr().err == says
    run = start(*queues)
    run.it.refused, run.it._stop_asked = refused, 1
    assert run.it._code() == 0  # `serve` was asked to stop


@pytest.mark.parametrize(("asked", "patience", "ends"), [(1, 2.0, False), (2, 0.0, True)])
def test_the_end_in_order(
    start: Start, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    asked: int, patience: float, *, ends: bool,
) -> None:  # fmt: skip
    queues = [Queue("a"), Queue("b", why="gone")]
    run = start(*queues, metrics=tmp_path / "m.prom")
    order: list[str] = []
    monkeypatch.setattr(run.it, "_figures", lambda: "figures")
    monkeypatch.setattr(run.it.rendering.engines, "close", lambda: order.append("engines"))
    monkeypatch.setattr(run.it.files, "finish", lambda seconds: order.append(f"page {seconds}"))
    monkeypatch.setattr(
        run.it, "_write_status", lambda *, running: order.append(f"status {running}")
    )
    run.it.metrics.write(lambda: "before")  # type: ignore[union-attr]
    run.it._stop_asked = asked
    run.it.finished_jobs = 4
    run.pools.left = 3
    waits: list[float] = []
    monkeypatch.setattr(run.it, "_wait", waits.append)
    monkeypatch.setattr(run.it, "_wait_for_pools", lambda seconds: order.append(f"wait {seconds}"))
    run.it._end()
    assert run.pools.asked == ["stop"]
    assert [one for one in run.profiles.asked if one != "mark"] == ["stop", ("join", patience)]
    assert run.it.workers.stopped is ends
    assert waits == ([] if ends else [0.1] * 3)
    assert run.manager.words == ["stopping", *["alive"] * (1 if ends else 3)]
    assert run.profiles.asked.count("mark") == (1 if ends else 3)
    assert order == [*(["wait 5"] if ends else []), "engines", "status False", "page 5.0"]
    assert [queue.closed for queue in queues] == [1, 0]
    assert (tmp_path / "m.prom").read_text() == "figures"
    (stops,) = run.events("stops")
    assert stops["made_or_refused"] == 4
    assert run.it.log._file is None


def test_how_long_is_waited_for_what_was_stopped_at_once(start: Start) -> None:
    run = start()
    run.pools.left = 1000

    def wait(seconds: float) -> None:
        run.waits.append(seconds)
        run.now = round(run.now + seconds, 3)

    run.it._wait = wait  # type: ignore[method-assign]
    run.it._wait_for_pools(5)
    assert run.waits == [0.1] * 50
    run.pools.left = 2
    run.it._wait_for_pools(5)
    assert len(run.waits) == 52
    run.it._pools = None
    run.it._wait_for_pools(5)
    assert len(run.waits) == 52


# --- signals ------------------------------------------------------------------------------------


def test_signals_stop_and_read_again_while_it_runs(start: Start) -> None:
    run = start()
    handled = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
    before = [signal.getsignal(number) for number in handled]
    with run.it._signals():
        os.kill(os.getpid(), signal.SIGHUP)
        assert (run.it._reload_asked, run.it._stop_asked) == (True, 0)
        assert not run.it._wakes.empty()
        run.it._wait(1)
        for count, number in enumerate((signal.SIGTERM, signal.SIGINT), 1):
            os.kill(os.getpid(), number)
            assert run.it._stop_asked == count
            assert not run.it._wakes.empty()
    assert [signal.getsignal(number) for number in handled] == before


def test_in_another_thread_signals_are_left_alone(start: Start) -> None:
    run, seen = start(), []
    before = signal.getsignal(signal.SIGTERM)

    def inside() -> None:
        with run.it._signals():
            seen.append(signal.getsignal(signal.SIGTERM))

    thread = threading.Thread(target=inside)
    thread.start()
    thread.join()
    assert seen == [before]

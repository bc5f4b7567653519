"""Events that do not come: all dropped, a dead thread, a folder deleted and made again.

And what the looks cost that are there in case they do not come.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import pytest
from job_harness import assert_invariants, make_queue
from sharing import SmallDisk, small_disk
from test_service_station import PROFILE, Shop, delete, shop, stop, wait_until

from filmhand.disk.folders import Folders
from filmhand.intake.watch import _OVERFLOW, FolderWatch, _Kernel
from filmhand.queue import pool
from filmhand.queue.job_queue import JobQueue
from filmhand.queue.lookers import LOOKERS, Lookers

__all__ = ["shop", "small_disk"]


def test_all_files_are_found_though_every_event_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The system takes every watch and never tells of anything, as where a queue ran over."""
    monkeypatch.setattr(_Kernel, "events", lambda self: iter(threading.Event().wait, True))
    root = tmp_path / "small"
    queue = make_queue(root, tmp_path / "state")
    team = pool.WorkerPool(lambda: [queue], lambda: 2, lambda queue, outcome: looks.wake(folder))
    looks = Lookers(lambda queue: team.wake())
    folder = looks.add(queue)
    contents = [b"art %d" % number for number in range(200)]
    wait_until((root / "drop").is_dir)
    for number, data in enumerate(contents):
        place = root / "drop" / f"class {number // 40}"
        place.mkdir(exist_ok=True)
        (place / f"{number}.png").write_bytes(data)
    wait_until(lambda: sum(p.is_file() for p in (root / "originals").rglob("*")) == 200, 300)
    wait_until(queue.idle)
    team.stop()
    looks.stop()
    looks.join(120)
    assert_invariants(root, contents)


# --- a watch that works, and one that does not ---------------------------------------------------


@pytest.fixture
def watch() -> Iterator[FolderWatch]:
    one = FolderWatch()
    yield one
    one.close()


class Watched:
    """One folder under watch, and what was heard of it."""

    def __init__(self, watch: FolderWatch, folder: Path, owner: str = "small") -> None:
        self.watch, self.folder, self.owner = watch, folder, owner
        self.heard = threading.Event()

    def keep(self, *inside: str) -> bool:
        folders = [str(self.folder), *(str(self.folder / name) for name in inside)]
        return self.watch.keep(self.owner, folders, self.heard.set)

    def proved(self, *inside: str) -> bool:
        """True once the watching counts as working; the system tells of a knock in its own time."""
        self.keep(*inside)
        until = time.monotonic() + 5
        while not (proved := self.keep(*inside)) and time.monotonic() < until:
            time.sleep(0.02)
        return proved

    def hears(self, name: str = "a.png") -> bool:
        self.heard.clear()
        (self.folder / name).write_bytes(b"")
        return self.heard.wait(120)


def test_a_watch_counts_as_working_only_when_it_has_heard_a_knock(
    watch: FolderWatch, tmp_path: Path
) -> None:
    one = Watched(watch, tmp_path)
    assert not one.keep()
    assert one.proved()
    assert one.hears()
    assert one.proved()  # and all that came before the knock was heard before it
    one.heard.clear()
    assert one.proved()
    assert not one.heard.is_set()  # our own knocks and looks are no news


def test_noise_is_no_news(watch: FolderWatch, tmp_path: Path) -> None:
    one = Watched(watch, tmp_path)
    assert one.proved()
    (tmp_path / "a.png.part").write_bytes(b"a download that goes on")
    assert one.hears("z.png")
    assert one.proved()
    one.heard.clear()
    (tmp_path / "a.png.part").write_bytes(b"and on")
    assert one.proved()
    assert not one.heard.is_set()
    (tmp_path / "a.png.part").rename(tmp_path / "a.png")
    assert one.heard.wait(120)


def test_a_dead_thread_is_replaced(watch: FolderWatch, tmp_path: Path) -> None:
    one = Watched(watch, tmp_path)
    assert one.proved()
    assert watch._kernel is not None and watch._thread is not None
    watch._kernel.end()
    watch._thread.join(120)
    assert not one.keep()
    assert one.proved()
    assert one.hears()


def test_a_folder_made_again_is_watched_again(watch: FolderWatch, tmp_path: Path) -> None:
    one = Watched(watch, tmp_path / "drop")
    one.folder.mkdir()
    assert one.proved()
    one.heard.clear()
    shutil.rmtree(one.folder)
    assert one.heard.wait(120)
    assert not one.keep()
    one.folder.mkdir()
    assert not one.keep()  # the system may well give it the same number on the disk
    assert one.proved()
    assert one.hears()


def test_a_folder_exchanged_for_another_is_not_taken_for_it(
    watch: FolderWatch, tmp_path: Path
) -> None:
    """As when a disk comes to lie over it: no event tells of that, and the old watch lives on."""
    one = Watched(watch, tmp_path / "station" / "drop")
    one.folder.mkdir(parents=True)
    assert one.proved()
    (tmp_path / "station").rename(tmp_path / "old")
    one.folder.mkdir(parents=True)
    assert not one.keep()
    assert one.proved()
    assert one.hears()
    assert one.proved()
    one.heard.clear()
    (tmp_path / "old" / "drop" / "b.png").write_bytes(b"")
    assert one.proved()
    assert not one.heard.is_set()


def test_a_disk_taken_away_and_mounted_again_is_watched_again(
    watch: FolderWatch, small_disk: SmallDisk
) -> None:
    """A watch on a disk that was let go lazily seems alive and hears nothing for ever after."""
    one = Watched(watch, small_disk.folder)
    assert one.proved()
    assert one.hears()
    descriptor = os.open(one.folder, os.O_RDONLY)  # so that the disk itself lives on
    try:
        subprocess.run(["umount", "-l", str(one.folder)], check=True)
        assert not one.keep()
        small_disk.mount("size=1m")
        assert not one.keep()
        assert one.proved()
        assert one.hears("b.png")
    finally:
        os.close(descriptor)


def test_a_sub_folder_made_later_is_watched_and_looked_at_once_more(
    watch: FolderWatch, tmp_path: Path
) -> None:
    one = Watched(watch, tmp_path)
    assert one.proved()
    one.heard.clear()
    (tmp_path / "class 4").mkdir()
    assert one.heard.wait(120)
    assert not one.keep("class 4")  # something may have come into it before it was watched
    assert one.proved("class 4")
    assert one.hears("class 4/a.png")


def test_where_the_system_gives_no_more_watches_nothing_counts_as_working(
    watch: FolderWatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The limit on watches, for one sub-folder only: the others being heard proves nothing."""
    one = Watched(watch, tmp_path)
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    assert one.proved("a", "b")
    add = _Kernel.add
    monkeypatch.setattr(
        _Kernel, "add", lambda self, name: None if name.endswith("b") else add(self, name)
    )
    for _ in range(5):
        time.sleep(0.05)
        assert not one.keep("a", "b")
    assert one.hears("a/1.png")


def test_lost_events_are_taken_for_news_of_every_folder(
    watch: FolderWatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A queue of the system that ran over: it says so once, and of no folder."""
    told: SimpleQueue[tuple[int, int, bytes]] = SimpleQueue()
    monkeypatch.setattr(_Kernel, "events", lambda self: iter(told.get, None))
    both = [Watched(watch, tmp_path, "a"), Watched(watch, tmp_path.parent, "b")]
    for one in both:
        one.keep()
    told.put((-1, _OVERFLOW, b""))
    assert all(one.heard.wait(120) for one in both)


# --- how often fifty folders are looked at -------------------------------------------------------


class Station:
    """Queues whose looks are counted, on a clock that goes on when nobody looks."""

    def __init__(self, place: Path, *, folders: int, **options: Any) -> None:
        self.now = 0.0
        self.looks = Lookers(lambda queue: None, lambda: self.now)
        self.looks.stop()  # its threads wait on the true clock; the test looks in their place
        self.looks.join(120)
        self.count = 0
        for number in range(folders):
            place_of = place / f"p{number}"
            queue = make_queue(place_of, place / "state", clock=lambda: self.now, **options)
            queue.name = f"p{number}"
            queue.context.ledger.close()
            self.looks.add(queue)

    def pass_time(self, seconds: float) -> int:
        """How many looks there were meanwhile."""
        before, until = self.count, self.now + seconds
        while True:
            folder = min(self.looks._folders, key=lambda one: one.due)
            if folder.due > until:
                self.now = until
                return self.count - before
            self.now = max(self.now, folder.due)
            folder.look(self.looks.watch, lambda folder=folder: self.looks.wake(folder))
            self.count += 1


def test_folders_at_rest_are_seldom_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(FolderWatch, "keep", lambda *_: True)
    station = Station(tmp_path, folders=10, settle=2.0)
    station.pass_time(1.0)
    assert station.pass_time(3600.0) == 10 * 240
    (tmp_path / "p7" / "drop" / "a.png").write_bytes(b"art")
    station.looks.wake(station.looks._folders[7])
    assert station.pass_time(0.1) == 1  # at once
    assert station.pass_time(2.4) >= 5  # and then often, until it has come to rest
    assert station.looks._folders[7].queue.has_work()


def test_folders_that_nothing_tells_of_are_looked_at_all_the_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A watch that may be deaf costs looks, never a second's wait."""
    monkeypatch.setattr(FolderWatch, "keep", lambda *_: False)
    station = Station(tmp_path, folders=50)
    station.pass_time(1.0)
    assert station.pass_time(60.0) == 50 * 120


def test_shares_are_looked_at_at_a_steady_pace(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What others do there causes no events, however well it tells of our own knocks."""
    monkeypatch.setattr("filmhand.queue.job_queue.is_network", lambda _: True)
    station = Station(tmp_path, folders=10)
    station.pass_time(1.0)
    assert not station.looks._folders[0].queue.to_watch
    assert station.pass_time(3600.0) == 10 * 360


def test_threads_do_not_grow_with_the_folders_but_with_those_that_hang(tmp_path: Path) -> None:
    """Three of fifty hang in their look: the other looks go on, by as many threads as ever."""
    hung, seen = threading.Event(), set()
    before = set(threading.enumerate())
    looks = Lookers(lambda queue: None)

    class Queue(JobQueue):
        def look(self) -> None:
            if self.name in {"p3", "p4", "p30"} and not hung.is_set():
                seen.add(self.name)
                hung.wait(600)
                return
            super().look()
            seen.add(self.name)

    def ours() -> int:
        return len(set(threading.enumerate()) - before)

    folders = []
    for number in range(50):
        queue = make_queue(tmp_path / f"p{number}", tmp_path / "state")
        queue.__class__, queue.name = Queue, f"p{number}"
        queue.context.ledger.close()
        folders.append(looks.add(queue))
    wait_until(lambda: len(seen) == 50)
    for name in ("p0", "p49"):
        number = int(name[1:])
        (tmp_path / name / "drop" / "a.png").write_bytes(b"art")
        wait_until(folders[number].queue.has_work)
    assert ours() <= 2 + LOOKERS + 3  # the schedule, the watch, those that look, those that hang
    hung.set()
    wait_until(lambda: all(folder.looks_for() == 0 for folder in folders))
    wait_until(lambda: ours() == 2 + LOOKERS)
    looks.stop()
    looks.join(120)
    assert ours() == 0


def test_a_profile_folder_deleted_under_the_service_is_made_again(shop: Shop) -> None:
    service = shop.serve()
    shop.drop("a.png", b"art a")
    wait_until(lambda: shop.made("a.png"))
    delete(shop.root())
    wait_until((shop.root() / "drop").is_dir)
    shop.drop("b.png", b"art b")
    wait_until(lambda: shop.made("b.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [b"art b"])


def test_a_folder_elsewhere_deleted_and_made_again_waits_until_it_is_prepared(
    shop: Shop, tmp_path: Path
) -> None:
    root = tmp_path / "share" / "away"
    Folders(root).make()
    shop.profile("away", PROFILE + f"folder: {root}\n")
    service = shop.serve(FIRST_PAUSE="0.2", LONGEST_PAUSE="0.5")
    (root / "drop" / "a.png").write_bytes(b"art a")
    wait_until((root / "originals" / "a.png").exists)
    delete(root)
    root.mkdir()
    states: Callable[[], dict[str, str]] = lambda: {  # noqa: E731
        one["name"]: one["state"] for one in shop.status()["profiles"]
    }
    wait_until(lambda: states()["away"] == "paused")
    shop.drop("s.png", b"art s")
    wait_until(lambda: shop.made("s.png"))
    assert list(root.iterdir()) == []
    done = subprocess.run(
        [sys.executable, "-m", "filmhand", "doctor", str(shop.station), "--init",
         "--state", str(shop.state)],
        env={"PYTHONPATH": ":".join(sys.path), "PATH": "/usr/bin:/bin"},
        capture_output=True, check=False, timeout=60,
    )  # fmt: skip
    assert b"Traceback" not in done.stderr
    (root / "drop" / "b.png").write_bytes(b"art b")
    wait_until((root / "originals" / "b.png").exists)
    assert stop(service) == 0
    assert_invariants(root, [b"art b"])

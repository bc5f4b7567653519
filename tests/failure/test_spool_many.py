"""Ten thousand files in two hundred folders, dropped at once."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import job_harness
import pytest
from test_service_station import Shop, shop, stop, wait_until

from filmhand.queue.task import ClaimOne
from filmhand.queue.triage import READY
from filmhand.worker.parent import WorkerDied

__all__ = ["shop"]

FOLDERS, EACH = 200, 50


def drop_ten_thousand(root: Path) -> None:
    for folder in range(FOLDERS):
        place = root / "drop" / f"class {folder:03}"
        place.mkdir(parents=True)
        for number in range(EACH):
            path = place / f"{number:02}.png"
            path.write_bytes(b"art %d %d" % (folder, number))
            # The last folder's files are the oldest.
            at = 1_700_000_000 - 100 * folder + number
            os.utime(path, (at, at))


def memory_mib() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


@pytest.mark.slow
def test_the_oldest_come_first_and_memory_is_bounded(tmp_path: Path) -> None:
    opened: list[Path] = []

    def finished(path: Path) -> job_harness.Ending:
        opened.append(path)
        return job_harness.Ending()

    root = tmp_path / "small"
    queue = job_harness.make_queue(root, tmp_path / "state", finished=finished)
    queue.look()
    before = memory_mib()
    drop_ten_thousand(root)
    queue.look()
    time.sleep(2 * job_harness.SETTLE)
    queue.look()
    assert len(queue.view.ready) == READY
    assert len(opened) == READY  # a look opens no more than can be worked on soon
    told = queue.status()
    assert told["waiting_count"] == FOLDERS * EACH
    assert len(told["waiting"]) == 500
    taken = []
    for _ in range(READY):
        work = queue.take()
        assert isinstance(work, ClaimOne)
        taken.append(work.bundle.shown)
        queue.do(work)
    oldest = [
        f"class {folder:03}/{number:02}.png"
        for folder in (FOLDERS - 1, FOLDERS - 2)
        for number in range(EACH)
    ]
    assert taken == oldest[:READY]
    for _ in range(5):
        queue.look()
    assert memory_mib() - before < 64
    assert queue.status()["waiting_count"] == FOLDERS * EACH - READY


@pytest.mark.slow
def test_the_status_stays_fresh_and_another_profile_is_served(shop: Shop) -> None:
    shop.profile("large")
    drop_ten_thousand(shop.root("large"))
    service = shop.serve()
    wait_until(lambda: len(list((shop.root("large") / "originals").glob("*/*"))) > 5)
    count = shop.status()["counts"]["waiting"]
    shop.drop("mine.png", b"art")
    wait_until(lambda: shop.made("mine.png"))
    wait_until(lambda: shop.status()["counts"]["waiting"] < count)
    made = shop.status()["counts"]["made"]
    wait_until(lambda: shop.status()["counts"]["made"] > made)
    assert stop(service) == 0
    assert shop.root("large").is_dir()


@pytest.mark.slow
def test_each_of_many_is_done_exactly_once(tmp_path: Path) -> None:
    """Several threads, three hundred files, a renderer that fails now and then."""
    root, tries = tmp_path / "small", set()
    lock = threading.Lock()

    def render(order: job_harness.Order) -> list[job_harness.FinishedFilm]:
        with lock:
            first = order.job not in tries
            tries.add(order.job)
        if first and order.job.endswith("0"):
            raise WorkerDied("once")
        return job_harness.render(order)

    queue = job_harness.make_queue(root, tmp_path / "state", render=render)
    dropped = []
    for number in range(300):
        path = root / "drop" / f"{number % 20}" / f"{number}.png"
        path.parent.mkdir(parents=True, exist_ok=True)
        dropped.append(b"art %d" % number)
        path.write_bytes(dropped[-1])
    stopped = threading.Event()

    def work() -> None:
        while not stopped.is_set():
            task = queue.take()
            if task is None:
                time.sleep(0.005)
            else:
                queue.do(task)

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    until = time.monotonic() + 240
    try:
        while not queue.idle():
            assert time.monotonic() < until, queue.status()
            queue.look()
            time.sleep(0.05)
    finally:
        stopped.set()
        for thread in threads:
            thread.join()
    job_harness.assert_invariants(root, dropped)

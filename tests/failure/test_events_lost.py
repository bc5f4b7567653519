"""Events that do not come: all dropped, a dead observer, a folder deleted and made again."""

from __future__ import annotations

import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from job_harness import assert_invariants, make_queue
from test_service_station import PROFILE, Shop, delete, shop, stop, wait_until

from filmhand.disk.folders import Folders
from filmhand.intake import watch
from filmhand.intake.watch import Watch
from filmhand.queue import pool

__all__ = ["shop"]


class Deaf:
    """An observer that lives and hears nothing, as after a queue that ran over."""

    emitters: tuple[Any, ...] = ()

    def stop(self) -> None:
        pass

    def join(self, timeout: float) -> None:
        pass

    def is_alive(self) -> bool:
        return True


def test_all_files_are_found_though_every_event_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watch, "_observe", lambda folder, hint: Deaf())
    root = tmp_path / "small"
    queue = make_queue(root, tmp_path / "state")
    watcher = pool.FolderWatcher(queue, lambda: None)
    team = pool.WorkerPool(lambda: [queue], lambda: 2, lambda queue, outcome: watcher.wake())
    contents = [b"art %d" % number for number in range(200)]
    wait_until((root / "drop").is_dir)
    for number, data in enumerate(contents):
        folder = root / "drop" / f"class {number // 40}"
        folder.mkdir(exist_ok=True)
        (folder / f"{number}.png").write_bytes(data)
    wait_until(lambda: sum(p.is_file() for p in (root / "originals").rglob("*")) == 200, 60)
    wait_until(queue.idle)
    team.stop()
    watcher.stop()
    watcher.join(5)
    assert_invariants(root, contents)


def watched(folder: Path) -> tuple[Watch, threading.Event]:
    heard = threading.Event()
    one = Watch(folder, heard.set)
    one.keep(wanted=True)
    return one, heard


def hears(folder: Path, heard: threading.Event) -> bool:
    heard.clear()
    (folder / f"{time.monotonic_ns()}").write_bytes(b"")
    return heard.wait(5)


def test_a_dead_observer_is_replaced(tmp_path: Path) -> None:
    one, heard = watched(tmp_path)
    assert hears(tmp_path, heard)
    one._observer.stop()
    one._observer.join(5)
    one.keep(wanted=True)
    assert hears(tmp_path, heard)
    one.close()


def test_a_dead_emitter_is_replaced(tmp_path: Path) -> None:
    """The observer's own thread lives on when the thread that listens to the system has ended."""
    one, heard = watched(tmp_path)
    assert hears(tmp_path, heard)
    for emitter in list(one._observer.emitters):
        emitter.stop()
        emitter.join(5)
    assert one._observer.is_alive()
    one.keep(wanted=True)
    assert hears(tmp_path, heard)
    one.close()


def test_a_folder_made_again_is_watched_again(tmp_path: Path) -> None:
    folder = tmp_path / "drop"
    folder.mkdir()
    one, heard = watched(folder)
    shutil.rmtree(folder)
    one.keep(wanted=True)
    folder.mkdir()
    one.keep(wanted=True)
    assert hears(folder, heard)
    one.close()


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

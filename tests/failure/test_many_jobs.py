"""Very many jobs, and very many files at once: nothing grows that should not."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from job_harness import assert_invariants, files_in
from PIL import Image
from test_service_station import PROFILE, Shop, stop, wait_until

FILES = int(os.environ.get("MANY_FILES", "2000"))  # MANY_FILES=10000 takes some minutes
FOLDERS = 200


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A station in memory where there is room for one: each job waits for the disk many times."""
    memory = Path("/dev/shm")
    roomy = memory.is_dir() and shutil.disk_usage(memory).free > 2**30
    folder = Path(tempfile.mkdtemp(dir=memory if roomy else tmp_path))
    shop = Shop(folder)
    yield shop
    for process in shop.started:
        if process.poll() is None:
            process.kill()
        process.wait()
    shutil.rmtree(folder)


def resources(pid: int) -> dict[str, int]:
    """Open files, threads, children (zombies among them) and resident kibibytes of a process."""
    status = dict(
        line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines()
    )
    children: list[str] = []
    for task in Path(f"/proc/{pid}/task").iterdir():
        with contextlib.suppress(FileNotFoundError, ProcessLookupError):  # a short call is over
            children += (task / "children").read_text().split()
    return {
        "files": len(os.listdir(f"/proc/{pid}/fd")),  # noqa: PTH208
        "threads": int(status["Threads"]),
        "children": len(children),
        "resident": int(status["VmRSS"].split()[0]),
    }


def test_200_jobs_leave_no_open_file_thread_or_child(shop: Shop) -> None:
    service = shop.serve()
    contents: list[bytes] = []

    def work(count: int) -> dict[str, int]:
        for _ in range(count):
            kind = [b"art", b"refuse", b"pages", b"poison"][len(contents) % 4]
            contents.append(kind + b" %d" % len(contents))
            shop.drop(f"{len(contents)}.png", contents[-1])
        wait_until(lambda: len(shop.said("made")) + len(shop.said("refused")) == len(contents), 120)
        time.sleep(1)
        return resources(service.pid)

    before = work(20)
    after = work(200)
    assert after["files"] <= before["files"] + 2
    assert after["threads"] <= before["threads"] + 2  # short calls come and go
    assert after["children"] == 0
    assert after["resident"] < before["resident"] * 1.25
    assert stop(service) == 0
    assert_invariants(shop.root(), contents)


def test_real_workers_leave_no_zombie_and_no_pipe(shop: Shop) -> None:

    small = PROFILE.replace("8.5 x 11 in", "3 x 3 in").replace("mesh: 43-80", "mesh: none")
    shop.profile("small", small)
    (shop.root() / "drop").mkdir(parents=True)
    service = subprocess.Popen(
        [sys.executable, "-m", "filmhand", "serve", shop.station, "--state", shop.state],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stderr=subprocess.DEVNULL,
    )
    shop.started.append(service)
    number = 0

    def work(count: int) -> dict[str, int]:
        nonlocal number
        for _ in range(count):
            number += 1
            path = shop.root() / "drop" / f"{number}.png"
            if number % 3:
                Image.linear_gradient("L").rotate(number).save(path)
            else:
                path.write_bytes(b"\x89PNG\r\n\x1a\n cut off")
        wait_until(lambda: not files_in(shop.root() / "drop"), 120)
        wait_until(lambda: not list((shop.root() / ".filmhand").glob("*/*/job.json")), 120)
        time.sleep(1)
        return resources(service.pid)

    before = work(6)
    after = work(24)
    assert after["files"] <= before["files"] + 2
    assert after["threads"] <= before["threads"] + 2  # short calls come and go
    assert after["children"] == before["children"] == 1  # the one that forks jobs
    assert stop(service) == 0
    assert len(files_in(shop.root() / "records")) == 20


@pytest.mark.slow
def test_very_many_files_and_folders_at_once(shop: Shop) -> None:
    """Memory follows the number of names at most, the oldest come first, the status stays fresh."""
    contents = []
    for number in range(FILES):
        contents.append(b"art %d" % number)
        shop.drop(f"class {number % FOLDERS}/{number // FOLDERS}.png", contents[-1])
        then = 1_700_000_000 + number
        path = shop.root() / "drop" / f"class {number % FOLDERS}" / f"{number // FOLDERS}.png"
        os.utime(path, (then, then))
    service = shop.serve()
    wait_until((shop.state / "status.json").is_file)
    most, fresh, early = 0, 0.0, None
    until = time.monotonic() + 900
    while (left := len(files_in(shop.root() / "drop"))) and time.monotonic() < until:
        most = max(most, resources(service.pid)["resident"])
        written = (shop.state / "status.json").stat().st_mtime
        fresh = max(fresh, time.time() - written)
        if early is None and left < FILES * 0.9:
            early = numbers_made(shop)
        time.sleep(0.5)
    wait_until(lambda: not shop.status()["counts"]["working"])
    assert stop(service) == 0
    assert early is not None
    assert max(early) < len(early) + 200  # nothing young was made long before its turn
    assert fresh < 60
    assert most < 80_000 + FILES * 6  # kibibytes; an idle service has some 50,000
    assert_invariants(shop.root(), contents)


def numbers_made(shop: Shop) -> list[int]:
    made: list[int] = []
    for path in files_in(shop.root() / "originals"):
        folder: Any = path.parent.name.removeprefix("class ")
        made.append(int(path.stem) * FOLDERS + int(folder))
    return made

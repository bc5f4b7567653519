"""Whichever of service, what forks jobs, and job is killed: nothing is lost, nothing made twice."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from job_harness import files_in
from PIL import Image
from test_service_station import PROFILE, Shop, stop, wait_until

sys.path.append(str(Path(__file__).parents[1] / "soak"))
from hosts import children_of


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path)
    shop.profile("small", PROFILE.replace("8.5 x 11 in", "3 x 3 in").replace("43-80", "none"))
    (shop.root() / "drop").mkdir(parents=True)
    yield shop
    for process in shop.started:
        if process.poll() is None:
            process.kill()
        process.wait()


def serve(shop: Shop) -> subprocess.Popen[bytes]:
    service = subprocess.Popen(
        [sys.executable, "-m", "filmhand", "serve", shop.station, "--state", shop.state],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stderr=subprocess.DEVNULL,
    )
    shop.started.append(service)
    return service


def jobs_of(service: subprocess.Popen[bytes]) -> list[int]:
    return [job for forks in children_of(service.pid) for job in children_of(forks)]


@pytest.mark.parametrize("what", ["service", "forks", "job"])
def test_all_that_was_dropped_is_made_once(shop: Shop, what: str) -> None:
    service = serve(shop)
    for number in range(4):
        Image.linear_gradient("L").rotate(number).save(shop.root() / "drop" / f"{number}.png")
    until = time.monotonic() + 60
    while not (jobs := jobs_of(service)):
        assert time.monotonic() < until
        time.sleep(0.001)
    killed = {"service": service.pid, "forks": children_of(service.pid)[0], "job": jobs[0]}[what]
    os.kill(killed, signal.SIGKILL)
    if what == "service":
        service.wait()
        wait_until(lambda: not any(Path(f"/proc/{job}/exe").exists() for job in jobs), 300)
        service = serve(shop)
    wait_until(lambda: len(files_in(shop.root() / "originals")) == 4, 150)
    assert stop(service) == 0
    assert sorted(path.name for path in files_in(shop.root() / "originals")) == [
        f"{number}.png" for number in range(4)
    ]
    assert len(files_in(shop.root() / "records")) == 4
    assert files_in(shop.root() / "rejected") == []

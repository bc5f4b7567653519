"""Jobs on a real dask cluster: each exactly once, whatever is killed, and nobody's art to blame."""

from __future__ import annotations

import io
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import cluster_process
import numpy as np
import pytest
from cluster_harness import LocalCluster, kill
from job_harness import assert_invariants, files_in
from PIL import Image
from test_service_doctor import doctor, wrong
from test_service_station import PROFILE, Shop, stop, wait_until

from filmhand.profile.read.load import load_profile
from filmhand.request import JobRequest
from filmhand.worker.parent import WorkerLimits, run_in_worker


class ClusterShop(Shop):
    """A station whose profile names a cluster."""

    program = cluster_process.__file__

    def __init__(self, folder: Path, address: str) -> None:
        self.address = address
        super().__init__(folder)

    def profile(self, name: str, text: str = PROFILE) -> None:
        super().profile(name, f"{text}workers: {self.address}\n")

    def whys(self) -> list[str]:
        """Why the profile paused, as it was said."""
        return [line["why"] for line in self.said("paused")]

    def strikes(self) -> int:
        return len(self.said("worker failed"))


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LocalCluster]:
    cluster = LocalCluster(tmp_path_factory.mktemp("cluster"))
    cluster.start_scheduler()
    yield cluster
    cluster.stop()


@pytest.fixture
def shop(tmp_path: Path, cluster: LocalCluster) -> Iterator[ClusterShop]:
    shop = ClusterShop(tmp_path, cluster.address)
    yield shop
    for process in shop.started:
        if process.poll() is None:
            process.kill()
        process.wait()


def begun(flag: Path) -> list[int]:
    """The processes that wait for this flag, or have done so."""
    return [int(path.suffix[1:]) for path in flag.parent.glob(f"{flag.name}.*")]


def is_alive(pid: int) -> bool:
    try:
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except FileNotFoundError:
        return False


def test_jobs_are_made_several_at_once(shop: ClusterShop, cluster: LocalCluster) -> None:
    cluster.staff(2)
    flags = [shop.station.parent / f"go{number}" for number in range(4)]
    waiting = [f"wait {flag} {number}".encode() for number, flag in enumerate(flags)]
    others = [b"pages 2", b"refuse", b"poison"]
    for number, data in enumerate(waiting + others):
        shop.drop(f"{number}.png", data)
    shop.drop("odd \udcff.png", b"art odd")  # no text in any coding
    service = shop.serve()
    wait_until(lambda: all(begun(flag) for flag in flags))  # four at once
    for flag in flags:
        flag.touch()
    wait_until(lambda: shop.status()["counts"]["working"] == 0 and shop.made("4.png"))
    wait_until((shop.root() / "rejected" / "6.png").exists)
    assert stop(service) == 0
    assert_invariants(shop.root(), [*waiting, *others, b"art odd"])
    assert shop.strikes() == 3
    assert "SIGSEGV" in shop.said("worker failed")[0]["how"]
    assert not shop.said("paused")
    code, findings = doctor(shop)
    assert (code, wrong(findings)) == (0, [])
    told = [one["say"] for one in findings if one["what"] == "cluster worker"]
    assert ["sees the folder and may write" in say for say in told] == [True, True]
    assert [worker.poll() for worker in cluster.workers] == [None, None]  # the cluster lives


def test_a_dask_worker_killed_in_a_job(shop: ClusterShop, cluster: LocalCluster) -> None:
    cluster.staff(2)
    flag = shop.station.parent / "go"
    data = f"wait {flag}".encode()
    shop.drop("a.png", data)
    service = shop.serve()
    wait_until(lambda: begun(flag))
    (child,) = begun(flag)
    kill(cluster.worker_of(child))
    wait_until(lambda: len(begun(flag)) == 2)  # begun once more by the other
    wait_until(lambda: not is_alive(child))
    flag.touch()
    wait_until(lambda: shop.made("a.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [data])
    assert not shop.strikes()


def test_art_during_which_all_dask_workers_die(shop: ClusterShop, cluster: LocalCluster) -> None:
    cluster.staff(2)
    flag = shop.station.parent / "deadly"
    flag.touch()
    data = f"deadly {flag}".encode()
    shop.drop("a.png", data)
    service = shop.serve()
    wait_until(lambda: any("has no workers" in why for why in shop.whys()))
    # A scheduler of a very busy computer may be too late to tell what it lost.
    killed = [line["how"] for line in shop.said("worker ended from outside")] + shop.whys()
    assert "lost one worker after another" in killed[0] or "does not answer" in killed[0]
    # That is this job's alone; what pauses the profile is that nobody is left.
    assert not any("lost one worker after another" in why for why in shop.whys())
    flag.unlink()
    cluster.staff(1)
    wait_until(lambda: shop.made("a.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [data])
    assert not shop.strikes()


def test_the_scheduler_goes_and_comes_back(shop: ClusterShop, cluster: LocalCluster) -> None:
    cluster.staff(1)
    service = shop.serve()
    flag = shop.station.parent / "go"
    data = f"wait {flag}".encode()
    shop.drop("b.png", data)
    wait_until(lambda: begun(flag))
    (child,) = begun(flag)
    assert cluster.scheduler is not None
    kill(cluster.scheduler)
    wait_until(shop.whys)
    wait_until(lambda: not is_alive(child))  # nobody waits for it any more
    flag.touch()
    code, findings = doctor(shop)
    told = next(one for one in findings if one["what"] == "cluster")
    assert code == 1
    assert told["level"] == "wrong"
    assert "does not answer" in told["say"]
    time.sleep(2)  # it is tried again and again, and no more is said
    (why,) = shop.whys()
    assert "does not answer" in why
    for worker in cluster.workers:
        kill(worker)  # those of a scheduler that is gone soon end by themselves
    cluster.start_scheduler()
    cluster.staff(1)
    wait_until(lambda: shop.made("b.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [data])
    assert not shop.strikes()


def test_a_host_that_is_stopped_at_once_killed_and_taken_over(
    shop: ClusterShop, cluster: LocalCluster, tmp_path: Path
) -> None:
    cluster.staff(1)
    flag = shop.station.parent / "go"
    data = f"wait {flag}".encode()
    shop.drop("a.png", data)
    service = shop.serve()
    wait_until(lambda: len(begun(flag)) == 1)
    service.send_signal(signal.SIGTERM)
    time.sleep(0.3)
    assert service.poll() is None  # the film in hand is being finished
    service.send_signal(signal.SIGTERM)
    assert service.wait(timeout=120) == 0
    held = list((shop.root() / ".filmhand").glob("*/*/held/a.png"))
    assert len(held) == 1  # interrupted, not lost
    wait_until(lambda: not any(map(is_alive, begun(flag))))

    service = shop.serve()
    wait_until(lambda: len(begun(flag)) == 2)
    service.kill()
    service.wait()
    shop.state = tmp_path / "other state"
    service = shop.serve()
    wait_until(lambda: len(begun(flag)) == 3)
    wait_until(lambda: sum(map(is_alive, begun(flag))) == 1)  # the folder of the other is gone
    flag.touch()
    wait_until(lambda: shop.made("a.png"))
    assert stop(service) == 0
    assert_invariants(shop.root(), [data])
    assert not shop.strikes()


def test_a_host_that_sleeps_through_the_takeover_publishes_nothing(
    shop: ClusterShop, cluster: LocalCluster, tmp_path: Path
) -> None:
    cluster.staff(1)
    shop.profile("small", PROFILE + "takeover: 1 s\n")
    flag = shop.station.parent / "go"
    data = f"wait {flag}".encode()
    shop.drop("a.png", data)
    sleeper, first_log = shop.serve(), shop.log
    wait_until(lambda: begun(flag))
    sleeper.send_signal(signal.SIGSTOP)
    shop.state, shop.log = tmp_path / "other state", tmp_path / "other stderr"
    other = shop.serve()
    wait_until(lambda: len(begun(flag)) == 2)
    flag.touch()
    wait_until(lambda: shop.made("a.png"))
    sleeper.send_signal(signal.SIGCONT)
    wait_until(lambda: "another host took this job over" in first_log.read_text())
    assert stop(sleeper) == 0
    assert stop(other) == 0
    assert_invariants(shop.root(), [data])


def test_a_real_film_has_the_bytes_that_it_has_here(
    shop: ClusterShop, cluster: LocalCluster, tmp_path: Path
) -> None:
    cluster.staff(1)
    shop.drop("a.png", picture())
    assert shop.start("once", REAL="1").wait(timeout=60) == 0
    for name in ("out", "work"):
        (tmp_path / name).mkdir()
    (tmp_path / "art").write_bytes(picture())
    profile = load_profile(shop.station / "profiles" / "small.yaml")
    request = JobRequest(
        tmp_path / "art", "a.png", profile, out=tmp_path / "out", scratch=tmp_path / "work"
    )
    (film,) = run_in_worker(request, limits=WorkerLimits(60, 2**31)).films
    made = (shop.root() / "positives" / "a.pdf").read_bytes()
    assert made == film.files["pdf"].read_bytes()
    assert (shop.root() / "originals" / "a.png").read_bytes() == picture()
    assert files_in(shop.root() / ".filmhand") == [shop.root() / ".filmhand" / "folder.json"]


def picture() -> bytes:
    rows, columns = np.mgrid[0:400, 0:300]
    gray = (rows * 0.4 + 60 * np.sin(columns / 20) + 60).clip(0, 255).astype(np.uint8)
    with io.BytesIO() as file:
        Image.fromarray(gray).save(file, "png")
        return file.getvalue()

"""A worker that crashes, hangs, swells or lies: the parent always gets a plain answer."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest, JobResult
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.job_process import StartProcess
from filmhand.worker.parent import (
    Interrupted,
    WorkerDied,
    WorkerKilled,
    WorkerLimits,
    Workers,
    run_in_worker,
)
from filmhand.worker.process import start_fresh

Work = Callable[..., JobResult]
HERE = Path(__file__).parent
PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"


@pytest.fixture(params=["fresh", "forked"])
def start(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[StartProcess]:
    monkeypatch.setenv("PYTHONPATH", str(HERE))
    forks = ForkServer()
    yield start_fresh if request.param == "fresh" else forks.start
    forks.close()


@pytest.fixture
def work(tmp_path: Path, start: StartProcess) -> Work:
    for name in ("out", "scratch"):
        (tmp_path / name).mkdir()

    def run(art: str, *, seconds: float = 30, workers: Workers | None = None) -> JobResult:
        (tmp_path / "art").write_text(art)
        request = JobRequest(
            art=tmp_path / "art",
            name="a b.png",
            profile=read_profile(PROFILE, name="small", file="small.yaml"),
            out=tmp_path / "out",
            scratch=tmp_path / "scratch",
            job="j",
        )
        limits = WorkerLimits(seconds=seconds, memory=2**30)
        return run_in_worker(
            request, limits=limits, workers=workers, module="worker_stub", start=start
        )

    return run


def is_alive(pid: int) -> bool:
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except FileNotFoundError:
        return False
    return "State:\tZ" not in status


def wait_until(condition: Callable[[], bool], seconds: float = 120) -> None:
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.02)


def test_a_film_comes_back(work: Work, tmp_path: Path) -> None:
    (film,) = work("good").films
    assert film.files["pdf"] == tmp_path / "out" / "film.pdf"
    assert film.files["pdf"].read_text() == "film of a b.png"


def test_a_refusal_comes_back_whole(work: Work) -> None:
    with pytest.raises(Refused) as caught:
        work("refuse")
    refused = caught.value
    assert (refused.reason, refused.say, refused.do) == (Reason.TOO_SMALL, "Small.", "Larger.")
    assert refused.found is not None
    assert (refused.found.value, refused.found.unit) == (19.5, "ppi")


@pytest.mark.parametrize(
    ("art", "how"),
    [
        ("signal SIGSEGV", "SIGSEGV"),  # a library that crashed over the picture
        ("signal SIGBUS", "SIGBUS"),
        ("signal SIGFPE", "SIGFPE"),
        ("signal SIGILL", "SIGILL"),
        ("signal SIGABRT", "SIGABRT"),
        ("signal SIGSYS", "SIGSYS"),
        ("exit", "code 3"),
        ("bug", "ZeroDivisionError"),
        ("escape", "not a file in the output folder"),
    ],
)
def test_deaths_say_how(work: Work, art: str, how: str) -> None:
    with pytest.raises(WorkerDied, match=how):
        work(art)


@pytest.mark.parametrize(
    "name", ["SIGKILL", "SIGTERM", "SIGINT", "SIGHUP", "SIGQUIT", "SIGUSR1", "SIGUSR2", "SIGALRM"]
)
def test_one_that_is_ended_from_outside_says_so(work: Work, name: str) -> None:
    with pytest.raises(WorkerKilled, match=rf"ended from outside \({name}\).*not to blame"):
        work(f"signal {name}")


def test_one_that_sleeps_is_ended(work: Work) -> None:
    with pytest.raises(Refused, match="not finished in the 1 seconds") as caught:
        work("sleep", seconds=1)
    assert caught.value.reason is Reason.TOO_BIG


def test_one_that_spins_is_ended(work: Work) -> None:
    with pytest.raises(Refused, match="not finished"):
        work("spin", seconds=1)


def test_too_much_memory_is_a_refusal(work: Work) -> None:
    with pytest.raises(Refused, match="more memory") as caught:
        work("memory")
    assert caught.value.reason is Reason.TOO_BIG


@pytest.mark.parametrize("art", ["full", "file"])
def test_no_space_is_nobodys_fault(work: Work, art: str) -> None:
    with pytest.raises(EnvironmentTrouble, match="no space"):
        work(art)


def test_noise_does_not_spoil_the_answer_or_block(work: Work) -> None:
    assert len(work("print").films) == 1


def test_what_it_started_ends_with_it(work: Work, tmp_path: Path) -> None:
    work("child")
    pid = int((tmp_path / "out" / "pid").read_text())
    wait_until(lambda: not is_alive(pid))


def test_its_limits_and_its_surroundings(work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SECRET_PASSWORD", "xyzzy")
    (film,) = work("limits").films
    told = film.files["pdf"].read_text()
    assert told.startswith(f"[({2**30}, {2**30}), (0, 0)]")
    assert "NoNewPrivs:\t1" in told
    assert "out of memory score: 500" in told  # it goes before the service does
    assert "xyzzy" not in told


def test_a_service_that_stops_at_once_interrupts(work: Work) -> None:
    workers = Workers()
    timer = threading.Timer(0.7, workers.stop)
    timer.start()
    with pytest.raises(Interrupted):
        work("sleep", workers=workers)
    timer.join()


@pytest.mark.parametrize("start", ["start_fresh", "ForkServer().start"])
def test_it_dies_with_its_parent(tmp_path: Path, start: str) -> None:
    for name in ("out", "scratch"):
        (tmp_path / name).mkdir()
    (tmp_path / "art").write_text("note")
    script = (
        "import sys; from pathlib import Path\n"
        "from filmhand.profile.read.load import read_profile\n"
        "from filmhand.request import JobRequest\n"
        "from filmhand.worker.parent import WorkerLimits, run_in_worker\n"
        "t = Path(sys.argv[1])\n"
        "p = read_profile(sys.argv[2], name='small', file='small.yaml')\n"
        "r = JobRequest(t / 'art', 'a', p, t / 'out', t / 'scratch')\n"
        "from filmhand.worker.fork_server import ForkServer\n"
        "from filmhand.worker.process import start_fresh\n"
        "limits = WorkerLimits(60, 2**30)\n"
        f"run_in_worker(r, limits=limits, module='worker_stub', start={start})\n"
    )
    search = os.pathsep.join([str(HERE), *sys.path])
    environment = {**os.environ, "PYTHONPATH": search}
    command = [sys.executable, "-c", script, str(tmp_path), PROFILE]
    parent = subprocess.Popen(command, env=environment)
    note = tmp_path / "out" / "pid"
    wait_until(lambda: note.exists() and note.read_text() != "")
    pid = int(note.read_text())
    assert is_alive(pid)
    parent.kill()
    parent.wait()
    wait_until(lambda: not is_alive(pid))


def test_the_parent_loads_no_decoder() -> None:
    """What supervises must stay small: neither numpy nor Pillow in the parent."""
    script = (
        "import sys, filmhand.service.station, filmhand.worker.parent\n"
        "import filmhand.page.status_page, filmhand.page.why_note\n"
        "print([m for m in ('numpy', 'PIL', 'filmhand.pipeline') if m in sys.modules])\n"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-c", script], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"

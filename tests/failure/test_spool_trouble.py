"""Disks, shares and workers that fail; hosts that fall silent."""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import job_harness
import pytest
from job_harness import assert_invariants, files_in, make_queue, render, work_through

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath
from filmhand.errors import EnvironmentTrouble
from filmhand.jobs import publish, render_job
from filmhand.jobs.job import Job
from filmhand.peers import host
from filmhand.queue.triage import Task
from filmhand.request import JobRequest


class Clock:
    def __init__(self) -> None:
        self.ahead = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.ahead


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / "small" / "drop").mkdir(parents=True)
    return tmp_path / "small"


class Failing:
    """Stands in for a function and fails as often as it is told to."""

    def __init__(self, real: Callable[..., Any], code: int, times: int = 1000) -> None:
        self.real, self.code, self.times = real, code, times

    def __call__(self, *arguments: Any, **options: Any) -> Any:
        if self.times > 0:
            self.times -= 1
            raise OSError(self.code, os.strerror(self.code), str(arguments[0]))
        return self.real(*arguments, **options)


WHERE = [
    (atomic, "claim_by_rename"),
    (atomic, "write_atomic"),
    (atomic, "publish_no_replace"),
    (atomic, "append_line"),
    (atomic, "move_no_replace"),
    (render_job, "copy_durably"),
    (publish, "sha256_of"),
]


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.ESTALE, errno.EROFS])
@pytest.mark.parametrize(("module", "function"), WHERE)
def test_a_disk_that_fails_anywhere_pauses_and_heals(
    root: Path,
    tmp_path: Path,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
    module: object,
    function: str,
    code: int,
) -> None:
    said: list[str] = []
    queue = make_queue(
        root, tmp_path / "state", clock=clock, say=lambda event, **facts: said.append(event)
    )
    contents = [b"art 1", b"refuse 2"]
    for data in contents:
        (root / "drop" / data.decode()).write_bytes(data)
    real = getattr(module, function)
    failing = Failing(real, code)
    for _ in range(2):  # until both files have settled and met the fault
        queue.look()
        time.sleep(2 * job_harness.SETTLE)
    monkeypatch.setattr(module, function, failing)
    for _ in range(4):
        queue.look()
        while (task := queue.take()) is not None:
            queue.do(task)
        clock.ahead += 700
    # What fails in one job only, though the folder works, is that job's trouble.
    alone = function in {"copy_durably", "sha256_of"} and code in {errno.EIO, errno.ESTALE}
    assert bool(queue.trouble.pause.why) is not alone
    if alone:
        assert [one["name"] for one in queue.status()["waiting"]] == ["art 1"]
        assert (root / "rejected" / "refuse 2").exists()
    # said once, however often it is tried
    assert said.count("waits by itself" if alone else "paused") == 1
    job_harness.assert_invariants_in_hand(root, contents)
    failing.times = 0
    clock.ahead += 700
    work_through(queue)
    assert_invariants(root, contents)
    assert alone or said.count("goes on") >= 1
    assert "worker failed" not in said
    assert "filmhand itself failed" not in said


def test_the_pause_doubles_to_five_minutes(root: Path, tmp_path: Path, clock: Clock) -> None:
    queue = make_queue(root, tmp_path / "state", clock=clock)
    waits = []
    for _ in range(9):
        queue.stop_for("The disk is full.")
        began = clock.ahead
        while queue.trouble.pause.holds():
            clock.ahead += 1
        waits.append(round(clock.ahead - began))
    assert waits == [5, 10, 20, 40, 80, 160, 300, 300, 300]
    queue.trouble.end()
    assert not queue.trouble.pause.holds()


def test_one_profile_that_is_paused_does_not_stop_another(tmp_path: Path) -> None:
    def fail(order: JobRequest) -> Any:
        raise EnvironmentTrouble("The disk is full.")

    for name in ("one", "two"):
        (tmp_path / name / "drop").mkdir(parents=True)
        (tmp_path / name / "drop" / "a.png").write_bytes(b"art")
    sick = make_queue(tmp_path / "one", tmp_path / "s1", render=fail)
    well = make_queue(tmp_path / "two", tmp_path / "s2")
    work_through(sick)
    work_through(well)
    assert sick.trouble.pause.why
    assert_invariants(tmp_path / "two", [b"art"])
    job_harness.assert_invariants_in_hand(tmp_path / "one", [b"art"])


def test_three_strikes(root: Path, tmp_path: Path) -> None:
    (root / "drop" / "bad.png").write_bytes(b"poison")
    (root / "drop" / "good.png").write_bytes(b"art")
    work_through(make_queue(root, tmp_path / "state"))
    assert_invariants(root, [b"poison", b"art"])
    line = json.loads((root / "rejected" / "rejections.jsonl").read_text())
    assert line["reason"] == "crashed"
    renders = (tmp_path / "state" / "scratch" / "renders").read_text().split()
    assert renders.count(line["job"]) == 3


def test_the_services_own_death_is_no_strike(root: Path, tmp_path: Path) -> None:
    (root / "drop" / "a.png").write_bytes(b"art")
    command = [sys.executable, job_harness.__file__, str(root), str(tmp_path / "s"), "h-00000000"]
    for _ in range(6):
        environment = {**os.environ, "FILMHAND_DIE_AT": "films made"}
        died = subprocess.run(command, env=environment, check=False, timeout=60)
        assert died.returncode == -signal.SIGKILL
    assert subprocess.run(command, check=False, timeout=60).returncode == 0
    assert_invariants(root, [b"art"])


def test_a_bug_of_our_own_is_not_repeated_for_ever(root: Path, tmp_path: Path) -> None:
    def stumble(order: JobRequest) -> Any:
        if order.name == "odd.png":
            raise ZeroDivisionError("a bug")
        return render(order)

    said: list[str] = []
    (root / "drop" / "odd.png").write_bytes(b"poison of another kind")
    (root / "drop" / "good.png").write_bytes(b"art")
    queue = make_queue(
        root, tmp_path / "state", render=stumble, say=lambda event, **facts: said.append(event)
    )
    work_through(queue)
    assert said.count("filmhand itself failed") == 3
    assert_invariants(root, [b"poison of another kind", b"art"])


def test_an_odd_system_error_counts_against_the_file_only(root: Path, tmp_path: Path) -> None:
    def odd(order: JobRequest) -> Any:
        raise OSError(errno.ENAMETOOLONG, "File name too long")

    (root / "drop" / "odd.png").write_bytes(b"poison")
    work_through(make_queue(root, tmp_path / "state", render=odd))
    assert_invariants(root, [b"poison"])


def test_a_file_that_may_not_be_moved_waits_with_the_reason(
    root: Path, tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    (root / "drop" / "a.png").write_bytes(b"art")
    queue = make_queue(root, tmp_path / "state", clock=clock)
    failing = Failing(atomic.claim_by_rename, errno.EACCES)
    monkeypatch.setattr(atomic, "claim_by_rename", failing)
    work_through(queue)
    waiting = queue.status()["waiting"]
    assert "does not let filmhand move a.png" in waiting[0]["why"]
    assert not queue.trouble.pause.why
    assert files_in(root / ".filmhand") == [
        root / ".filmhand" / "folder.json",
        root / ".filmhand" / "here-00000000" / "alive",
    ]
    failing.times = 0
    clock.ahead += 10
    for _ in range(3):
        time.sleep(2 * job_harness.SETTLE)
        work_through(queue)
    assert_invariants(root, [b"art"])


def test_a_name_taken_after_it_was_chosen(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another host takes the stem between choosing and publishing: all names move on together."""
    real = atomic.publish_no_replace
    taken: list[str] = []

    def publish_no_replace(source: Beneath, target: Beneath, **how: bool) -> None:
        if target.parent.name == "proofs" and not taken:
            target.path.write_bytes(b"another's proof")
            taken.append(target.name)
        real(source, target, **how)

    monkeypatch.setattr(atomic, "publish_no_replace", publish_no_replace)
    (root / "drop" / "a.png").write_bytes(b"pages of a")
    work_through(make_queue(root, tmp_path / "state"))
    (root / "proofs" / taken[0]).unlink()
    assert_invariants(root, [b"pages of a"])
    assert {path.name for path in (root / "records").iterdir()} == {"a-2-p01.json", "a-2-p02.json"}


def test_a_film_that_a_queue_takes_at_once_is_not_made_twice(root: Path, tmp_path: Path) -> None:
    (root / "drop" / "a.png").write_bytes(b"art")
    command = [sys.executable, job_harness.__file__, str(root), str(tmp_path / "s"), "h-00000000"]
    environment = {**os.environ, "FILMHAND_DIE_AT": "film published"}
    subprocess.run(command, env=environment, check=False, timeout=60)
    (film,) = (root / "positives").iterdir()
    film.rename(tmp_path / "printed.pdf")
    assert subprocess.run(command, check=False, timeout=60).returncode == 0
    assert not film.exists()
    assert len((tmp_path / "s" / "scratch" / "renders").read_text().split()) == 1
    assert (root / "originals" / "a.png").read_bytes() == b"art"


def test_spoiled_staged_files_are_made_again(root: Path, tmp_path: Path) -> None:
    (root / "drop" / "a.png").write_bytes(b"art")
    command = [sys.executable, job_harness.__file__, str(root), str(tmp_path / "s"), "h-00000000"]
    environment = {**os.environ, "FILMHAND_DIE_AT": "record published"}
    subprocess.run(command, env=environment, check=False, timeout=60)
    (staged,) = (root / ".filmhand").glob("*/*/out/0.pdf")
    staged.write_bytes(b"zeros after a power cut")
    assert subprocess.run(command, check=False, timeout=60).returncode == 0
    assert_invariants(root, [b"art"])


def test_lost_notes_of_a_job_lose_no_file(root: Path, tmp_path: Path) -> None:
    (root / "drop" / "a.png").write_bytes(b"art")
    command = [sys.executable, job_harness.__file__, str(root), str(tmp_path / "s"), "h-00000000"]
    environment = {**os.environ, "FILMHAND_DIE_AT": "claim recorded"}
    subprocess.run(command, env=environment, check=False, timeout=60)
    (notes,) = (root / ".filmhand").glob("*/*/job.json")
    notes.write_bytes(b"\0" * 100)
    assert subprocess.run(command, check=False, timeout=60).returncode == 0
    aside = root / ".filmhand" / "set-aside"
    (kept,) = aside.iterdir()
    assert files_in(kept) == [kept / "job.json"]
    shutil.rmtree(aside)
    assert_invariants(root, [b"art"])
    assert (root / "originals" / "a.png").is_file()


# --- folders that go away ------------------------------------------------------------------------


def test_a_folder_elsewhere_needs_its_marker(tmp_path: Path, clock: Clock) -> None:
    root = tmp_path / "share" / "small"
    queue = make_queue(root, tmp_path / "state", elsewhere=True, clock=clock)
    queue.look()
    assert "doctor STATION --init" in queue.trouble.pause.why
    assert not root.exists()
    queue.context.folders.make()
    (root / "drop" / "a.png").write_bytes(b"art")
    clock.ahead += 10
    work_through(queue)
    assert_invariants(root, [b"art"])


def test_a_share_that_goes_and_comes_back(tmp_path: Path, clock: Clock) -> None:
    root = tmp_path / "share" / "small"
    queue = make_queue(root, tmp_path / "state", elsewhere=True, clock=clock)
    queue.context.folders.make()
    work_through(queue)
    (tmp_path / "share").rename(tmp_path / "unmounted")
    root.mkdir(parents=True)  # the empty mount point shows
    clock.ahead += 1
    queue.look()
    assert queue.trouble.pause.why
    assert list(root.iterdir()) == []  # nothing is written under the mount point
    shutil.rmtree(tmp_path / "share")
    (tmp_path / "unmounted").rename(tmp_path / "share")
    (root / "drop" / "a.png").write_bytes(b"art")
    clock.ahead += 10
    work_through(queue)
    assert_invariants(root, [b"art"])


def test_folders_under_the_station_are_made_only_while_it_is_the_station(tmp_path: Path) -> None:
    root = tmp_path / "station" / "small"
    queue = make_queue(root, tmp_path / "state", there=lambda: False)
    queue.look()
    assert queue.trouble.pause.why
    assert not root.exists()


# --- several hosts -------------------------------------------------------------------------------


def start(root: Path, state: Path, name: str, **environment: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, job_harness.__file__, str(root), str(state), name]
    return subprocess.Popen(command, env={**os.environ, **environment})


def test_two_hosts_make_each_file_once(root: Path, tmp_path: Path) -> None:
    contents = [b"art %d" % number for number in range(60)]
    for number, data in enumerate(contents):
        (root / "drop" / f"{number % 20}.{number}.png").write_bytes(data)
    hosts = [start(root, tmp_path / name, f"{name}-00000000") for name in ("one", "two")]
    assert [one.wait(timeout=60) for one in hosts] == [0, 0]
    assert_invariants(root, contents)
    made = [(tmp_path / name / "scratch" / "renders").read_text() for name in ("one", "two")]
    assert len("".join(made).split()) == 60


def test_a_silent_host_is_adopted_and_drops_the_work_when_it_wakes(
    root: Path, tmp_path: Path, clock: Clock
) -> None:
    (root / "drop" / "a.png").write_bytes(b"slow art")
    sleeper = start(root, tmp_path / "a", "one-00000000", RENDER_SECONDS="1.5")
    until = time.monotonic() + 20
    while not list((root / ".filmhand").glob("one-*/*/held/a.png")):
        assert time.monotonic() < until
        time.sleep(0.01)
    sleeper.send_signal(signal.SIGSTOP)
    adopter = make_queue(root, tmp_path / "b", host="two-00000000", clock=clock, takeover=60)
    adopter.look()
    clock.ahead += 59
    adopter.look()
    assert adopter.take() is None  # not silent for long enough
    clock.ahead += 12
    work_through(adopter)
    sleeper.send_signal(signal.SIGCONT)
    sleeper.wait(timeout=120)
    assert_invariants(root, [b"slow art"])


def test_a_host_that_lives_is_never_adopted(root: Path, tmp_path: Path, clock: Clock) -> None:
    hidden = root / ".filmhand"
    hidden.mkdir()
    adopter = make_queue(root, tmp_path / "b", host="two-00000000", clock=clock, takeover=60)
    (hidden / "one-00000000" / "job").mkdir(parents=True)
    for _ in range(20):
        host.sign_of_life(hidden, "one-00000000")
        adopter.look()
        clock.ahead += 30
    assert (hidden / "one-00000000" / "job").is_dir()


def test_refusals_of_several_hosts_have_logs_of_their_own(root: Path, tmp_path: Path) -> None:
    hidden = root / ".filmhand"
    hidden.mkdir()
    host.sign_of_life(hidden, "one-00000000")
    (root / "drop" / "a.png").write_bytes(b"refuse")
    work_through(make_queue(root, tmp_path / "b", host="two-00000000"))
    assert (root / "rejected" / "rejections.two-00000000.jsonl").is_file()
    assert not (root / "rejected" / "rejections.jsonl").exists()


@pytest.mark.slow
def test_random_kills_of_two_hosts(root: Path, tmp_path: Path) -> None:
    import random

    chance = random.Random(7)
    contents = [b"art %d" % number for number in range(40)]
    contents += [b"refuse %d" % number for number in range(10)]
    contents += [b"pages %d" % number for number in range(5)]
    for number, data in enumerate(contents):
        (root / "drop" / f"{number}.png").write_bytes(data)
    running: dict[str, subprocess.Popen[bytes]] = {}
    for _ in range(60):
        for name in ("one", "two"):
            if name not in running or running[name].poll() is not None:
                running[name] = start(root, tmp_path / name, f"{name}-00000000")
        time.sleep(chance.uniform(0.15, 0.45))
        running[chance.choice(["one", "two"])].kill()
    for one in running.values():
        one.kill()
        one.wait()
    for name in ("one", "two"):
        assert start(root, tmp_path / name, f"{name}-00000000").wait(timeout=120) == 0
    assert_invariants(root, contents)


def test_a_look_between_a_failure_and_the_putting_down(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The job is still in hand for that look, and yet must be found by a later one."""
    (root / "drop" / "a.png").write_bytes(b"poison")
    queue = make_queue(root, tmp_path / "state")
    for _ in range(2):
        queue.look()
        time.sleep(2 * job_harness.SETTLE)
    real = queue._put_down

    def put_down(task: Task, folder: Path, job: Job | None) -> None:
        queue.look()
        real(task, folder, job)

    monkeypatch.setattr(queue, "_put_down", put_down)
    for _ in range(3):
        task = queue.take()
        assert task is not None
        queue.do(task)
        queue.look()
    assert queue.idle()
    assert_invariants(root, [b"poison"])

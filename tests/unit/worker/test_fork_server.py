"""Jobs as forks of a warm process, with modules that only tell what they find."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from filmhand.errors import EnvironmentTrouble
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.worker import fork_server
from filmhand.worker.fork_server import ForkServer
from filmhand.worker.parent import (
    Interrupted,
    WorkerDied,
    WorkerKilled,
    WorkerLimits,
    Workers,
    ask_worker,
)
from filmhand.worker.process import FreshProcess

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="no warm process here")

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
LIMITS = WorkerLimits(seconds=30, memory=2**30)
TELL = """
import gc, json, os, signal, sys, tempfile
question = json.load(sys.stdin)
told = {
    "pid": os.getpid(), "parent": os.getppid(), "asked": question["parent"], "name": __name__,
    "session": os.getsid(0), "folder": os.getcwd(), "temporary": tempfile.gettempdir(),
    "words": dict(os.environ), "argv": sys.argv, "loaded": sorted(sys.modules),
    "open": sorted(int(one) for one in os.listdir("/proc/self/fd")),
    "threads": len(os.listdir("/proc/self/task")),
    "frozen": gc.get_freeze_count(), "collects": gc.isenabled(),
    "ends": str(signal.getsignal(signal.SIGCHLD)),
    "search": sys.path,
}
print(json.dumps({"ok": told}))
"""
SLEEP = "import sys, time; sys.stdin.read(); open('here', 'w').close(); time.sleep(60)"


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JobRequest:
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    (tmp_path / "scratch").mkdir()
    return JobRequest(tmp_path / "a.png", "a.png", profile, tmp_path, tmp_path / "scratch")


@pytest.fixture
def forks(asked: JobRequest) -> Iterator[ForkServer]:
    with contextlib.closing(ForkServer()) as server:
        yield server


def ask(forks: ForkServer, request: JobRequest, code: str = TELL, **more: Any) -> Any:
    module = f"stub_{abs(hash(code))}"
    (request.out / f"{module}.py").write_text(code)
    more = {"limits": LIMITS, "module": module, "start": forks.start} | more
    return ask_worker({"task": "films"}, lambda answer: answer, request=request, **more)


def server_of(forks: ForkServer) -> int:
    assert forks._current is not None
    return forks._current.process.pid


def open_here() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def is_there(pid: int) -> bool:
    try:
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return False


def wait_until(condition: Any) -> None:
    until = time.monotonic() + 120
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.01)


def test_a_fork_is_to_its_module_what_a_fresh_process_is(
    forks: ForkServer, asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SECRET_PASSWORD", "xyzzy")
    fresh = ask(forks, asked, start=fork_server.start_fresh)
    told = ask(forks, asked)
    assert told["parent"] == told["asked"] == server_of(forks) != os.getpid()
    assert fresh["parent"] == fresh["asked"] == os.getpid()
    assert told["session"] == told["pid"]
    assert told["folder"] == told["temporary"] == str(asked.scratch)
    same = ("argv", "words", "name", "open", "threads", "ends", "search", "collects")
    assert {key: told[key] for key in same} == {key: fresh[key] for key in same}
    assert "filmhand.pipeline.make" in told["loaded"]
    assert told["frozen"] > 10_000
    assert ask(forks, asked)["pid"] != told["pid"]


class Running:
    """A job in a thread of its own, until its end."""

    def __init__(self, forks: ForkServer, request: JobRequest, code: str = SLEEP) -> None:
        self.workers = Workers()
        self.came: Any = None
        self._scratch = request.scratch
        self._given = (forks, request, code)
        self._thread = threading.Thread(target=self._run)
        self._thread.start()
        wait_until((request.scratch / "here").exists)
        (self.pid,) = (child.pid for child in self.workers._running)

    def _run(self) -> None:
        forks, request, code = self._given
        try:
            self.came = ask(forks, request, code, workers=self.workers)
        except Exception as error:
            self.came = error

    def end(self) -> Any:
        self._thread.join(60)
        assert not self._thread.is_alive()
        (self._scratch / "here").unlink()
        return self.came


def test_jobs_side_by_side_hold_nothing_of_each_other(forks: ForkServer, asked: JobRequest) -> None:
    running = Running(forks, asked)
    here = open_here()
    told = ask(forks, asked)
    assert told["open"] == [0, 1, 2, 3]  # the last is that of the list itself
    assert open_here() == here
    running.workers.stop()
    assert isinstance(running.end(), Interrupted)
    wait_until(lambda: not is_there(running.pid))
    assert ask(forks, asked)["parent"] == told["parent"]


@pytest.mark.parametrize(
    ("code", "how"),
    [
        ("import os; os._exit(3)", "it ended with code 3"),
        ("import sys; sys.exit(3)", "it ended with code 3"),
        ("import sys; sys.exit('last words')", "it ended with code 1\nlast words"),
        ("1 / 0", "it ended with code 1\nTraceback"),
        ("import os; os.kill(os.getpid(), 11)", "it ended by SIGSEGV"),
    ],
)
def test_a_fork_ends_as_a_fresh_process_does(
    forks: ForkServer, asked: JobRequest, code: str, how: str
) -> None:
    with pytest.raises(WorkerDied) as caught:
        ask(forks, asked, code)
    assert caught.value.how.startswith(how)
    assert ask(forks, asked, "raise SystemExit(print('{\"ok\": 7}'))") == 7


def test_what_a_job_leaves_running_ends_with_it(forks: ForkServer, asked: JobRequest) -> None:
    code = (
        "import os, sys, time\nsleeper = os.fork()\n"
        "if not sleeper: time.sleep(60)\n"
        "print('{\"ok\": %d}' % sleeper, flush=True)\n"
    )
    sleeper = ask(forks, asked, code)
    wait_until(lambda: not is_there(sleeper))


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_jobs_end_with_what_forked_them_and_count_against_nobody(
    forks: ForkServer, asked: JobRequest, number: signal.Signals
) -> None:
    code = SLEEP.replace(
        "import sys", "import ctypes, sys; ctypes.CDLL(None).prctl(1, 9, 0, 0, 0); import sys"
    )
    running = Running(forks, asked, code)
    killed = server_of(forks)
    os.kill(killed, number)
    error = running.end()
    assert isinstance(error, WorkerKilled) and error.how == "SIGKILL"
    wait_until(lambda: not is_there(running.pid))
    assert ask(forks, asked)["parent"] not in {killed, os.getpid()}


def test_one_that_died_at_rest_is_replaced(forks: ForkServer, asked: JobRequest) -> None:
    forks.warm()
    first, here = server_of(forks), open_here()
    os.kill(first, signal.SIGKILL)
    assert ask(forks, asked)["parent"] not in {first, os.getpid()}
    assert open_here() == here


def test_one_that_is_stopped_does_not_hold_up_the_end(
    forks: ForkServer, asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    running = Running(forks, asked)
    stopped = server_of(forks)
    os.kill(stopped, signal.SIGSTOP)
    with monkeypatch.context() as impatient:
        impatient.setattr(fork_server, "_TOLD_WITHIN", 2.0)
        running.workers.stop()
        assert isinstance(running.end(), Interrupted)
    wait_until(lambda: not is_there(stopped))
    assert ask(forks, asked)["parent"] != stopped


def test_one_that_does_not_answer_is_passed_over(
    forks: ForkServer, asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ask(forks, asked)["parent"] == server_of(forks)
    monkeypatch.setattr(fork_server, "_STARTED_WITHIN", 0.1)
    monkeypatch.setattr(fork_server, "SERVER", "a_module_that_is_nowhere")
    stopped = server_of(forks)
    os.kill(stopped, signal.SIGSTOP)
    assert ask(forks, asked)["parent"] == os.getpid()  # nor does the next one start
    wait_until(lambda: not is_there(stopped))


def test_where_it_cannot_be_started_jobs_are_fresh(
    forks: ForkServer, asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fork_server, "SERVER", "a_module_that_is_nowhere")
    started: list[str] = []
    popen = subprocess.Popen

    def start(command: list[str], **named: Any) -> Any:
        started.append(command[3])
        return popen(command, **named)

    monkeypatch.setattr(fork_server.subprocess, "Popen", start)
    assert ask(forks, asked)["parent"] == os.getpid()
    assert started == ["a_module_that_is_nowhere"] * 2
    assert ask(forks, asked)["parent"] == os.getpid()  # and it is left alone for a while
    assert started == ["a_module_that_is_nowhere"] * 2
    monkeypatch.setattr(fork_server, "_AGAIN_AFTER", 0.0)
    forks._not_before = 0.0
    ask(forks, asked)
    assert len(started) == 4
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    with pytest.raises(EnvironmentTrouble, match="No such file"):
        ask(forks, asked)


def test_on_other_systems_jobs_are_fresh(
    asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fork_server.sys, "platform", "darwin")
    with contextlib.closing(ForkServer()) as forks:
        forks.warm()
        assert ask(forks, asked, "raise SystemExit(print('{\"ok\": 7}'))") == 7
        child = forks.start(asked.scratch, module="stub")
        assert isinstance(child, FreshProcess)
        child.communicate()


@pytest.mark.parametrize(("most", "oldest"), [(2, 600.0), (50, 0.0)])
def test_it_is_replaced_after_some_jobs_and_after_some_time(
    forks: ForkServer, asked: JobRequest, monkeypatch: pytest.MonkeyPatch, most: int, oldest: float
) -> None:
    monkeypatch.setattr(fork_server, "_MOST_JOBS", most)
    monkeypatch.setattr(fork_server, "_OLDEST", oldest)
    forks.warm()
    first = server_of(forks)
    parents = [ask(forks, asked)["parent"] for _ in range(4)]
    assert parents[0] == first
    assert len(set(parents)) == (2 if most == 2 else 4)
    assert server_of(forks) not in parents  # the next one is being got ready
    wait_until(lambda: not any(is_there(pid) for pid in parents))
    assert len(forks._servers) == 1


def test_a_job_goes_on_when_what_forked_it_is_replaced(
    forks: ForkServer, asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = (
        "import os, sys, time\nsys.stdin.read(); open('here', 'w').close()\n"
        "while not os.path.exists('go on'): time.sleep(0.01)\n"
        "print('{\"ok\": 7}')"
    )
    running = Running(forks, asked, code)
    first = server_of(forks)
    monkeypatch.setattr(fork_server, "_MOST_JOBS", 2)
    assert ask(forks, asked)["parent"] == first != server_of(forks)
    assert is_there(first)
    (asked.scratch / "go on").touch()
    assert running.end() == 7
    wait_until(lambda: not is_there(first))


def test_with_its_end_all_jobs_end(forks: ForkServer, asked: JobRequest) -> None:
    running = Running(forks, asked)
    first = server_of(forks)
    forks.close()
    assert isinstance(running.end(), WorkerKilled)
    wait_until(lambda: not is_there(first))
    wait_until(lambda: not is_there(running.pid))
    assert ask(forks, asked)["parent"] == os.getpid()

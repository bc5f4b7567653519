"""Work that a fork takes half of: the answers are those of doing it all here."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from filmhand.film.fork_pool import in_order_in_fork

_ALONE = """
import os, signal
from filmhand.film.fork_pool import in_order_in_fork
here = os.getpid()
forked = lambda: os.getpid() != here
{what}
try:
    os.waitpid(-1, os.WNOHANG)
    print("a child is left")
except ChildProcessError:
    pass
"""


def run_alone(what: str) -> list[str]:
    """What a process with a single thread prints."""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, "-c", _ALONE.format(what=what)],
        env=environment, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout.splitlines()


needs_proc = pytest.mark.skipif(
    not Path("/proc/self/task").is_dir(), reason="the system does not list threads"
)


@needs_proc
@pytest.mark.parametrize("count", [0, 1, 2, 5, 40])
def test_answers_come_in_order_and_every_second_from_the_fork(count):
    (found,) = run_alone(f"print(list(in_order_in_fork(lambda k: (k, forked()), range({count}))))")
    assert found == str([(k, k % 2 == 1) for k in range(count)])


@needs_proc
def test_answers_larger_than_a_pipe_come_whole():
    (found,) = run_alone(
        "got = list(in_order_in_fork(lambda k: bytes([k]) * 300_000, range(9)))\n"
        "print(got == [bytes([k]) * 300_000 for k in range(9)])"
    )
    assert found == "True"


@needs_proc
@pytest.mark.parametrize(
    "end", ["os.kill(os.getpid(), signal.SIGKILL)", "os._exit(3)", "raise ValueError", "1 / 0"]
)
def test_what_a_lost_fork_leaves_undone_is_done_here(end):
    (found,) = run_alone(
        "def work(k):\n"
        "    if forked() and k == 5:\n"
        f"        {end}\n"
        "    return k, forked()\n"
        "print(list(in_order_in_fork(work, range(10))))"
    )
    assert found == str([(k, k in (1, 3)) for k in range(10)])


@needs_proc
def test_a_fault_here_is_raised_and_the_fork_is_ended():
    (found,) = run_alone(
        "def work(k):\n"
        "    if k == 4: raise ValueError('four')\n"
        "    return k\n"
        "try:\n"
        "    list(in_order_in_fork(work, range(10)))\n"
        "except ValueError as error:\n"
        "    print(error)"
    )
    assert found == "four"


@needs_proc
@pytest.mark.parametrize(("fault", "found"), [("99", "[0, 1, 2, 3, 4]"), ("2", "two")])
def test_where_no_signal_may_be_sent_the_fork_ends_by_its_pipe(fault, found):
    """As in a worker whose kernel cannot tell its own children from others."""
    told = run_alone(
        "def refused(*_): raise PermissionError\n"
        "os.kill = refused\n"
        "def work(k):\n"
        f"    if k == {fault} and not forked(): raise ValueError('two')\n"
        "    return k\n"
        "try:\n"
        "    print(list(in_order_in_fork(work, range(5))))\n"
        "except ValueError as error:\n"
        "    print(error)"
    )
    assert told == [found]


def test_with_other_threads_running_nothing_is_forked():
    stop = threading.Event()
    other = threading.Thread(target=stop.wait)
    other.start()
    try:
        here = os.getpid()
        assert list(in_order_in_fork(lambda k: (k, os.getpid()), range(5))) == [
            (k, here) for k in range(5)
        ]
    finally:
        stop.set()
        other.join()

"""Runs a script again and again, each time in a process of its own that need not load it anew.

A first process loads what the script imports, once; each run is a fork of it, which is what a fresh
start would be: nothing of filmhand has run in it. The script is run as ``__main__``, and ends as it
would by itself, or is killed.

A test calls :func:`run` for a code of return, or :func:`start` for a process to talk to.
"""

from __future__ import annotations

import atexit
import json
import os
import runpy
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

_MOST_SECONDS = 60  # a run that takes longer is ended, by SIGALRM
_POLLED_EVERY = 0.005


class _Warm:
    """The first process of a script, and how it is asked."""

    def __init__(self, script: str) -> None:
        environment = {name: value for name, value in os.environ.items() if name not in _READ_EARLY}
        self._process = subprocess.Popen(
            [sys.executable, __file__, script],
            env={**environment, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        atexit.register(self._process.communicate)  # it ends when nobody can ask any more

    def ask(self, **question: Any) -> Any:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(question) + "\n")
        self._process.stdin.flush()
        return json.loads(self._process.stdout.readline())

    def started(
        self, words: Sequence[str | Path], environment: Mapping[str, str], seconds: int
    ) -> int:
        pid: int = self.ask(
            start=[*map(str, words)],
            environment={**os.environ, **environment},
            folder=str(Path.cwd()),
            seconds=seconds,
        )
        return pid


@cache
def _warm(script: str, parent: int) -> _Warm:
    return _Warm(script)


def run(script: str, *words: str | Path, **environment: str) -> int:
    """Run a script to its end: its code of return, or minus the number of the signal."""
    warm = _warm(script, os.getpid())
    code: int = warm.ask(wait=warm.started(words, environment, _MOST_SECONDS))
    return code


class Started(NamedTuple):
    """A script that runs; its process is a grandchild of this one."""

    pid: int
    warm: _Warm

    def poll(self) -> int | None:
        code: int | None = self.warm.ask(poll=self.pid)
        return code

    def wait(self, timeout: float) -> int:
        until = time.monotonic() + timeout
        while (code := self.poll()) is None:
            if time.monotonic() > until:
                raise subprocess.TimeoutExpired(str(self.pid), timeout)
            time.sleep(_POLLED_EVERY)
        return code

    def send_signal(self, number: int) -> None:
        os.kill(self.pid, number)


def start(script: str, *words: str | Path, **environment: str) -> Started:
    """Run a script beside this process."""
    warm = _warm(script, os.getpid())
    return Started(warm.started(words, environment, 0), warm)


# --- the first process, and its forks ------------------------------------------------------------

_READ_EARLY = {"FILMHAND_DIE_AT"}  # by modules as they are loaded


def _answer_questions() -> dict[str, Any] | None:
    """Until nobody asks any more; in a fork, what it is to run."""
    ended: dict[int, int] = {}

    def code_of(pid: int, how: int) -> int | None:
        if pid not in ended:
            done, status = os.waitpid(pid, how)
            if not done:
                return None
            ended[pid] = os.waitstatus_to_exitcode(status)
        return ended[pid]

    for line in sys.stdin:
        question = json.loads(line)
        if "start" in question:
            answer: int | None = os.fork()
            if answer == 0:
                return dict(question)
            ended.pop(answer, None)  # numbers of processes come again
        elif "wait" in question:
            answer = code_of(question["wait"], 0)
        else:
            answer = code_of(question["poll"], os.WNOHANG)
        print(json.dumps(answer), flush=True)
    return None


def _become(script: str, asked: dict[str, Any]) -> None:
    """What a fresh process would find: arguments, surroundings, folder, no word of the asker."""
    from filmhand.jobs import failpoints

    with Path(os.devnull).open("rb") as nothing:
        os.dup2(nothing.fileno(), 0)
    os.dup2(2, 1)
    signal.alarm(asked["seconds"])
    os.environ.clear()
    os.environ.update(asked["environment"])
    failpoints._DIE_AT = os.environ.get("FILMHAND_DIE_AT", "")
    os.chdir(asked["folder"])
    # What a killed process had written is there all the same; only a power cut would take it.
    os.fsync = lambda descriptor: None
    sys.argv = [script, *asked["start"]]


if __name__ == "__main__":
    program = sys.argv[1]
    sys.path.insert(0, str(Path(program).parent))
    runpy.run_path(program, run_name="loaded")  # for what it imports
    asked = _answer_questions()
    if asked is not None:
        _become(program, asked)
        runpy.run_path(program, run_name="__main__")

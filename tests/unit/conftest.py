"""The command line, as people and scripts meet it."""

from __future__ import annotations

import contextlib
import io
import signal
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from filmhand.cli import main

_CAUGHT = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGUSR1, signal.SIGUSR2)


@pytest.fixture
def filmhand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs a command in this process, in a folder of its own; its workers are processes."""

    def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
        out, err, given = io.StringIO(), io.StringIO(), list(map(str, words))
        before = {number: signal.getsignal(number) for number in _CAUGHT}
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                main(given, prog_name="filmhand")
                code: object = None
            except SystemExit as ended:
                code = ended.code
        for number, handler in before.items():
            signal.signal(number, handler)
        assert isinstance(code, int)  # a program always ends with a code
        done = subprocess.CompletedProcess(given, int(code), out.getvalue(), err.getvalue())
        assert "Traceback" not in done.stderr
        return done

    monkeypatch.chdir(tmp_path)
    return run

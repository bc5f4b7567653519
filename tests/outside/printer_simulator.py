"""The open-source simulator of an IPP Everywhere printer (ippeveprinter of CUPS), run for tests.

It announces itself on the network and does not start where it cannot, so it needs D-Bus and Avahi.
Several test processes share one pair of those: the first starts it if nobody has, the last ends
what the first started.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

import pytest

TOOLS = ("ippeveprinter", "dbus-daemon", "avahi-daemon")
BUS = Path("/run/dbus/system_bus_socket")
SHARED = Path(tempfile.gettempdir()) / f"filmhand-test-printers-{os.getuid()}"


def wait_for(truth: Callable[[], bool], what: str, seconds: float = 30.0) -> None:
    until = time.monotonic() + seconds
    while not truth():
        if time.monotonic() > until:
            raise TimeoutError(what)
        time.sleep(0.05)


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def listens(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
        return True
    return False


def _bus_answers() -> bool:
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as one:
        one.connect(str(BUS))
        return True
    return False


def _announcer_answers() -> bool:
    checked = subprocess.run(["avahi-daemon", "--check"], check=False, capture_output=True)
    return checked.returncode == 0


@contextlib.contextmanager
def _locked(name: str, how: int) -> Iterator[IO[str]]:
    with (SHARED / name).open("a") as file:
        fcntl.flock(file, how)
        yield file


@contextlib.contextmanager
def announcing() -> Iterator[None]:
    """D-Bus and Avahi, shared by all test processes."""
    SHARED.mkdir(exist_ok=True)
    started = SHARED / "started"
    with contextlib.ExitStack() as use:
        with _locked("mutex", fcntl.LOCK_EX):
            use.enter_context(_locked("users", fcntl.LOCK_SH))
            if not _bus_answers():
                BUS.parent.mkdir(parents=True, exist_ok=True)
                BUS.unlink(missing_ok=True)
                _start(["dbus-daemon", "--system", "--nofork", "--nopidfile"], started)
                wait_for(_bus_answers, "D-Bus")
            if not _announcer_answers():
                _start(["avahi-daemon", "--no-drop-root", "--no-chroot", "--no-rlimits"], started)
                wait_for(_announcer_answers, "Avahi")
        try:
            yield
        finally:
            with _locked("mutex", fcntl.LOCK_EX):
                use.close()
                with (
                    contextlib.suppress(BlockingIOError),
                    _locked("users", fcntl.LOCK_EX | fcntl.LOCK_NB),
                ):
                    _end(started)


def _start(command: list[str], started: Path) -> None:
    process = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    process.returncode = 0  # it outlives this process where others use it
    with started.open("a") as file:
        file.write(f"{process.pid} {Path(command[0]).name}\n")


def _end(started: Path) -> None:
    lines = started.read_text().splitlines() if started.exists() else []
    for line in reversed(lines):
        pid, name = line.split()
        with contextlib.suppress(OSError):
            # A number may have been given away since; only a process of that name is ours.
            if Path(f"/proc/{pid}/comm").read_text().strip() == name:
                os.kill(int(pid), signal.SIGTERM)
                with contextlib.suppress(ChildProcessError):
                    os.waitpid(int(pid), 0)
    started.unlink(missing_ok=True)


@pytest.fixture(scope="module")
def announced() -> Iterator[None]:
    """Where simulators can be started; skips where they cannot."""
    absent = [tool for tool in TOOLS if shutil.which(tool) is None]
    if absent:
        pytest.skip(f"not installed: {', '.join(absent)}")
    if os.getuid() != 0:
        pytest.skip("D-Bus and Avahi are started by root only")
    with announcing():
        yield


SCRIPT = """#!/bin/sh
# What the simulator runs for each job: keeps what it was given, and does what `mood` says.
env | grep '^IPP_' > "$SPOOLED/env.$IPP_JOB_ID"
to="$SPOOLED/doc.$IPP_JOB_ID"
cp "$1" "$to.new" && mv "$to.new" "$to"
[ -f "$SPOOLED/mood" ] || exit 0
for reason in $(cat "$SPOOLED/mood"); do echo "STATE: +$reason" >&2; done
: > "$SPOOLED/told"
while [ -f "$SPOOLED/mood" ]; do sleep 0.1; done
echo "STATE: none" >&2
"""


class Simulator:
    """One running simulator: `uri`, `folder` of what it received."""

    def __init__(self, folder: Path, options: list[str]) -> None:
        self.folder, self.port = folder, free_port()
        self.uri = f"ipp://localhost:{self.port}/ipp/print"
        script = folder / "command.sh"
        script.write_text(SCRIPT)
        script.chmod(0o755)
        spool = folder / "spool"
        spool.mkdir()
        command = ["ippeveprinter", "-r", "off", "-n", "localhost", "-p", str(self.port)]
        command += ["-d", str(spool), "-c", str(script), *options]
        self.log = folder / "log"
        with self.log.open("wb") as log:
            self._process = subprocess.Popen(
                [*command, f"Film {self.port}"],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                env={**os.environ, "SPOOLED": str(folder)},
            )
        try:
            wait_for(self._up, "the simulator")
        except BaseException:
            self.close()
            raise

    def _up(self) -> bool:
        if self._process.poll() is not None:
            raise RuntimeError(self.log.read_text())
        return listens(self.port)

    def received(self, number: int) -> bytes:
        path = self.folder / f"doc.{number}"
        wait_for(path.exists, f"document {number}")
        return path.read_bytes()

    def job_environment(self, number: int) -> dict[str, str]:
        lines = (self.folder / f"env.{number}").read_text().splitlines()
        return dict(line.split("=", 1) for line in lines)

    def close(self) -> None:
        self._process.terminate()
        self._process.wait(20)


if __name__ == "__main__":
    with announcing():
        one = Simulator(Path(sys.argv[1]), sys.argv[2:])
        print(one.uri, flush=True)
        time.sleep(3600)

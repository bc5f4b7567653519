"""The open-source simulator of an IPP Everywhere printer (ippeveprinter of CUPS), run for tests.

Its troubles are told to it by a file `mood`: the reasons that it gives while the file is there.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from print_server import ALONE, BUS_AND_ANNOUNCER, free_port

_TOOLS = ("ippeveprinter", "dbus-daemon", "avahi-daemon", "unshare")


def wait_for(truth: Callable[[], bool], what: str, seconds: float = 40.0) -> None:
    until = time.monotonic() + seconds
    while not truth():
        if time.monotonic() > until:
            raise TimeoutError(what)
        time.sleep(0.05)


def listens(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
        return True
    return False


@pytest.fixture(scope="module")
def simulators() -> None:
    """Skips where simulators cannot be run."""
    absent = [tool for tool in _TOOLS if shutil.which(tool) is None]
    if absent:
        pytest.skip(f"not installed: {', '.join(absent)}")
    if os.getuid() != 0:
        pytest.skip("the simulator's own D-Bus and Avahi need root")


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

    def __init__(self, folder: Path, options: list[str], *, announced: bool = False) -> None:
        self.folder, self.port = folder, free_port()
        self.name = f"Film {self.port}"
        self.uri = f"ipp://localhost:{self.port}/ipp/print"
        script = folder / "command.sh"
        script.write_text(SCRIPT)
        script.chmod(0o755)
        spool = folder / "spool"
        spool.mkdir()
        command = [*ALONE, "sh", "-c", BUS_AND_ANNOUNCER, "sh"]
        command += ["ippeveprinter", "-n", "localhost", "-p", str(self.port)]
        command += [] if announced else ["-r", "off"]
        command += ["-d", str(spool), "-c", str(script), *options]
        self.log = folder / "log"
        with self.log.open("wb") as log:
            self._process = subprocess.Popen(
                [*command, self.name],
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
        self._process.kill()  # unshare(1) takes no gentler signal, and ends all within
        self._process.wait(120)

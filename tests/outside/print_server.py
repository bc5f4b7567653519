"""A private CUPS server on loopback with simulated IPP Everywhere printers behind it.

Needs Linux, root and Debian's packages cups-daemon, cups-client, cups-ipp-utils, dbus and
avahi-daemon; queues that convert need cups-core-drivers too. Each printer runs in name spaces of
its own with its own D-Bus and Avahi, without which the simulator does not start, so that it does
not matter whether these run on the computer already.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

# Programs of Debian's package `cups`, which is not installed since it brings too much with it.
UNPACKED = Path(__file__).parents[1] / ".cups" / "usr/lib/cups"
_WAIT = 40.0
_SEARCH = os.pathsep.join([os.environ.get("PATH", os.defpath), "/usr/sbin", "/sbin"])
_TOOLS = ("cupsd", "lpadmin", "lp", "lpstat", "ippeveprinter", "dbus-daemon", "avahi-daemon")

# Ends with its first process, and all that it started with it.
ALONE = ("unshare", "--mount", "--pid", "--fork", "--kill-child", "--mount-proc")
BUS_AND_ANNOUNCER = """\
set -eu
wait_for() {
    tries=0
    until "$@"; do tries=$((tries + 1)); [ "$tries" -lt 400 ]; sleep 0.05; done
}
mount -t tmpfs tmpfs /run
mkdir -p /run/dbus /run/avahi-daemon
dbus-daemon --system --nofork --nopidfile &
wait_for test -S /run/dbus/system_bus_socket
avahi-daemon --no-drop-root --no-chroot --no-rlimits &
wait_for avahi-daemon --check
exec "$@"
"""
# What the simulator calls for each job: its attributes first, then the document, whole.
_RECEIVE = """\
#!/bin/sh
set -eu
env | grep '^IPP_' >"{spool}/$IPP_JOB_ID.attributes"
cp -- "$1" "{spool}/$IPP_JOB_ID.part"
mv -- "{spool}/$IPP_JOB_ID.part" "{spool}/$IPP_JOB_ID.document"
"""
_CUPSD = """\
Listen 127.0.0.1:{port}
Browsing Off
DefaultAuthType None
WebInterface No
MaxLogSize 0
LogLevel warn
<Location />
  Order allow,deny
  Allow all
</Location>
<Location /admin>
  Order allow,deny
  Allow all
</Location>
<Policy default>
  JobPrivateAccess default
  JobPrivateValues none
  <Limit All>
    Order deny,allow
  </Limit>
</Policy>
"""
_CUPS_FILES = """\
ServerRoot {home}/root
ServerBin {home}/programs
RequestRoot {home}/spool
CacheDir {home}/cache
StateDir {home}/state
TempDir {home}/tmp
AccessLog {home}/log/access
ErrorLog {home}/log/error
PageLog {home}/log/page
FatalErrors config listen
"""


@dataclass(frozen=True, slots=True)
class ReceivedJob:
    """What the printer got: the document's bytes and the job's attributes by name."""

    document: bytes
    attributes: dict[str, str]


class SimulatedPrinter:
    """One ippeveprinter that takes documents of the given formats."""

    def __init__(self, home: Path, formats: str) -> None:
        self.spool = home
        home.mkdir()
        (home / "jobs").mkdir()
        command = home / "receive"
        command.write_text(_RECEIVE.format(spool=home))
        command.chmod(0o755)
        self.port = free_port()
        self.uri = f"ipp://localhost:{self.port}/ipp/print"
        words = [
            *("ippeveprinter", "-r", "off", "-n", "localhost", "-p", str(self.port)),
            *("-d", str(home / "jobs"), "-c", str(command), "-f", formats, "Film"),
        ]
        self._process = _start([*ALONE, "sh", "-c", BUS_AND_ANNOUNCER, "sh", *words], home / "out")
        _wait_for_port(self.port, self._process, home / "out")

    def received(self, count: int = 1) -> list[ReceivedJob]:
        """The first `count` jobs, oldest first, once they are there."""
        until = time.monotonic() + _WAIT
        while len(found := self.documents()) < count:
            assert time.monotonic() < until, f"the printer has {found}, not {count} documents"
            time.sleep(0.1)
        return [
            ReceivedJob(path.read_bytes(), _attributes(path.with_suffix(".attributes")))
            for path in found[:count]
        ]

    def documents(self) -> list[Path]:
        """Files of the documents that are there now, oldest first."""
        return sorted(self.spool.glob("*.document"), key=lambda path: int(path.stem))

    def end(self) -> None:
        """End it and its name spaces; unshare(1) takes no gentler signal."""
        self._process.kill()
        self._process.wait()


class PrintServer:
    """One cupsd with folders of its own and no queue yet."""

    def __init__(self, home: Path) -> None:
        self.home = home
        for name in ("root/ppd", "spool", "cache", "state", "tmp", "log", "programs"):
            (home / name).mkdir(parents=True)
        (home / "tmp").chmod(0o1777)
        _gather_programs(home / "programs")
        self.port = free_port()
        (home / "cupsd.conf").write_text(_CUPSD.format(port=self.port))
        (home / "cups-files.conf").write_text(_CUPS_FILES.format(home=home))
        self._process = _start(
            [
                *("cupsd", "-f", "-c", str(home / "cupsd.conf")),
                *("-s", str(home / "cups-files.conf")),
            ],
            home / "out",
        )
        _wait_for_port(self.port, self._process, home / "out")
        self.environment = {
            "PATH": _SEARCH,
            "CUPS_SERVER": f"127.0.0.1:{self.port}",
            "HOME": str(home),
            "LC_ALL": "C",
        }

    def run(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """A command of CUPS's that speaks with this server; its words on failure."""
        done = subprocess.run(
            words, env=self.environment, capture_output=True, text=True, check=False, timeout=120
        )
        if check:
            assert done.returncode == 0, f"{words}: {done.stdout}{done.stderr}"
        return done

    def add(self, queue: str, printer: SimulatedPrinter, model: str) -> None:
        """A queue to the printer: `raw` or `everywhere`."""
        self.run("lpadmin", "-p", queue, "-E", "-v", printer.uri, "-m", model)
        # The server describes such a queue only after it has answered.
        until = time.monotonic() + _WAIT
        while model == "everywhere" and not (self.home / "root/ppd" / f"{queue}.ppd").exists():
            assert time.monotonic() < until, "the queue was not described"
            time.sleep(0.1)

    def end(self) -> None:
        """End it."""
        _end(self._process)


@contextlib.contextmanager
def place() -> Iterator[Path]:
    """A folder that the server's user may read in; the tests' own ones are closed to others."""
    with tempfile.TemporaryDirectory(prefix="print-server-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


def need_tools(*more: str) -> None:
    """Skip the test, with the reason, where something that it takes is not there."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("a private print server needs root")
    for tool in ("unshare", *_TOOLS):
        if shutil.which(tool, path=_SEARCH) is None:
            pytest.skip(f"{tool} is not installed")
    for path in more:
        if not Path(path).exists():
            pytest.skip(f"{path} is not installed")
    tried = subprocess.run([*ALONE, "true"], capture_output=True, check=False)
    if tried.returncode != 0:
        pytest.skip(f"no name spaces can be made here: {tried.stderr.decode()}")


def _gather_programs(home: Path) -> None:
    """The server's programs: the installed ones, and filters unpacked without being installed."""
    for part in ("backend", "daemon", "driver", "filter", "notifier"):
        (home / part).mkdir()
        for folder in (UNPACKED / part, Path("/usr/lib/cups") / part):
            for program in folder.iterdir() if folder.is_dir() else ():
                if not (home / part / program.name).exists():
                    (home / part / program.name).symlink_to(program)


def free_port() -> int:
    """A port of loopback that nobody had a moment ago."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _start(words: list[str], out: Path) -> subprocess.Popen[bytes]:
    with out.open("wb") as file:
        return subprocess.Popen(
            words,
            stdin=subprocess.DEVNULL,
            stdout=file,
            stderr=file,
            env=os.environ | {"PATH": _SEARCH, "LC_ALL": "C"},
            cwd="/",
            start_new_session=True,
        )


def _wait_for_port(port: int, process: subprocess.Popen[bytes], out: Path) -> None:
    until = time.monotonic() + _WAIT
    while True:
        with contextlib.suppress(OSError), socket.create_connection(("localhost", port), 1):
            return
        why = out.read_text(errors="replace")
        assert process.poll() is None, f"it ended: {why}"
        assert time.monotonic() < until, f"it does not answer: {why}"
        time.sleep(0.05)


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(timeout=_WAIT)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def _attributes(path: Path) -> dict[str, str]:
    lines = path.read_text(errors="replace").splitlines()
    return dict(line.partition("=")[::2] for line in lines if "=" in line)

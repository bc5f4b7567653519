"""The computers of a soak: processes of the real service, and disks that fill and vanish."""

from __future__ import annotations

import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

_DAEMON = str(Path(__file__).resolve().parents[2] / "daemon")
_NOBODY = 65534


def _env() -> dict[str, str]:
    # Python would keep a module whose compiled form was cut off by a full disk.
    search = os.pathsep.join([_DAEMON, *filter(None, sys.path)])
    return {**os.environ, "PYTHONPATH": search, "PYTHONDONTWRITEBYTECODE": "1"}


def _find_user() -> int | None:
    """Another user to run the hosts as, whom files of strangers can be closed to."""
    if os.geteuid() != 0:
        return None
    try:
        done = subprocess.run(
            [sys.executable, "-c", "import filmhand.service.station, yaml, PIL"],
            user=_NOBODY,
            group=_NOBODY,
            extra_groups=[],
            env=_env(),
            cwd="/",
            capture_output=True,
            check=False,
        )
    except PermissionError:  # this Python lies where only its owner gets to
        return None
    return _NOBODY if done.returncode == 0 else None


USER = _find_user()


@contextlib.contextmanager
def as_user() -> Iterator[None]:
    """Be the user of the hosts for a moment."""
    if USER is None:
        yield
        return
    os.setresgid(USER, USER, 0)
    os.setresuid(USER, USER, 0)
    try:
        yield
    finally:
        os.setresuid(0, 0, 0)
        os.setresgid(0, 0, 0)


def children_of(pid: int) -> list[int]:
    """The processes that a process has started and not yet seen the end of."""
    found = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        with contextlib.suppress(OSError):
            found += [int(word) for word in task.read_text().split()]
    return found


class Host:
    """One process of the service with its state folder and its wall clock."""

    def __init__(self, station: Path, state: Path, log: Path) -> None:
        self.state = state
        self.clock = log.with_name(f"clock of {state.parent.name}")
        self._command = [sys.executable, str(Path(__file__).with_name("soak_host.py"))]
        self._command += [str(station), str(state), str(self.clock)]
        self._log = log
        self.process: subprocess.Popen[bytes] | None = None
        self.due = 0.0  # when it is to start again
        self.wake = 0.0  # when it is to be woken
        self.grow = 0.0  # when files may grow again

    def start(self) -> None:
        """Start, if it does not run."""
        if self.process is not None and self.process.poll() is None:
            return
        with self._log.open("ab") as log:
            self.process = subprocess.Popen(
                self._command,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                env=_env(),
                cwd="/",
                user=USER,
                group=USER,
                extra_groups=None if USER is None else [],
            )
        self.wake = self.grow = 0.0

    def runs(self) -> bool:
        """True while the process is there, awake or stopped."""
        return self.process is not None and self.process.poll() is None

    def send(self, number: signal.Signals) -> None:
        """Send a signal, if the process is there."""
        if self.process is not None and self.runs():
            self.process.send_signal(number)

    def workers(self) -> list[int]:
        """The process ids of its workers, and of what forks them."""
        if self.process is None or not self.runs():  # its number may be another process's by now
            return []
        found = children_of(self.process.pid)
        return found + [child for one in found for child in children_of(one)]

    def may_grow(self, least: int | None) -> None:
        """Limit the size of the files that it writes; None: no more."""
        if self.process is not None and self.runs():
            with as_user():
                most = resource.prlimit(self.process.pid, resource.RLIMIT_FSIZE)[1]
                soft = most if least is None else least
                resource.prlimit(self.process.pid, resource.RLIMIT_FSIZE, (soft, most))

    def end(self) -> None:
        """Kill it, whatever state it is in."""
        if self.process is not None and self.runs():
            self.process.kill()
        if self.process is not None:
            self.process.wait()


class Disk:
    """A folder that can be full or absent: a disk in memory where there are rights to mount one."""

    def __init__(self, folder: Path, size: int) -> None:
        self.folder = folder
        self._whole = folder.with_name(f"{folder.name} itself")
        self.absent = False
        for path in (folder, self._whole):
            path.mkdir()
        self.mounted = _mount("-t", "tmpfs", "-o", f"size={size},mode=0755", "tmpfs", self._whole)
        # On the disk itself, where it can be found also while the disk is absent.
        self._ballast = (self._whole if self.mounted else folder) / ".ballast"
        if self.mounted:
            _own(folder)  # so that a host could write below an absent mount, if it wanted
            self.come_back()
        _own(folder)

    def fill(self) -> None:
        """Leave no room."""
        with self._ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(bytes(2**16))

    def free(self) -> None:
        """Give the room back."""
        self._ballast.unlink(missing_ok=True)

    def vanish(self) -> None:
        """Show the empty folder below the mount."""
        if self.mounted and not self.absent:
            subprocess.run(["umount", "-l", str(self.folder)], check=True)
            self.absent = True

    def come_back(self) -> list[str]:
        """Mount it again; what was made below the mount meanwhile."""
        made = sorted(str(path) for path in self.folder.rglob("*"))
        if not _mount("--bind", self._whole, self.folder):
            raise OSError(f"{self.folder} could not be mounted again")
        self.absent = False
        return made

    def close(self) -> None:
        """Remove it with all that is on it."""
        if self.mounted:
            for path in (self.folder, self._whole):
                subprocess.run(["umount", "-l", str(path)], check=False, capture_output=True)
        for path in (self.folder, self._whole):
            shutil.rmtree(path, ignore_errors=True)


def _mount(*arguments: str | Path) -> bool:
    try:
        done = subprocess.run(["mount", *map(str, arguments)], capture_output=True, check=False)
    except FileNotFoundError:
        return False
    return done.returncode == 0


def _own(path: Path) -> None:
    if USER is not None:
        os.chown(path, USER, USER)

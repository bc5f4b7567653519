"""Who works on a folder: this host's identity, its sign of life, and hosts that fell silent.

Several hosts may serve one share. Each has a folder `.filmhand/<host>/` and rewrites a nonce in
its `alive`. A host whose nonce does not change for the profile's takeover time, measured on the
watcher's own monotonic clock, is silent, and its job folders are renamed to the watcher's: one
rename each, so that one watcher wins. A silent host that wakes up finds its job folders gone and
drops the work, since every effect is a rename out of that folder.
"""

from __future__ import annotations

import contextlib
import fcntl
import functools
import json
import os
import re
import secrets
import socket
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from filmhand.disk import atomic, file_names
from filmhand.disk.folders import HOST_NAME, hosts_in
from filmhand.disk.set_aside import set_aside
from filmhand.errors import AlreadyRunning

ALIVE_EVERY = 10.0  # seconds


class Lock:
    """Sole ownership of a state folder; held until :meth:`release` or the end of the process."""

    def __init__(self, state: Path) -> None:
        state.mkdir(parents=True, exist_ok=True)
        self._file = (state / "lock").open("ab+")
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            self._file.close()
            raise AlreadyRunning(
                "Filmhand is already running for this station and will take what waits; "
                "to stop it, end that process first."
            ) from error

    def release(self) -> None:
        """Let another process have the state folder."""
        self._file.close()


def is_locked(state: Path) -> bool:
    """True if a live process owns the state folder."""
    try:
        with (state / "lock").open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except FileNotFoundError:
        return False
    except OSError:
        return True
    return False


def host_id(state: Path) -> str:
    """This station's id on this computer: its name and random digits, kept in the state folder."""
    known = known_id(state)
    if known is not None:
        return known
    path = state / "host"
    fresh = fresh_id()
    atomic.write_atomic(path, fresh.encode() + b"\n")
    return fresh


def known_id(state: Path) -> str | None:
    """The id that a state folder holds; None if none was ever given."""
    with contextlib.suppress(OSError, UnicodeDecodeError):
        known = (state / "host").read_text(encoding="ascii").strip()
        if HOST_NAME.fullmatch(known):
            return known
    return None


def fresh_id() -> str:
    """An id of this computer that nobody had before."""
    name = re.sub(r"[^A-Za-z0-9_-]+", "-", socket.gethostname()).strip("-")[:40] or "host"
    return f"{name}-{secrets.token_hex(4)}"


@functools.cache
def _this_process(pid: int) -> dict[str, Any]:
    return {"pid": pid, "started": _started(pid), "where": _where()}


def _started(pid: int) -> str | None:
    """When a process began, in the kernel's ticks: a process id alone may be used again."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(errors="replace").rpartition(")")[2].split()[19]
    except (OSError, IndexError):
        return None


def _where() -> str | None:
    """Identifies the running kernel and its process numbering: this boot of this machine."""
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        return f"{boot} {Path('/proc/self/ns/pid').readlink()}"
    except OSError:
        return None


def sign_of_life(hidden: Path, host: str) -> None:
    """Write a new nonce to this host's `alive`."""
    folder = hidden / host
    folder.mkdir(exist_ok=True)
    data = {"nonce": secrets.token_hex(8), **_this_process(os.getpid())}
    atomic.write_atomic(folder / "alive", json.dumps(data).encode(), durable=False)


def say_goodbye(hidden: Path, host: str) -> None:
    """Remove this host's folder if no job is in it, also where a kill left it half-written."""
    folder = hidden / host
    with contextlib.suppress(OSError):
        own = {"alive", ".alive.new"}
        foreign = [path for path in folder.iterdir() if path.name not in own]
        if all(file_names.is_noise_folder(p.name) or not p.is_dir() for p in foreign):
            for path in foreign:
                set_aside(path, hidden)
            for name in own:
                (folder / name).unlink(missing_ok=True)
            folder.rmdir()


def certainly_dead(alive: bytes) -> bool:
    """True if `alive` names a process of this boot of this machine that exists no more."""
    try:
        data = json.loads(alive)
        pid, started, where = int(data["pid"]), data["started"], data["where"]
    except (ValueError, KeyError, TypeError):
        return False
    if where is None or started is None or where != _where():
        return False
    return bool(_started(pid) != started)


class Peers:
    """The other hosts of one profile folder, and since when each has been silent."""

    def __init__(
        self, hidden: Path, host: str, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._hidden = hidden
        self._host = host
        self._clock = clock
        self._heard: dict[str, tuple[bytes, float]] = {}

    def others(self) -> list[str]:
        """The ids of all other hosts that have a folder here."""
        return [name for name in hosts_in(self._hidden) if name != self._host]

    def silent(self, takeover: float) -> list[str]:
        """The other hosts whose nonce has not changed for `takeover` seconds, or that are dead."""
        now = self._clock()
        return [host for host in self.others() if self._is_silent(host, takeover, now)]

    def _is_silent(self, host: str, takeover: float, now: float) -> bool:
        try:
            alive = (self._hidden / host / "alive").read_bytes()
        except FileNotFoundError:
            alive = b""
        heard = self._heard.get(host)
        if heard is None or heard[0] != alive:
            self._heard[host] = (alive, now)
            return certainly_dead(alive)
        return now - heard[1] >= takeover or certainly_dead(alive)

    def adopt(self, host: str, *, busy: Callable[[Path], bool] = lambda folder: False) -> list[str]:
        """Take over the jobs of a silent host; the ids of those that this host won.

        A job that this host still has in hand, since it slept while the other took it over, waits
        until it has been put down: at its old place it would be worked on from an old state.
        """
        own = self._hidden / self._host
        own.mkdir(exist_ok=True)
        won = []
        for entry in sorted((self._hidden / host).iterdir()):
            if not entry.is_dir() or busy(own / entry.name):
                continue
            if file_names.is_noise_folder(entry.name):
                continue  # goes with the last sign of its host
            with contextlib.suppress(FileNotFoundError):
                atomic.rename_durably(entry, own / entry.name)
                won.append(entry.name)
        self._heard.pop(host, None)
        say_goodbye(self._hidden, host)
        return won

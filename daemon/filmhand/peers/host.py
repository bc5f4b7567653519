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

from filmhand.disk import atomic, forms
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.file_names import random_digits
from filmhand.disk.folders import HOST_NAME, hosts_in
from filmhand.disk.forms import is_job_id, is_print_id
from filmhand.disk.set_aside import clear, set_aside
from filmhand.errors import AlreadyRunning
from filmhand.jobs.print_order import ORDERS
from filmhand.peers.peer_words import PeerWord
from filmhand.prints.printer_turn import HALF_A_TURN, hand_over

ALIVE_EVERY = 15.0  # seconds


class Lock:
    """Sole ownership of a state folder; held until :meth:`release` or the end of the process."""

    def __init__(self, state: Path) -> None:
        state.mkdir(parents=True, exist_ok=True)
        self._file = (state / "lock").open("ab+")
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            self._file.close()
            raise AlreadyRunning(PeerWord.RUNS_ALREADY.say()) from error

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
    return f"{name}-{random_digits()}"


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


def sign_of_life(hidden: Beneath, host: str) -> None:
    """Write a new nonce to this host's `alive`, whatever somebody put in its place."""
    folder = hidden / host
    data = json.dumps({"nonce": secrets.token_hex(8), **_this_process(os.getpid())}).encode()
    try:
        atomic.write_atomic(folder / "alive", data, durable=False)
    except (FileNotFoundError, NotADirectoryError):
        try:
            folder.mkdir(exist_ok=True)
        except FileExistsError:
            set_aside(folder, hidden)
            folder.mkdir()
        atomic.write_atomic(folder / "alive", data, durable=False)


def say_goodbye(hidden: Beneath, host: str) -> None:
    """Remove this host's folder if no job and no print order is in it, also half-written ones."""
    folder = hidden / host
    with contextlib.suppress(OSError):
        own = {"alive", ".alive.new"}
        inside = folder.iterdir()
        if any(is_job_id(path.name) and path.is_dir() for path in inside):
            return
        orders = folder / ORDERS
        if orders.is_dir():
            if any(is_print_id(path.name) and path.is_dir() for path in orders.iterdir()):
                return
            clear(orders, hidden)
            inside = [path for path in inside if path != orders]
        for path in inside:
            is_own = path.name in own or path.name.startswith(HALF_A_TURN)
            if is_own and not path.is_dir():
                path.unlink(missing_ok=True)
            else:
                set_aside(path, hidden)
        folder.rmdir()


_LARGEST = 4096  # bytes of a sign of life
_SIGN = forms.record(
    {
        "nonce": forms.text("[0-9a-f]{16}"),
        "pid": forms.whole_number(1, 2**32),
        "started": forms.optional(forms.text(r"\d{1,20}")),
        "where": forms.optional(forms.text(longest=200)),
    },
    closed=False,
)


def last_sign(hidden: Beneath, host: str) -> bytes:
    """What this host wrote last; empty for what is no sign of life, or none at all."""
    try:
        return (hidden / host / "alive").read_bytes(_LARGEST)
    except (FileNotFoundError, ValueError):
        return b""
    except OSError as error:
        if error.errno not in IRREGULAR:
            raise
        return b""


def certainly_dead(alive: bytes) -> bool:
    """True if `alive` names a process of this boot of this machine that exists no more."""
    try:
        data = _SIGN(forms.parsed(alive))
    except ValueError:
        return False
    started, where = data["started"], data["where"]
    if where is None or started is None or where != _where():
        return False
    return bool(_started(data["pid"]) != started)


class Peers:
    """The other hosts of one profile folder, and since when each has been silent."""

    def __init__(
        self, hidden: Beneath, host: str, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._hidden = hidden
        self._host = host
        self._clock = clock
        self._heard: dict[str, tuple[bytes, float]] = {}
        self._told: list[tuple[str, float, int]] = []

    def others(self) -> list[str]:
        """The ids of all other hosts that have a folder here."""
        return hosts_in(self._hidden, besides=self._host)

    def silent(self, takeover: float) -> list[str]:
        """The other hosts whose nonce has not changed for `takeover` seconds, or that are dead."""
        now, others = self._clock(), self.others()
        silent = [host for host in others if self._is_silent(host, takeover, now)]
        self._told = [(host, self._heard[host][1], self._in_hand(host)) for host in others]
        return silent

    def heard(self) -> list[dict[str, Any]]:
        """The other hosts, since when each is silent and how many jobs it has, as of that look."""
        now = self._clock()
        return [
            {"name": host, "silent_s": round(now - at, 1), "in_hand": jobs}
            for host, at, jobs in self._told
        ]

    def _in_hand(self, host: str) -> int:
        with contextlib.suppress(OSError):
            return sum(map(is_job_id, (self._hidden / host).names()))
        return 0

    def _is_silent(self, host: str, takeover: float, now: float) -> bool:
        alive = last_sign(self._hidden, host)
        heard = self._heard.get(host)
        if heard is None or heard[0] != alive:
            self._heard[host] = (alive, now)
            return certainly_dead(alive)
        return now - heard[1] >= takeover or certainly_dead(alive)

    def adopt(
        self, host: str, *, busy: Callable[[Beneath], bool] = lambda folder: False
    ) -> list[str]:
        """Take over jobs and print orders of a silent host; the ids of those that this host won.

        A job that this host still has in hand, since it slept while the other took it over, waits
        until it has been put down: at its old place it would be worked on from an old state. What
        has not the name of a job, or that of one that lies here already, is set aside.
        """
        own = self._hidden / self._host
        own.mkdir(exist_ok=True)
        won = []
        for entry in (self._hidden / host).iterdir():
            if not is_job_id(entry.name) or not entry.is_dir():
                continue  # goes with the last sign of its host
            if not busy(own / entry.name) and self._take(entry, own):
                won.append(entry.name)
        won += self._adopt_orders(host)
        hand_over(self._hidden, host, self._host)  # afterward: nobody prints meanwhile
        self._heard.pop(host, None)
        say_goodbye(self._hidden, host)
        return won

    def _adopt_orders(self, host: str) -> list[str]:
        """Take over what the host was to print, with what was asked of it."""
        theirs, won = self._hidden / host / ORDERS, []
        if not theirs.is_dir():
            return []
        own = self._hidden / self._host / ORDERS
        try:
            own.mkdir(exist_ok=True)
        except FileExistsError:
            set_aside(own, self._hidden)
            own.mkdir()
        # A request goes ahead of its order, so that it is not followed by nobody.
        for entry in sorted(theirs.iterdir(), key=lambda entry: is_print_id(entry.name)):
            is_order = is_print_id(entry.name) and entry.is_dir()
            if not (is_order or (entry.is_file() and is_print_id(entry.name.partition(".")[0]))):
                set_aside(entry, self._hidden)
            elif self._take(entry, own) and is_order:
                won.append(entry.name)
        return won

    def _take(self, entry: Beneath, own: Beneath) -> bool:
        """True if it is this host's now; what would take the place of another is set aside."""
        if (own / entry.name).exists():
            set_aside(entry, self._hidden)
            return False
        with contextlib.suppress(FileNotFoundError):
            atomic.rename_durably(entry, own / entry.name)
            return True
        return False

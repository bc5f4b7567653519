"""Two hosts on one station under fire, and a count of what it did to the customers' files.

    python tests/soak/soak.py --minutes 15 --seed 1

Two processes with the real service, each with its own state folder, work on one station, while
strangers drop good, bad and hostile art, and while at random: hosts are killed, stopped for
longer than `takeover` and woken; workers are killed; disks are full; files may not grow; ledgers
vanish; a print queue takes films away; state is forged, files may not be read, shares are absent,
clocks jump (`faults.py`). Every few minutes all of that ends, the hosts finish what waits, and what
lies on disk is counted against what was dropped (`audit.py`); then it goes on in a new station.
Exit 1 if anything was lost, doubled, half-written or changed outside of the station.

With root the station and the state folders lie on small disks in memory, which can be filled and
taken away, and the hosts run as another user; without, files are kept from growing instead.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from audit import Audit, audit, files_in, is_ours, look_in_between
from drops import Dropper
from faults import Faults
from hosts import Disk, Host, as_user

ROUND = 180.0  # seconds of fire between two counts
BACKLOG = 30
DRAIN = 300.0
END = 120.0  # seconds that a host may take to end
_DEATHS = [signal.SIGKILL, signal.SIGTERM, signal.SIGSEGV]  # of a worker
_DISK = 192 * 2**20
_LEAST = 8192  # bytes that a file may have while files may not grow
_PROFILE = """
sheet: 3 x 3 in
dpi: 150
lpi: 15
dot: round
threshold: 50
mesh: none
margin: 0.1 in
settle: 300 ms
takeover: 4 s
write: [pdf, tiff]
limits: {seconds: 60, memory: 1 GiB}
keep: {films: 12 h, proofs: 12 h}
"""
_TOGETHER = """
gang: 1 s
art: {fit: width 20 mm}
marks: {label: false}
"""


class Ended(BaseException):
    """Somebody ends the soak."""


class Round:
    """One station from its first drop to its count."""

    def __init__(
        self, folder: Path, chance: random.Random, did: Counter[str], profile: str
    ) -> None:
        self.folder = folder
        self.chance = chance
        self.did = did
        folder.mkdir()
        self.disks = [Disk(folder / name, _DISK) for name in ("share", "one", "two")]
        station = self.disks[0].folder  # the share itself: absent, it is an empty folder
        self.root = station / "small"
        self.printed = folder / "printed"
        for path in (self.printed, folder / "scratch"):
            path.mkdir()
        with as_user():
            for path in (station / "profiles", self.root / "drop"):
                path.mkdir(parents=True)
            (station / "profiles" / "small.yaml").write_text(profile)
        self.hosts = [
            Host(station, disk.folder / "state", folder / "log") for disk in self.disks[1:]
        ]
        self.dropper = Dropper(self.root / "drop", chance)
        self.faults = Faults(self.disks[0], self.root, self.hosts, self.dropper, chance)
        self.full: dict[Disk, float] = {}
        self.found = Audit()
        self._due: dict[str, float] = {}

    # --- under fire ------------------------------------------------------------------------------

    def fire(self, seconds: float) -> None:
        """Drop things, and make trouble."""
        until = time.monotonic() + seconds
        troubles: dict[str, tuple[float, Callable[[Host], object]]] = {
            "host killed": (4, self._kill),
            "host stopped": (17, self._stop),
            "host told to end": (40, lambda host: host.send(signal.SIGTERM)),
            "worker killed": (6, self._kill_worker),
            "disk full": (25, self._fill),
            "files may not grow": (20, self._bind),
            "state folder deleted": (45, self._forget),
            "films taken": (3, self._take),
            "looked in between": (10, lambda host: look_in_between(self.root, self.found)),
            **self.faults.all(),
        }
        while time.monotonic() < until:
            self._heal()
            if not self.full and not self.faults.share.absent:
                with as_user():
                    self.dropper.go_on()
                    if self._backlog() < BACKLOG:
                        self.dropper.one()
            for name, (every, trouble) in troubles.items():
                if self._is_due(name, every):
                    self.did[name] += 1
                    trouble(self.chance.choice(self.hosts))
            time.sleep(0.1)

    def _is_due(self, name: str, every: float) -> bool:
        now = time.monotonic()
        if name not in self._due:
            self._due[name] = now + self.chance.uniform(0, 1) * every
        if now < self._due[name]:
            return False
        self._due[name] = now + self.chance.expovariate(1 / every)
        return True

    def _backlog(self) -> int:
        return len(files_in(self.dropper.drop))

    def _heal(self) -> None:
        """Start, wake and free whatever has been out of order for long enough."""
        now = time.monotonic()
        self.faults.heal()
        for host in self.hosts:
            if not host.runs() and now >= host.due:
                host.start()
            if host.wake and now >= host.wake:
                host.wake = 0.0
                host.send(signal.SIGCONT)
            if host.grow and now >= host.grow:
                host.grow = 0.0
                host.may_grow(None)
        for disk, until in list(self.full.items()):
            if now >= until:
                del self.full[disk]
                disk.free()

    def _kill(self, host: Host) -> None:
        host.send(signal.SIGKILL)
        host.due = time.monotonic() + self.chance.uniform(0, 2)

    def _stop(self, host: Host) -> None:
        """For a moment, or for so long that the other host takes over."""
        host.send(signal.SIGSTOP)
        host.wake = time.monotonic() + self.chance.choice([0.5, 3, 9])

    def _kill_worker(self, host: Host) -> None:
        for worker in host.workers()[:1]:
            with contextlib.suppress(ProcessLookupError):
                os.kill(
                    worker, self.chance.choice([signal.SIGKILL, signal.SIGTERM, signal.SIGSEGV])
                )

    def _fill(self, host: Host) -> None:
        disk = self.chance.choice(self.disks)
        if disk.mounted and not disk.absent and not self.dropper.writing():
            disk.fill()
            self.full[disk] = time.monotonic() + self.chance.uniform(1, 5)

    def _bind(self, host: Host) -> None:
        host.may_grow(self.chance.choice([0, 100, _LEAST]))
        host.grow = time.monotonic() + self.chance.uniform(0.5, 3)

    def _forget(self, host: Host) -> None:
        """Kill it and delete its state folder, or only its ledger.

        Not while the share is absent: without its state a host takes what is there for the station.
        """
        if self.faults.share.absent:
            return
        host.end()
        path = self.chance.choice([host.state, host.state / "ledger.sqlite"])
        shutil.rmtree(path, ignore_errors=True)
        path.unlink(missing_ok=True) if path.is_file() else None

    def _take(self, host: Host) -> None:
        """The print queue takes every film that it sees."""
        for film in files_in(self.root / "positives"):
            target = self.printed / film.relative_to(self.root / "positives")
            target.parent.mkdir(parents=True, exist_ok=True)
            self.did["films printed"] += 1
            target = target.with_name(f"{target.name}.{self.did['films printed']}")
            try:
                shutil.copyfile(film, target)
                film.unlink()
            except OSError:
                target.unlink(missing_ok=True)

    # --- in peace --------------------------------------------------------------------------------

    def drain(self) -> float:
        """All trouble ends and all work is finished; seconds that this took."""
        began = time.monotonic()
        self.full = dict.fromkeys(self.full, 0.0)
        self._heal()
        self.found.wrong += self.faults.finish()
        self.dropper.go_on(at_once=True)
        for host in self.hosts:
            host.end()  # a last time
            host.start()
        while time.monotonic() - began < DRAIN and not self._is_empty():
            for host in self.hosts:
                host.start()
            with as_user():
                self.dropper.supply_missing_art()
            time.sleep(0.3)
        for host in self.hosts:
            host.send(signal.SIGTERM)
        for host in self.hosts:
            if host.process is None:
                continue
            try:
                code: object = host.process.wait(timeout=END)
            except subprocess.TimeoutExpired:
                code = "nothing: it went on though it was told to end"
            if code != 0:
                self.found.wrong.append(f"a host ended with {code}")
        return time.monotonic() - began

    def _is_empty(self) -> bool:
        hidden = self.root / ".filmhand"
        return not self._backlog() and all(is_ours(path, hidden) for path in files_in(hidden))

    def count(self) -> Audit:
        """What lies on disk."""
        counted = audit(
            self.root,
            +self.dropper.contents,
            printed=self.printed,
            scratch=self.folder / "scratch",
            unfinished=frozenset(self.faults.unfinished),
            unsure=frozenset(self.faults.unsure),
        )
        return counted + self.found

    def close(self) -> None:
        """Take everything away."""
        for host in self.hosts:
            host.end()
        for disk in self.disks:
            disk.close()


@dataclass
class Result:
    """What was found, what was done to it, what was dropped; and what ended the soak early."""

    found: Audit = field(default_factory=Audit)
    did: Counter[str] = field(default_factory=Counter)
    dropped: Counter[str] = field(default_factory=Counter)
    early: str = ""


def soak(seconds: float, seed: int, folder: Path, keep: Path | None, profile: str) -> Result:
    """Rounds until the time is over; one that fails of itself is told, and the next begins."""
    chance, result = random.Random(seed), Result()
    until = time.monotonic() + seconds
    while not result.early and (left := until - time.monotonic()) > 5:
        result.did["rounds"] += 1
        number = result.did["rounds"]
        try:
            _round(folder / str(number), chance, result, profile, min(ROUND, left), keep)
        except Ended as ended:
            result.early = str(ended)
        except Exception:
            print(f"round {number} came to no end\n{traceback.format_exc()}", flush=True)
            result.found.wrong.append(f"round {number} came to no end")
            time.sleep(5)  # or thousands would fail for the same reason
    return result


def _round(
    folder: Path,
    chance: random.Random,
    result: Result,
    profile: str,
    seconds: float,
    keep: Path | None,
) -> None:
    one = Round(folder, chance, result.did, profile)
    try:
        one.fire(seconds)
        took = one.drain()
        counted = one.count()
        if counted.wrong and keep is not None:
            shutil.copytree(one.folder, keep / folder.name, symlinks=True, ignore=_special)
    finally:
        one.close()
    result.found += counted
    result.dropped += one.dropper.kinds
    result.did["files dropped"] += one.dropper.contents.total()
    print(
        f"round {folder.name}: {one.dropper.contents.total()} files, {counted.films} films, "
        f"{counted.refused} refused, {len(counted.wrong)} wrong; drained in {took:.0f} s",
        flush=True,
    )
    for line in counted.wrong:
        print("  " + line, flush=True)


def _end(number: int, _: object) -> None:
    raise Ended(signal.Signals(number).name)  # so that disks and hosts are let go


def _special(folder: str, names: list[str]) -> list[str]:
    return [name for name in names if (Path(folder) / name).is_fifo() or name == ".ballast"]


def main() -> int:
    """Run, print the counts, and say whether anything was lost, doubled or half-written."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=2.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for rounds in which something was wrong")
    parser.add_argument("--gang", action="store_true", help="several drops share a sheet")
    asked = parser.parse_args()
    profile = _PROFILE + (_TOGETHER if asked.gang else "")
    for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
        signal.signal(number, _end)
    sys.stdout.reconfigure(errors="backslashreplace")  # odd file names
    with tempfile.TemporaryDirectory(prefix="soak-") as folder:
        Path(folder).chmod(0o711)  # the hosts may be another user's
        (Path(folder) / "rounds").mkdir()
        result = soak(asked.minutes * 60, asked.seed, Path(folder) / "rounds", asked.keep, profile)
    found, did = result.found, result.did
    for name in sorted(did):
        print(f"{did[name]:8}  {name}")
    print("dropped: " + ", ".join(f"{n} {kind}" for kind, n in result.dropped.most_common()))
    print("refused: " + ", ".join(f"{n} {why}" for why, n in found.reasons.most_common()))
    counts = ("films", "shared", "of_sets", "jobs_made", "refused")
    for name in (*counts, "lost", "doubled", "half_written"):
        print(f"{getattr(found, name):8}  {name.replace('_', ' ')}")
    if result.early:
        print(f"ended by {result.early}; the round that went on is not counted")
        return 143
    return 1 if found.wrong or found.lost + found.doubled + found.half_written else 0


if __name__ == "__main__":
    sys.exit(main())

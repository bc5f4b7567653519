"""Sets of films made, held, released and printed by two hosts that are killed at random moments.

``python tests/soak/sets_killed.py [--kills 120] [--seed 1] [--folder DIR]``: pictures and printer
are pretended, all else is the real thing. After each kill nothing is lost, doubled or half there,
and at the end each film has been printed once and those of a set in one run.
"""

from __future__ import annotations

import argparse
import fcntl
import json
import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any, NoReturn

sys.path.insert(0, str(Path(__file__).parents[1] / "failure"))

import job_harness
from held_harness import make_queue
from print_harness import FolderPrinter, orders, printing

from filmhand.peers import host as peers_host
from filmhand.printer.print_request import JobState
from filmhand.prints import printer_queue

HOSTS = ("here-00000000", "there-11111111")
KILLS_A_STATION = 12
_LONGEST = 1.5  # seconds that a host lives at most
_INKS = ("-1-red", "-2-blue", "-3-black")


class Broken(AssertionError):
    """Something that must hold does not."""


class SturdyPrinter(FolderPrinter):
    """A printer that two hosts may talk with at once, and that does not die with them."""

    def turn(self) -> None:
        """Print what has come; the sheet and the job's end are one step."""
        for number, job in self.jobs().items():
            if not JobState(job["state"]).ended and job["document"] is not None:
                self._set(number, state=JobState.COMPLETED, printed=len(self.sheets()))

    def sheets(self) -> list[str]:
        done = [job for job in self.jobs().values() if "printed" in job]
        return [job["document"] for job in sorted(done, key=lambda job: job["printed"])]


def _one_at_a_time(name: str) -> Callable[..., Any]:
    asked = getattr(FolderPrinter, name)

    def answer(printer: FolderPrinter, *values: Any, **options: Any) -> Any:
        with (printer.folder / "lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            return asked(printer, *values, **options)

    return answer


for name in ("capabilities", "find", "create", "send", "job", "cancel"):
    setattr(SturdyPrinter, name, _one_at_a_time(name))


class Station:
    """A profile's folder that two hosts share, its printer, and what was dropped there."""

    def __init__(self, folder: Path, random: Random) -> None:
        self.folder, self.random, self.root = folder, random, folder / "small"
        self.device = SturdyPrinter(folder / "printer")
        self.approve = random.random() < 0.5
        self.dropped: list[bytes] = []
        (self.root / "drop" / "class").mkdir(parents=True)

    def drop(self, count: int) -> None:
        """Sets of one page and of two, and now and then a film by itself."""
        for _ in range(count):
            number = len(self.dropped)
            word = self.random.choice([b"set", b"set", b"sets", b"print"])
            data = word + b" %d to the printer" % number
            name = self.random.choice(["poster.png", f"art {number}.png", "class/logo.tif"])
            place = self.root / "drop" / name
            if not place.exists():
                self.dropped.append(data)
                place.write_bytes(data)

    def release(self, *, all_of_them: bool = False) -> None:
        """Somebody moves proofs from held/ to release/."""
        for proof in sorted((self.root / "held").rglob("*.jpg")):
            if all_of_them or self.random.random() < 0.4:
                target = self.root / "release" / proof.relative_to(self.root / "held")
                target.parent.mkdir(parents=True, exist_ok=True)
                try:
                    proof.rename(target)
                except FileNotFoundError:
                    continue  # it was taken away just now

    # --- hosts -------------------------------------------------------------------------------

    def start(self, host: str) -> int:
        """A host that works until it is killed; its process."""
        pid = os.fork()
        if not pid:
            self._live(host)
        return pid

    def _live(self, host: str) -> NoReturn:
        try:
            printer_queue.FOLLOWED_EVERY = printer_queue.AT_REST = 0.02
            peers_host.ALIVE_EVERY = 0.2
            job_harness.forbid_removing(self.root)
            state = self.folder / f"state-{host}"
            queue = make_queue(self.root, state, host, approve=self.approve, takeover=20.0)
            desk = printing(queue, self.device)
            while True:
                queue.look()
                while (task := queue.take()) is not None:
                    queue.do(task)
                    desk.step()
                desk.step()
                time.sleep(0.005)
        except BaseException as error:  # whatever it is, the parent is to hear of it
            os.write(2, f"host {host}: {error!r}\n".encode())
        os._exit(97)

    def kill(self, pid: int) -> None:
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        if not os.WIFSIGNALED(status):
            raise Broken(f"a host ended by itself with {os.waitstatus_to_exitcode(status)}")

    # --- what must hold ----------------------------------------------------------------------

    def check(self) -> None:
        """At any moment: nothing lost or doubled, and sets whole as far as people see them."""
        job_harness.assert_invariants_in_hand(self.root, self.dropped)
        for film in job_harness.files_in(self.root / "positives"):
            around = film.parent.relative_to(self.root / "positives")
            for end in _INKS if film.stem.endswith(_INKS) else ():
                stem = next(film.stem.removesuffix(one) for one in _INKS if film.stem.endswith(one))
                record = self.root / "records" / around / f"{stem}{end}.json"
                if not record.is_file():
                    raise Broken(f"{film} is there without {record}")
        doubled = [one for one, count in Counter(self.device.sheets()).items() if count > 1]
        if doubled:
            raise Broken(f"printed twice: {doubled}")

    def finished(self) -> bool:
        hidden = self.root / ".filmhand"
        jobs = list(hidden.glob("*/*/job.json"))
        return not jobs and not orders(self.root) and not job_harness.files_in(self.root / "drop")

    def check_end(self) -> None:
        """All has been made and printed, once, and each set in one run."""
        self.check()
        job_harness.assert_invariants(self.root, self.dropped, {"sheets"})
        wanted = [
            f"document of {job_harness.sha256(data)}{end}"
            for data in self.dropped
            for end in job_harness.suffixes_of(data)
        ]
        sheets = self.device.sheets()
        if Counter(sheets) != Counter(wanted):
            raise Broken(f"printed {len(sheets)} of {len(wanted)}: {Counter(wanted)} {sheets}")
        for place, sheet in enumerate(sheets):
            if sheet.endswith(_INKS[0]):
                run = [sheet.removesuffix(_INKS[0]) + end for end in _INKS]
                if sheets[place : place + 3] != run:
                    raise Broken(f"something came between {run}: {sheets}")


def run_station(folder: Path, seed: int, kills: int) -> Counter[str]:
    """One station whose hosts are killed so often; what happened there."""
    random = Random(seed)
    station, told = Station(folder, random), Counter[str]()
    done = 0
    while done < kills:
        station.drop(random.randrange(3))
        pids = [station.start(host) for host in HOSTS if random.random() < 0.6]
        until = time.monotonic() + random.uniform(0.02, _LONGEST)
        while time.monotonic() < until:
            time.sleep(0.05)
            if station.approve and random.random() < 0.1:
                station.release()
        for pid in pids:
            station.kill(pid)
            done += 1
        station.check()
    _let_it_end(station)
    station.check_end()
    told["hosts killed"] = done
    told["files dropped"] = len(station.dropped)
    told["sheets printed, each once"] = len(station.device.sheets())
    told["stations with approval"] = station.approve
    shutil.rmtree(folder)
    return told


def _let_it_end(station: Station) -> None:
    """One host is gone for good, the other does what is left."""
    pid = station.start(station.random.choice(HOSTS))
    until = time.monotonic() + 120
    while not station.finished() or list((station.root / ".filmhand").glob("turn-*")):
        if time.monotonic() > until:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
            left = [str(path) for path in job_harness.files_in(station.root / ".filmhand")]
            raise Broken(f"it does not come to an end: {left}")
        station.release(all_of_them=True)
        time.sleep(0.1)
    time.sleep(0.3)
    station.kill(pid)


def run(area: Path, kills: int, seed: int) -> tuple[int, Counter[str]]:
    """So many kills over several stations; how many stations did not pass, and what happened."""
    broken, told, number = 0, Counter[str](), 0
    while told["hosts killed"] < kills:
        folder = area / str(number)
        folder.mkdir()
        count = min(KILLS_A_STATION, kills - told["hosts killed"])
        try:
            told += run_station(folder, seed * 1000 + number, count)
        except AssertionError:
            broken += 1
            told["hosts killed"] += count
            print(f"station {seed * 1000 + number}: {traceback.format_exc()}", flush=True)
        number += 1
        print(json.dumps(dict(told)), flush=True)
    told["stations"] = number
    return broken, told


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=120)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="on a disk in memory it is faster")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=chosen.folder, ignore_cleanup_errors=True) as place:
        broken, told = run(Path(place), chosen.kills, chosen.seed)
    print(f"{dict(told)}; {broken} stations that did not pass")
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())

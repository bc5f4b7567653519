"""Forged state in a station, and the service at work over it: nothing outside may change.

``python tests/fuzz/forged_state.py [--count 100000] [--seed 1] [--folder DIR]`` forges so many
states by structure (`forging.py`), some forty in a station at a time, lets the service look,
recover, adopt, learn, tidy, tell and try again, and checks after each station that

- outside of it nothing has changed: content, times, links, names,
- the bytes of no file outside turn up in the station or in the state folder,
- no error escapes and filmhand itself never fails,
- the sound art beside the forged states became films, or was refused, once,
- no regular file that a customer could have put there is lost.

It prints what was forged, and the seed of a station that does not pass. Films are pretended.
"""

from __future__ import annotations

import argparse
import faulthandler
import json
import os
import shutil
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "failure"))
sys.path.insert(0, str(Path(__file__).parent))

import job_harness
from forging import DEAD, OWN, Forger, sha256
from print_harness import FolderPrinter, printing

from filmhand.disk import file_names
from filmhand.disk import folders as folders_module
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble, FilmhandError
from filmhand.jobs import retry
from filmhand.page.status_page import status_page
from filmhand.peers import survey
from filmhand.profile.model import Keep
from filmhand.profile.printing import Budget
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue import job_queue
from filmhand.queue.job_queue import JobQueue
from filmhand.service.history import file_history, retry_refused
from filmhand.service.station_mark import StationMark
from filmhand.service.status import find_state, leave_pointer, status_of
from filmhand.service.strays import strays

STATES_A_STATION = 40
_LOOKS = 60
_SECRET = b"CANARY-that-nobody-may-read-"


class Broken(AssertionError):
    """Something that must hold does not."""


class Canaries:
    """A tree beside the station in which nothing may change."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("secret.txt", "folder/one.png", "folder/two/three.pdf", "state/status.json",
                     "jobs/20260101T000000-00000001/job.json", "drop/a.png", "records/r.json",
                     "jobs/20260101T000000-00000001/held/a.png", "positives/f.pdf",
                     "state/scratch/x"):  # fmt: skip
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(_SECRET + name.encode() + os.urandom(8).hex().encode())
        (folder / "link").symlink_to("secret.txt")
        (folder / "empty").mkdir()
        self._seen = dict(self._look())

    def _look(self) -> Iterator[tuple[str, tuple[Any, ...]]]:
        for path in (self.folder, *sorted(self.folder.rglob("*"))):
            found = path.lstat()
            facts = (found.st_mode, found.st_mtime_ns, found.st_ctime_ns, found.st_ino)
            content = path.readlink() if path.is_symlink() else None
            if path.is_file() and not path.is_symlink():
                content = path.read_bytes()
            yield str(path), (*facts, found.st_uid, found.st_nlink, found.st_size, content)

    def check(self) -> None:
        now = dict(self._look())
        for path in self._seen.keys() | now.keys():
            if self._seen.get(path) != now.get(path):
                raise Broken(f"{path} changed: {self._seen.get(path)} -> {now.get(path)}")


class Shop:
    """One station with sound work and forged states in it."""

    def __init__(self, area: Path, seed: int) -> None:
        self.area, self.random = area, Random(seed)
        self.station, self.state = area / "station", area / "state"
        self.root = self.station / "small"
        self.clock = 0.0
        self.failed: list[str] = []
        self.counts = self.random.random() < 0.4  # all jobs are counted, and pass the state held
        self.said: Counter[str] = Counter()
        for folder in (self.station, self.state, area / "printer"):
            shutil.rmtree(folder, ignore_errors=True)
        self.printer = FolderPrinter(area / "printer")
        StationMark(self.station, self.state).begin()
        Folders(self.root).make()
        self.forger = Forger(self.random, self.root, area / "outside")

    def queue(self, host: str = OWN) -> JobQueue:
        """A service that starts now."""
        gang = GangWishes(wait=5.0) if self.random.random() < 0.3 else None
        budget = Budget(day=100_000) if self.counts else None
        queue = job_harness.make_queue(
            self.root, self.state, host, gang=gang, say=self._say, takeover=60.0, settle=1.0,
            wishes={"budget": self.counts}, budget=budget, holds=self.counts,
            clock=lambda: self.clock, finished=_finished,
        )  # fmt: skip
        queue.change(replace(queue.settings, keep=Keep(films=86400.0, records=86400.0)))
        return queue

    def _say(self, event: str, **facts: object) -> None:
        self.said[event] += 1
        if event in {"filmhand itself failed", "looking failed", "measuring failed"}:
            self.failed.append(str(facts.get("traceback")))
        if event == "paused":
            self.said[f"paused: {facts.get('why')}"] += 1

    def work(self, queue: JobQueue, looks: int = _LOOKS) -> None:
        """Look and work until all is done that can be done by itself."""
        for number in range(looks):
            self.clock += 11.0
            queue.look()
            while (task := queue.take()) is not None:
                queue.do(task)
            if number > 12 and queue.idle():
                break
        desk = printing(queue, self.printer, clock=lambda: self.clock)
        for _ in range(looks):
            self.clock += 400.0
            desk.step()
        json.dumps(desk.status())

    def ask(self, queue: JobQueue) -> None:
        """All that people may ask about a station."""
        folders = queue.context.folders
        with suppress(OSError):
            now = survey.file_system_time(folders.hidden)
            survey.hosts_seen(folders, now)
            survey.stuck_jobs(folders, now - 1e6)
            survey.stuck_jobs(folders, now + 1e6)
            survey.old_noise(folders, now + 1e6)
            survey.jobs_in_hand(folders)
        told = status_of(
            self.station,
            [queue],
            queue.context.ledger,
            profiles_folder=self.station / "profiles",
            faults=[],
            running=True,
        )
        json.dumps(told)
        status_page(told)
        list(strays(self.station, {"small": self.root}, []))
        leave_pointer(self.station, self.state, OWN)
        if str(find_state(self.station)).startswith(str(self.area / "outside")):
            raise Broken("a forged pointer to a state folder was believed")
        roots = {"small": folders}
        for name in ("a.png", "r", "film 1", "s", DEAD):
            json.dumps(file_history(roots, name, self.state / "none").found)
        jobs = [one["job"] for one in retry.refusals(folders)][-3:]
        for job in (*jobs, "20260101T000000-00000001", "a.png"):
            with suppress(FilmhandError, OSError):
                retry_refused(roots, job, self.state / "scratch")


def _finished(path: Beneath) -> job_harness.Ending:
    with path.open() as file:
        cut = file.read(3) == b"cut"
    return job_harness.Ending(not cut, "the last bytes are missing" if cut else "")


def contents(folder: Path) -> Counter[bytes]:
    """What the regular files below a folder hold; very long ones count as empty."""
    found: Counter[bytes] = Counter()
    for place, inside, names in os.walk(folder):
        # What a network disk makes anew is removed with all that is in it.
        inside[:] = [name for name in inside if not file_names.is_remade(name)]
        for name in names:
            path = Path(place, name)
            with suppress(OSError):
                if path.is_file() and not path.is_symlink() and path.stat().st_size < 2**24:
                    found[path.read_bytes()] += 1
    return found


def run_station(area: Path, seed: int, canaries: Canaries, count: int) -> Counter[str]:
    """Forge so many states in one station, let the service work over it, and check all."""
    shop = Shop(area, seed)
    drop = shop.root / "drop"
    sound = [b"art sound %d %d" % (seed, number) for number in range(3)]
    sound.append(b"refuse sound %d" % seed)
    sound.append(b"print sound %d to the printer" % seed)
    sound.append(b"set sound %d to the printer" % seed)
    for number, data in enumerate(sound):
        folder = drop / "class" if number == 1 else drop
        folder.mkdir(exist_ok=True)
        (folder / f"sound {number}.png").write_bytes(data)
    for _ in range(count):
        shop.forger.forge()
    wanted = [*sound, *shop.forger.customers]
    before = contents(shop.root)
    wanted = [data for data in wanted if before[data]]
    queue = shop.queue()
    shop.work(queue)
    shop.ask(queue)
    queue.context.ledger.close()
    queue = shop.queue()  # once more from the start, also for what was put back
    shop.work(queue)
    _check(shop, canaries, wanted, sound)
    queue.context.ledger.close()
    return shop.said


def _check(shop: Shop, canaries: Canaries, wanted: list[bytes], sound: list[bytes]) -> None:
    canaries.check()
    if shop.failed:
        raise Broken(f"filmhand itself failed:\n{shop.failed[0]}")
    inside, state = contents(shop.root), contents(shop.state)
    for data in (*inside, *state, *contents(shop.station / ".filmhand")):
        if _SECRET in data:
            raise Broken(f"bytes from outside are in the station: {data[:80]!r}")
    for data in wanted:
        if inside[data] != 1:
            raise Broken(f"{data!r} is there {inside[data]} times")
    done = contents(shop.root / "originals") + contents(shop.root / "rejected")
    for data in sound:
        if done[data] != 1:
            raise Broken(f"sound work was not ended: {data!r}; {dict(shop.said)}")
        film = b"film of " + sha256(data).encode()
        made = any(
            one.startswith((film, b"sheet of ")) for one in contents(shop.root / "positives")
        )
        if data.startswith(b"art") and not made:
            raise Broken(f"no film of {data!r}")
        paused = os.path.lexists(shop.forger.hidden / "printing-paused")
        sheets = [one for one in shop.printer.sheets() if sha256(data) in one]
        if data.startswith(b"set"):
            ends = [one.rpartition("-")[2] for one in shop.printer.sheets()]
            run = ["red", "blue", "black"] if sheets else []
            if sheets == [f"document of {sha256(data)}"]:  # the pretended renderer of shared sheets
                continue
            first = shop.printer.sheets().index(sheets[0]) if sheets else 0
            if len(sheets) != len(run) or ends[first : first + len(run)] != run:
                raise Broken(f"no run of {data!r}: {sheets}")
            if not (sheets or paused or _shared(shop, data)):
                raise Broken(f"{data!r} was not printed: {dict(shop.said)}")
            continue
        printed = sheets.count(f"document of {sha256(data)}")
        if printed != data.startswith(b"print") and not (paused or _shared(shop, data)):
            raise Broken(f"{data!r} was printed {printed} times: {dict(shop.said)}")


def _shared(shop: Shop, data: bytes) -> bool:
    """True if the film lies on a sheet with others, which is printed as a whole, if at all."""
    whole = b"film of " + sha256(data).encode()
    return not any(one.startswith(whole) for one in contents(shop.root / "positives"))


def run(
    area: Path, count: int, seed: int, tell: Callable[[int, Counter[str]], None] = lambda *_: None
) -> tuple[int, Counter[str]]:
    """Forge `count` states; how many stations did not pass, and what the service said."""
    said: Counter[str] = Counter()
    broken = done = 0
    canaries = Canaries(area / "outside")
    while done < count:
        part = min(STATES_A_STATION, count - done)
        number = seed * 1_000_000 + done
        faulthandler.dump_traceback_later(120)  # where it hangs, if it does
        try:
            said += run_station(area, number, canaries, part)
        except (Exception, EnvironmentTrouble):
            broken += 1
            print(f"station {number} ({part} states):\n{traceback.format_exc()}", flush=True)
        faulthandler.cancel_dump_traceback_later()
        done += part
        tell(done, said)
    return broken, said


def hurry(change: Callable[[object, str, object], None] = setattr) -> None:
    """Do without what only costs time here: waiting for a disk, and reading thousands of mounts."""
    change(os, "fsync", lambda descriptor: None)
    for module in (job_queue, folders_module):
        change(module, "is_network", lambda path: False)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--station", type=int, help="one station again, by its number")
    parser.add_argument("--states", type=int, default=STATES_A_STATION)
    parser.add_argument("--folder", type=Path, help="on a disk in memory it is faster")
    chosen = parser.parse_args()
    hurry()
    with tempfile.TemporaryDirectory(dir=chosen.folder, ignore_cleanup_errors=True) as place:
        area = Path(place)
        if chosen.station is not None:
            print(run_station(area, chosen.station, Canaries(area / "outside"), chosen.states))
            return 0

        def tell(done: int, said: Counter[str]) -> None:
            if done % 1000 == 0 or done == chosen.count:
                print(f"{done} forged; {dict(said.most_common(12))}", flush=True)

        broken, _ = run(area, chosen.count, chosen.seed, tell)
    print(f"{chosen.count} forged states, {broken} stations that did not pass")
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())

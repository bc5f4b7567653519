"""A great many files dropped at once: what each costs then, in which order, at what memory.

``python tests/soak/many.py [--files 1000 10000] [--folders 200] [--folder DIR]`` drops so many
small files, spread over sub-folders, and lets the service work them off. It prints a line for each
number of files: files a second, processor time of the service for each, its most memory, the
greatest age of status.json, and by how many places a file was made before its turn. None of them
should grow with the number of files. The renderer is pretended; everything else is the real thing,
in a process of its own. ``--same`` drops them one after another under one name instead, and prints
what each of the first and of the last hundred takes.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, fields
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "failure"))

import job_harness
import service_process
from test_service_station import PROFILE

_HERTZ = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Row:
    """What was found for so many files."""

    files: int
    folders: int
    seconds: float
    files_a_s: float
    cpu_ms: float  # of the service, for each file
    cpu_ms_late: float  # for each of the second half
    idle_mib: float
    most_mib: float
    status_s: float
    early: int


def drop(root: Path, count: int, folders: int) -> None:
    """The oldest first, and each a second younger than the one before."""
    for number in range(count):
        place = f"class {number % folders}/{number // folders}" if folders else f"{number}"
        path = root / "drop" / f"{place}.png"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"art %d" % number)
        then = 1_700_000_000 + number
        os.utime(path, (then, then))


class Service:
    """The service on a station of its own."""

    def __init__(self, place: Path) -> None:
        self.station, self.state = place / "station", place / "state"
        self.root = self.station / "small"
        profile = self.station / "profiles" / "small.yaml"
        profile.parent.mkdir(parents=True)
        profile.write_text(PROFILE)
        (self.root / "drop").mkdir(parents=True)
        command = [sys.executable, service_process.__file__, "serve"]
        self.process = subprocess.Popen(
            [*command, str(self.station), str(self.state)],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            stderr=subprocess.DEVNULL,
        )
        while not (self.state / "status.json").exists():
            time.sleep(0.1)

    def made(self) -> int:
        """How many have been made, as status.json tells."""
        return int(json.loads((self.state / "status.json").read_bytes())["counts"]["made"])

    def age(self) -> float:
        return time.time() - (self.state / "status.json").stat().st_mtime

    def processor(self) -> float:
        """Seconds of processor time so far."""
        text = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(text[11]) + int(text[12])) / _HERTZ

    def resident(self) -> float:
        """Mebibytes now."""
        pages = int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 2**20

    def stop(self) -> None:
        self.process.send_signal(signal.SIGTERM)
        self.process.wait()


def run(place: Path, count: int, folders: int, at_most: float) -> Row:
    """Drop them all and watch until they are made, or until `at_most` seconds are over."""
    service = Service(place)
    try:
        time.sleep(2)
        idle, most, oldest = service.resident(), 0.0, 0.0
        drop(service.root, count, folders)
        began, start = time.monotonic(), service.processor()
        half: tuple[int, float] | None = None
        while (made := service.made()) < count and time.monotonic() - began < at_most:
            most, oldest = max(most, service.resident()), max(oldest, service.age())
            if half is None and made >= count / 2:
                half = made, service.processor()
            time.sleep(0.5)
        seconds, used = time.monotonic() - began, service.processor()
        at, before = half or (0, start)
        return Row(
            files=made,
            folders=folders,
            seconds=seconds,
            files_a_s=made / seconds,
            cpu_ms=1000 * (used - start) / max(1, made),
            cpu_ms_late=1000 * (used - before) / max(1, made - at),
            idle_mib=idle,
            most_mib=most,
            status_s=oldest,
            early=before_their_turn(service.root, folders),
        )
    finally:
        service.stop()


def before_their_turn(root: Path, folders: int) -> int:
    """By how many places a file was made too early, at most; from the order of the records."""
    turns = []
    for path in (root / "records").rglob("*.json"):
        made = json.loads(path.read_bytes())["job"]
        number = int(path.stem)
        if folders:
            number = number * folders + int(path.parent.name.removeprefix("class "))
        turns.append((path.stat().st_mtime_ns, made, number))
    return max((number - place for place, (_, _, number) in enumerate(sorted(turns))), default=0)


def one_name(place: Path, count: int) -> str:
    """Drop the same name again and again, refused now and then; what the first and last take."""
    queue = job_harness.make_queue(place / "small", place / "state", settle=0.0)
    queue.look()
    path = place / "small" / "drop" / "poster.png"
    times = []
    for number in range(count):
        path.write_bytes(b"%s %d" % (b"art" if number % 2 else b"refuse", number))
        queue.look()
        began = time.process_time()
        while (work := queue.take()) is None:
            queue.look()
            began = time.process_time()
        queue.do(work)
        times.append(time.process_time() - began)
    first, last = (1000 * sum(some) / len(some) for some in (times[:100], times[-100:]))
    return (
        f"{count} drops of one name: {first:.2f} ms each of the first 100, {last:.2f} of the last"
    )


def main() -> None:
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("--files", type=int, nargs="+", default=[1000, 10_000])
    words.add_argument("--folders", type=int, default=200, help="sub-folders; 0: all in one")
    words.add_argument("--seconds", type=float, default=3600, help="at most, for each number")
    words.add_argument("--folder", type=Path, help="where to work; a fresh folder is made in it")
    words.add_argument("--same", action="store_true", help="one name again and again instead")
    given = words.parse_args()
    if given.same:
        for count in given.files:
            with tempfile.TemporaryDirectory(dir=given.folder) as place:
                print(one_name(Path(place), count), flush=True)
        return
    columns = [field.name for field in fields(Row)]
    print("  ".join(f"{name:>11}" for name in columns), flush=True)
    for count in given.files:
        place = Path(tempfile.mkdtemp(dir=given.folder))
        try:
            row = run(place, count, given.folders, given.seconds)
        finally:
            shutil.rmtree(place)
        print("  ".join(f"{getattr(row, name):11.5g}" for name in columns), flush=True)


if __name__ == "__main__":
    main()

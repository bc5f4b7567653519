"""A year of one profile in a few minutes: many small jobs, with the clocks wound forward.

``python tests/soak/year.py [--jobs 18000] [--folder DIR] [--rows 12]`` prints a line now and then:
memory, open files, threads, and what a start costs then (seconds, and files opened). They should
not grow. The renderer is pretended, the pictures are a few bytes; everything else is the real
thing: folders, claims, ledger, log, tidying by `keep`. A folder in memory (``--folder /dev/shm``)
makes it quicker, since each job waits for the disk several times.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "failure"))

import job_harness

from filmhand.profile.model import Keep
from filmhand.queue.job_queue import JobQueue
from filmhand.service.log import ServiceLog

DAY = 86400.0
YEAR = 365 * DAY
KEEP = Keep(films=30 * DAY, proofs=60 * DAY, records=90 * DAY)
MADE = ("positives", "proofs", "records")
# The year ends today: the file system's own clock is never behind the one that is wound forward.
START = datetime.now(UTC) - timedelta(seconds=YEAR)


class Clock:
    """Steady and wall clock, wound by hand."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def __call__(self) -> float:
        return self.seconds

    def wall(self) -> datetime:
        return START + timedelta(seconds=self.seconds)


class Nowhere(io.TextIOBase):
    """A terminal that keeps nothing: a year's lines in memory would pass for a leak."""

    def write(self, text: str) -> int:
        return len(text)


@dataclass(frozen=True)
class Row:
    """What was found after so many jobs."""

    jobs: int
    day: int
    memory_mib: float
    open_files: int
    threads: int
    start_s: float
    start_opens: int
    ms_a_job: float
    films: int
    ledger_mb: float
    log_mb: float


_opened = 0


def _count_opens(event: str, arguments: tuple[Any, ...]) -> None:
    global _opened  # noqa: PLW0603
    _opened += event in {"open", "os.listdir", "os.scandir"}


def make_queue(root: Path, state: Path, clock: Clock, log: ServiceLog) -> JobQueue:
    queue = job_harness.make_queue(
        root, state, clock=clock, steady=clock, now=clock.wall, say=log.say
    )
    queue.change(type(queue.settings)(snapshot={"name": "small"}, settle=2.0, keep=KEEP))
    return queue


def year(folder: Path, jobs: int, rows: int) -> Iterator[Row]:
    """Do the jobs, and measure `rows` times on the way."""
    sys.addaudithook(_count_opens)
    chance, clock = random.Random(1), Clock()
    root, state = folder / "small", folder / "state"
    state.mkdir(parents=True)
    log = ServiceLog(state / "filmhand.log", Nowhere())
    queue = make_queue(root, state, clock, log)
    queue.look()
    seen: set[str] = set()
    done, due, began = 0, jobs // rows, time.monotonic()
    while done < jobs:
        batch = min(chance.randint(1, 5), jobs - done)
        for number in range(done, done + batch):
            drop(root, number, chance)
        done += batch
        work_off(queue, clock)
        date_what_is_new(root, seen, clock)
        clock.seconds = max(clock.seconds, YEAR * done / jobs)
        if done >= due:
            took, due = time.monotonic() - began, due + jobs // rows
            yield measure(root, state, clock, done, took / (jobs // rows))
            began = time.monotonic()
    log.close()
    queue.context.ledger.close()


def drop(root: Path, number: int, chance: random.Random) -> None:
    word = chance.choices(("art", "pages", "refuse", "poison"), (92, 2, 5, 1))[0]
    folder = root / "drop" / chance.choice(("", "", "class 4"))
    folder.mkdir(parents=True, exist_ok=True)
    name = chance.choices(("poster", "logo", number), (3, 3, 94))[0]  # some names come often
    path = folder / f"{name}.png"
    if path.exists():  # one of this batch
        path = folder / f"{number}.png"
    path.write_bytes(f"{word} {number}".encode())


def work_off(queue: JobQueue, clock: Clock) -> None:
    for _ in range(20):
        queue.look()
        while (work := queue.take()) is not None:
            queue.do(work)
        queue.look()
        if queue.idle():
            return
        clock.seconds += 3.0
    raise AssertionError(f"not idle: {queue.status()}")


def date_what_is_new(root: Path, seen: set[str], clock: Clock) -> None:
    """Give the files of the last jobs the time at which the wound clock says they were made."""
    there: set[str] = set()
    for place in MADE:
        for folder in (root / place, root / place / "class 4"):
            with contextlib.suppress(FileNotFoundError):
                there.update(map(str, folder.iterdir()))
    at = clock.wall().timestamp()
    for path in there - seen:
        os.utime(path, (at, at))
    seen.clear()
    seen.update(there)


def measure(root: Path, state: Path, clock: Clock, done: int, seconds_a_job: float) -> Row:
    fresh = ServiceLog(None, Nowhere())
    before, began = _opened, time.perf_counter()
    queue = make_queue(root, state, clock, fresh)
    queue.look()
    start_s, start_opens = time.perf_counter() - began, _opened - before
    queue.context.ledger.close()
    log = sum(path.stat().st_size for path in state.glob("filmhand.log*"))
    return Row(
        jobs=done,
        day=int(clock.seconds / DAY),
        memory_mib=memory_mib(),
        open_files=entries(Path("/proc/self/fd")),
        threads=entries(Path("/proc/self/task")),
        start_s=start_s,
        start_opens=start_opens,
        ms_a_job=1000 * seconds_a_job,
        films=len(job_harness.files_in(root / "positives")),
        ledger_mb=sum(p.stat().st_size for p in state.glob("ledger.sqlite*")) / 1e6,
        log_mb=log / 1e6,
    )


def entries(folder: Path) -> int:
    return sum(1 for _ in folder.iterdir())


def memory_mib() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def main() -> None:
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("--jobs", type=int, default=18_000)
    words.add_argument("--rows", type=int, default=12)
    words.add_argument("--folder", type=Path, help="where to work; a fresh folder is made in it")
    given = words.parse_args()
    names = [field.name for field in fields(Row)]
    print("  ".join(f"{name:>11}" for name in names))
    with tempfile.TemporaryDirectory(dir=given.folder) as place:
        for row in year(Path(place), given.jobs, given.rows):
            values = (getattr(row, name) for name in names)
            print("  ".join(f"{value:11.6g}" for value in values), flush=True)


if __name__ == "__main__":
    main()

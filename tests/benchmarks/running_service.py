"""A service on a station of its own, for measuring: started, given art, watched and stopped."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import process_tree
from process_tree import MemoryWatch

_LOOK_EVERY = 0.2  # seconds between two looks at the memory: little beside the work itself
_START, _LONGEST = 60.0, 3600.0  # seconds that the start, and all films, may take


@dataclass(frozen=True, slots=True)
class Worked:
    """What a number of films cost: seconds from the drop, seconds of processor time, MiB.

    The memory is 0 where nobody looked at it.
    """

    films: int
    wall: float
    processor: float
    memory: float


class RunningService:
    """``filmhand serve`` with a profile ``p``, alone below this process; use it as a context.

    Parameters
    ----------
    place : an empty folder
    profile : the profile's text
    cores : the processor cores that it may use, and so its workers; None for all
    """

    def __init__(self, place: Path, profile: str, cores: Sequence[int] | None = None) -> None:
        process_tree.adopt_orphans()
        self._station = place / "station"
        self._drop = self._station / "p" / "drop"
        self._fresh = place / "fresh"
        self._fresh.mkdir()
        (self._station / "profiles").mkdir(parents=True)
        (self._station / "profiles" / "p.yaml").write_text(profile)
        self._command = [sys.executable, "-m", "filmhand", "serve", str(self._station)]
        self._command += ["--state", str(place / "state")]
        self._cores = cores

    def __enter__(self) -> RunningService:
        all_cores = os.sched_getaffinity(0)
        os.sched_setaffinity(0, self._cores or all_cores)  # what is started inherits it
        self._process = subprocess.Popen(self._command, stderr=subprocess.DEVNULL)
        os.sched_setaffinity(0, all_cores)
        until = time.monotonic() + _START
        while not self._drop.is_dir():
            self._expect(until, "the service did not start")
        return self

    def __exit__(self, *error: object) -> None:
        self._process.terminate()
        self._process.wait(60)
        process_tree.end_orphans()

    def work_off(self, arts: Sequence[Path], *, watched: bool = False) -> Worked:
        """Drop copies of art all at once; what its films, one for each, cost.

        To look at the memory of all processes takes as long as some of the films: whoever wants
        both has other films watched than timed.
        """
        for art in arts:
            shutil.copyfile(art, self._fresh / art.name)
        done = self._films()
        watch = MemoryWatch(_LOOK_EVERY)
        with watch if watched else contextlib.nullcontext():
            start, before = time.perf_counter(), process_tree.processor()
            for art in arts:
                (self._fresh / art.name).rename(self._drop / art.name)
            until = time.monotonic() + _LONGEST
            while (films := self._films() - done) < len(arts):
                self._expect(until, f"{films} films of {len(arts)}")
            wall = time.perf_counter() - start
            used = process_tree.processor() - before
        return Worked(films, wall, used, watch.most)

    def _films(self) -> int:
        folder = self._station / "p" / "positives"
        return sum(path.suffix == ".pdf" for path in folder.iterdir()) if folder.is_dir() else 0

    def _expect(self, until: float, trouble: str) -> None:
        """Wait a moment for what is to come; SystemExit where it will not."""
        refused = [*self._station.glob("p/rejected/*.why.txt")]
        if refused:
            raise SystemExit(refused[0].read_text())
        if self._process.poll() is not None or time.monotonic() > until:
            raise SystemExit(trouble)
        time.sleep(0.02)

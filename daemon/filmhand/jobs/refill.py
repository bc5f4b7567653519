"""A ledger that was lost takes in again what a profile's folder tells, beside the work.

The newest records are read first, a part at each look at the folder, so that neither the first film
nor a stop waits for the last of many thousand. What has been read is noted in the ledger with what
it told: after a stop or a kill the rest follows.
"""

from __future__ import annotations

import stat
import time
from collections.abc import Callable, Iterator

from filmhand.disk import file_names
from filmhand.disk.beneath import DEEPEST_FOLDERS, Beneath
from filmhand.jobs.context import JobContext
from filmhand.jobs.job_words import JobCount
from filmhand.jobs.ledger import Entry, lines_of, of_record, of_refusal

PART = 300  # records or refusals that are read at most at one look
PART_SECONDS = 0.02  # that a part may take ...
PART_SECONDS_NETWORK = 0.2  # ... on a share, where a look comes more seldom
_NOTED = 50  # at a time


class LedgerRefill:
    """Reads one profile's folder in; `whole` is called once all of it has been."""

    def __init__(
        self,
        profile: str,
        context: JobContext,
        whole: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.done = False
        self.read = 0  # records and refusals, since the start
        self._profile = profile
        self._context = context
        self._whole = whole
        self._clock = clock
        self._left = 0
        self._steps: Iterator[None] | None = None

    def look(self, *, network: bool = False) -> None:
        """Read one part; OSError if the folder does not answer, and then it is begun anew."""
        if self.done:
            return
        if self._steps is None:
            self._steps = self._go_through()
        until = self._clock() + (PART_SECONDS_NETWORK if network else PART_SECONDS)
        enough = self.read + PART
        try:
            for _ in self._steps:
                if self.read >= enough or self._clock() >= until:
                    return
        except OSError:
            self._steps = None
            raise
        self.done = True
        self._whole()

    def worry(self) -> str:
        """One sentence while it is going on; else empty."""
        if self.done or not self._left:
            return ""
        return JobCount.STILL_MISSING.say(self._left)

    def _go_through(self) -> Iterator[None]:
        ledger, profile = self._context.ledger, self._profile
        known = ledger.read_in(profile)
        if known is None:
            return
        records: list[tuple[float, str]] = []
        for found in self._records(known):
            records.append(found)
            self._left = len(records)
            yield
        records.sort(reverse=True)
        for start in range(0, len(records), _NOTED):
            part = [name for _, name in records[start : start + _NOTED]]
            entries = []
            for name in part:
                entries += self._entry(name)
                self.read += 1
                yield
            ledger.take_in_all(entries, profile, part)
            self._left -= len(part)
        for log in reversed(self._context.folders.refusal_logs()):
            yield from self._refusals(log)
        ledger.take_in_all([], profile, [""])
        self._left = 0

    def _records(self, known: set[str]) -> Iterator[tuple[float, str]]:
        """Time and place of every record that has not been read."""
        top = self._context.folders.output("records")
        waiting = [top]
        while waiting:
            folder = waiting.pop()
            before = folder.names_below(top)
            for name, found in folder.scan():
                place = "/".join((*before, name))
                if stat.S_ISDIR(found.st_mode):
                    if len(before) < DEEPEST_FOLDERS:
                        waiting.append(folder / name)
                elif name.endswith(".json") and file_names.shown(place) not in known:
                    yield found.st_mtime, place

    def _entry(self, name: str) -> list[Entry]:
        folders = self._context.folders
        top = folders.output("records")
        entry = of_record(self._profile, top.joinpath(*name.split("/")), top)
        if entry is None and not folders.present():
            raise FileNotFoundError(f"{folders.root} went away")
        return [] if entry is None else [entry]

    def _refusals(self, log: Beneath) -> Iterator[None]:
        """The newest first; those that are known already are soon passed over."""
        lines = list(lines_of(log))[::-1]
        self._left = len(lines)
        for start in range(0, len(lines), _NOTED):
            entries = []
            for line in lines[start : start + _NOTED]:
                entry = of_refusal(self._profile, line)
                entries += [] if entry is None else [entry]
                self.read += 1
                yield
            self._context.ledger.take_in_all(entries, self._profile, [])
            self._left -= _NOTED

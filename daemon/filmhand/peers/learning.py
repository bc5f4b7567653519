"""What other hosts made and refused in a shared folder, taken into this host's ledger bit by bit.

Each host has a ledger of its own. Without this its counts, and the `earlier` of its records, would
know of the others only what they had done before this ledger was begun. A round goes through all
records, a part at a time, and reads those that changed since the last round began; the refusal
logs are read on from where they ended.
"""

from __future__ import annotations

import os
from collections.abc import Callable

from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import next_files
from filmhand.jobs.context import JobContext
from filmhand.jobs.ledger import of_record, of_refusal

LEARNED_EVERY = 60.0  # seconds between two parts
RECORDS = 200  # that are looked at in one part
BYTES = 1 << 18  # of each log that are read in one part
_MARGIN = 600.0  # seconds by which the times of a share may be late


class PeerLearning:
    """Learns for one profile; does nothing while this host is alone."""

    def __init__(self, profile: str, context: JobContext, clock: Callable[[], float]) -> None:
        self._profile = profile
        self._context = context
        self._clock = clock
        self._next = float("-inf")
        self._rounds = 0  # that are still to be made
        self._after = ""  # the record up to which this round has come
        self._began = float("-inf")  # when this round did, on the file system's clock
        self._since = float("-inf")  # what did not change since then is known
        self._read: dict[str, int] = {}  # how far each log has been read

    def look(self) -> int:
        """One part, if it is time; how many jobs were news. OSError if a folder is not there."""
        if self._clock() < self._next:
            return 0
        self._next = self._clock() + LEARNED_EVERY
        if self._context.shared():
            self._rounds = 2  # one of them after the last other host has left
        if not self._rounds:
            return 0
        return self._records() + sum(self._refusals(log) for log in self._logs())

    def _records(self) -> int:
        folders = self._context.folders
        records = folders.output("records")
        if not self._after:
            own_sign = folders.hidden / self._context.host / "alive"
            self._began = own_sign.lstat().st_mtime
        part, self._after = next_files(records, self._after, RECORDS)
        news = 0
        for path in part:
            if path.suffix != ".json" or _changed(path) < self._since:
                continue
            entry = of_record(self._profile, path, records)
            news += entry is not None and self._context.ledger.take_in(entry)
        if not self._after:
            self._since = self._began - _MARGIN
            self._rounds -= 1
        return news

    def _logs(self) -> list[Beneath]:
        """The logs of all hosts but this one."""
        own = f"rejections.{self._context.host}.jsonl"
        return [path for path in self._context.folders.refusal_logs() if path.name != own]

    def _refusals(self, log: Beneath) -> int:
        """The next whole lines of one log; none of what is no file."""
        if not log.is_file():
            return 0
        with log.open() as file:
            start = self._read.get(log.name, 0)
            if file.seek(0, os.SEEK_END) < start:
                start = 0  # another log under the same name
            file.seek(start)
            data = file.read(BYTES)
        end = data.rfind(b"\n") + 1
        if not end and len(data) == BYTES:
            end = BYTES  # no line is that long
        self._read[log.name] = start + end
        news = 0
        for line in data[:end].splitlines():
            entry = of_refusal(self._profile, line)
            news += entry is not None and self._context.ledger.take_in(entry)
        return news


def _changed(path: Beneath) -> float:
    """When the file came here: a rename changes this time where it leaves that of the content."""
    try:
        return path.lstat().st_ctime
    except OSError:
        return float("-inf")

"""Jobs that were begun and are to be gone on with, and those of them that wait by themselves.

A job that cannot go on for a reason of its own, such as a worker that was ended from outside, is
put off: it is tried again after a pause that grows, and holds up nobody meanwhile. Not safe to use
from several threads; the queue's lock guards it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.timing.backoff import Backoff


@dataclass(slots=True)
class _PutOff:
    name: str
    pause: Backoff
    times: int = 0


class Backlog:
    """The folders of unfinished jobs, oldest first."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._folders: list[Beneath] = []
        self._put_off: dict[Beneath, _PutOff] = {}

    def __bool__(self) -> bool:
        return bool(self._folders)

    def fill(self, folders: Iterable[Beneath]) -> None:
        """These are all that are unfinished and in nobody's hands."""
        found = list(folders)
        self._folders = [folder for folder in found if not self._waits(folder)]

    def _waits(self, folder: Beneath) -> bool:
        put_off = self._put_off.get(folder)
        return put_off is not None and put_off.pause.holds()

    def pop(self) -> Beneath:
        """The next one."""
        return self._folders.pop(0)

    def put_off(self, folder: Beneath, name: str, why: str) -> None:
        """Try this one again later; `name` is its art's, as people may see it."""
        one = self._put_off.setdefault(folder, _PutOff(name, Backoff(self._clock)))
        one.times += 1
        one.pause.begin(why)

    def settled(self, folder: Beneath) -> None:
        """The job has ended, or was lost to another host."""
        self._put_off.pop(folder, None)

    def due(self) -> bool:
        """True if the pause of a job is over: the unfinished ones are worth a look."""
        return any(not one.pause.holds() for one in self._put_off.values())

    def waiting(self) -> Iterator[tuple[str, str]]:
        """Shown name of each and why it waits."""
        for folder in self._folders:
            if folder not in self._put_off:
                yield file_names.shown(folder.name), "goes on"
        for one in self._put_off.values():
            again = f"tried {one.times} times, again in {one.pause.left():.0f} s"
            yield one.name, f"{one.pause.why} ({again})"

    def __len__(self) -> int:
        return len({*self._folders, *self._put_off})

    @property
    def waits(self) -> bool:
        """True if any job is put off."""
        return bool(self._put_off)

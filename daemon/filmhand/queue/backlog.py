"""Jobs that were begun and are to be gone on with, and those of them that wait by themselves.

A job that cannot go on for a reason of its own, such as a worker that was ended from outside or a
file that may not be read, is put off: it is tried again after a pause that grows, when nothing new
is to be done, and holds up nobody. Not safe to use from several threads; the queue's lock guards
it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.queue.queue_words import JobQueueWord
from filmhand.timing.backoff import LONGEST_PAUSE
from filmhand.timing.lone_wait import LoneWait


class Backlog:
    """The folders of unfinished jobs, oldest first."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._folders: list[Beneath] = []
        self._again: list[Beneath] = []  # were put off, and their pause is over
        self._put_off: dict[Beneath, tuple[str, LoneWait]] = {}
        self._first: set[Beneath] = set()  # half published sets, until they have been tried

    def __bool__(self) -> bool:
        return bool(self._folders or self._again)

    def fill(
        self,
        folders: Iterable[Beneath],
        in_hand: Iterable[Beneath] = (),
        *,
        first: Iterable[Beneath] = (),
    ) -> None:
        """These are all that are unfinished and in nobody's hands, besides those in hand.

        Until each of the `first` has ended, or is put off, nothing else is to be done.
        """
        found = list(folders)
        there = {*found, *in_hand}
        self._put_off = {path: one for path, one in self._put_off.items() if path in there}
        self._folders = [folder for folder in found if folder not in self._put_off]
        self._again = [
            folder
            for folder in found
            if folder in self._put_off and not self._put_off[folder][1].pause.holds()
        ]
        self._first = {folder for folder in self._first if folder in there}
        self._first |= set(first).intersection(self._folders)

    def completes(self, in_hand: Iterable[Beneath]) -> bool:
        """True while one of the first is in hand, so that nothing else may be begun."""
        return not self._first.isdisjoint(in_hand)

    def add(self, folders: Iterable[Beneath]) -> None:
        """These are unfinished as well, and in nobody's hands."""
        self._folders += [folder for folder in folders if folder not in self._folders]

    def pop(self, *, others: bool = False) -> Beneath | None:
        """The next one; None without any.

        While there is new work, the `others`, one that was put off is left until it has been due
        for as long as the longest pause.
        """
        if self._folders:
            return self._folders.pop(0)
        for folder in self._again:
            known = self._put_off.get(folder)
            if not others or known is None or known[1].pause.over_for() >= LONGEST_PAUSE:
                self._again.remove(folder)
                return folder
        return None

    def put_off(self, folder: Beneath, name: str, why: str, *, stuck: bool = False) -> LoneWait:
        """Try this one again later; `name` is its art's, as people may see it."""
        wait = self._put_off.setdefault(folder, (name, LoneWait(self._clock)))[1]
        self._first.discard(folder)
        wait.stuck = stuck
        wait.again(why)
        return wait

    def settled(self, folder: Beneath) -> None:
        """The job has ended, or was lost to another host."""
        self._put_off.pop(folder, None)
        self._first.discard(folder)

    def due(self) -> bool:
        """True if the pause of a job is over: the unfinished ones are worth a look."""
        return any(not wait.pause.holds() for _, wait in self._put_off.values())

    def waiting(self) -> Iterator[tuple[str, str]]:
        """Shown name of each and why it waits."""
        for folder in (*self._folders, *self._again):
            if folder in self._put_off:
                continue
            yield file_names.shown(folder.name), JobQueueWord.GOES_ON.say()
        for name, wait in self._put_off.values():
            yield name, wait.told()

    def __len__(self) -> int:
        return len({*self._folders, *self._again, *self._put_off})

    @property
    def waits(self) -> bool:
        """True if any job is put off that may go on without anybody's doing."""
        return any(not wait.stuck for _, wait in self._put_off.values())

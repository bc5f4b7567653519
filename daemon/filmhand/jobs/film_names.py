"""Which film is next of its name, found at a price that does not grow with the folder.

A stem is free if no file of that stem lies among films, proofs and records. To know that, all
three folders are listed, and in a folder that holds the films of a year that is long work, most of
all on a share. What was found in a very full folder is therefore believed for a while. That is
safe: no publishing replaces anything, and a name that somebody took meanwhile has it listed anew.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Collection, Iterable, Sequence

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.values import dataclass

TRIED_BEFORE_LISTING = 500  # names; folders with fewer are listed each time
_BELIEVED = 50  # times as long as the listing took
_MOST = 200_000  # stems that are remembered, some 25 MB; a fuller folder is listed each time
_FOLDERS = 8


@dataclass(slots=True)
class _Known:
    """The stems of one set of folders, as names are compared, until when."""

    taken: set[str]
    until: float


class Stems:
    """Finds free stems for the films of one profile; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._known: dict[Beneath, _Known] = {}

    def first_free(
        self,
        folders: Sequence[Beneath],
        wanted: Callable[[int], Iterable[str]],
        *,
        besides: Collection[str] = (),
        afresh: bool = False,
    ) -> int:
        """The number under which all stems of ``wanted(number)`` are free, and now reserved.

        `folders` are where films, proofs and records of one sub-folder lie; `afresh` lists them in
        any case. `besides` are stems, as names are compared, that are taken though no file has them
        yet. OSError if a folder cannot be listed.
        """
        with self._lock:
            known = None if afresh else self._known.get(folders[0])
            if known is not None and self._clock() < known.until:
                return _reserve(known.taken, wanted, besides)
        # Not under the lock: a share may take for ever.
        began = self._clock()
        taken, count = _listed(folders)
        now = self._clock()
        with self._lock:
            self._known.pop(folders[0], None)
            if count >= TRIED_BEFORE_LISTING:
                self._known[folders[0]] = _Known(taken, now + _BELIEVED * (now - began))
                self._forget()
            return _reserve(taken, wanted, besides)

    def _forget(self) -> None:
        """Keep to the bounds; the folder that was listed longest ago goes first."""
        while self._known and (
            len(self._known) > _FOLDERS
            or sum(len(known.taken) for known in self._known.values()) > _MOST
        ):
            del self._known[next(iter(self._known))]


def _reserve(
    taken: set[str], wanted: Callable[[int], Iterable[str]], besides: Collection[str]
) -> int:
    def free(number: int) -> bool:
        stems = map(file_names.compared, wanted(number))
        return all(stem not in taken and stem not in besides for stem in stems)

    count = file_names.first_free(free)
    taken.update(map(file_names.compared, wanted(count)))
    return count


def _listed(folders: Sequence[Beneath]) -> tuple[set[str], int]:
    """The stems that are taken, and how many names there are."""
    taken: set[str] = set()
    count = 0
    for folder in folders:
        # One string operation a name: a folder may hold the films of a year.
        entries = folder.names()
        count += len(entries)
        taken.update(file_names.compared(entry.rpartition(".")[0] or entry) for entry in entries)
    return taken, count

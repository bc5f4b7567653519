"""The held jobs of one queue: which of them something has happened to since the last look.

A held job waits without end, so a look costs a few listings of folders however many there are: it
is met again only where its proof has come to release/ or has gone from held/, where somebody gives
it up, when the day turns, or when the profile's budget changes.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterable
from dataclasses import field
from itertools import islice
from pathlib import Path
from typing import Any

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.set_aside import entries
from filmhand.jobs.context import JobContext
from filmhand.jobs.holding import film_of, held_proofs, inks_of, order_of
from filmhand.jobs.job import Job
from filmhand.jobs.requests import Asked, asked
from filmhand.jobs.sheets import local_day
from filmhand.peers.survey import jobs_in_hand
from filmhand.profile.printing import Budget
from filmhand.queue.queue_words import JobQueueWord
from filmhand.values import dataclass

LOOKED_THROUGH_EVERY = 60.0  # seconds between two looks whether all proofs are still there
_MOST_IN_RELEASE = 10_000  # files of that folder that are looked at
_NAMED = 100  # of those that do not belong there
_Place = tuple[tuple[str, ...], str]  # sub-folder and name


@dataclass(slots=True)
class HeldJob:
    """One of them, as the status tells of it; `soon` if it only waits for its turn."""

    job: str
    at: str
    name: str
    film: str
    why: str
    until: str
    person: str
    soon: bool
    sub: tuple[str, ...]
    proofs: tuple[str, ...]
    order: tuple[str | int, ...]
    inks: list[dict[str, Any]] = field(default_factory=list)  # of a set, each film's place in it
    tried: set[tuple[Any, ...]] = field(default_factory=set)  # files that did not let it go

    def told(self) -> dict[str, Any]:
        """What the status says."""
        told = {
            "name": self.name,
            "film": self.film,
            "for": self.person,
            "why": self.why,
            "until": self.until or self._until_when(),
            "at": self.at,
            "proof": "/".join(map(file_names.shown, (*self.sub, self.proofs[0]))),
            "job": self.job,
        }
        return {**told, "inks": self.inks} if self.inks else told

    def _until_when(self) -> str:
        return (
            JobQueueWord.HELD_UNTIL_ITS_TURN if self.soon else JobQueueWord.HELD_UNTIL_RELEASED
        ).say()


class HeldJobs:
    """Remembers the held jobs; `lock` guards what threads that work tell the one that looks."""

    def __init__(
        self, context: JobContext, clock: Callable[[], float], lock: threading.RLock
    ) -> None:
        self._context = context
        self._clock = clock
        self._lock = lock
        self._known: dict[Beneath, HeldJob] = {}
        self._tried: dict[str, set[tuple[Any, ...]]] = {}  # by job, while it is in hand
        self._said: set[str] = set()
        self._day = ""
        self._budget: Budget | None = None
        self._through_at = clock()
        self.left_alone: list[tuple[str, str]] = []

    def __contains__(self, folder: Beneath) -> bool:
        return folder in self._known

    def __len__(self) -> int:
        return len(self._known)

    def keep(self, folder: Beneath, job: Job) -> None:
        """This job is held."""
        hold = job.hold
        held = HeldJob(
            job=job.id,
            at=job.decision.at,
            name=job.shown,
            film=film_of(job),
            why=hold.why,
            until=hold.until,
            person=hold.person,
            soon=hold.turn,
            sub=job.sub,
            proofs=tuple(item.name for item in held_proofs(job)),
            order=order_of(job),
            inks=inks_of(job),
        )
        with self._lock:
            held.tried = self._tried.pop(job.id, set())
            self._known[folder] = held
            new = job.id not in self._said
            self._said.add(job.id)
        if new:
            facts = {"why": held.why, "until": held.until or None, "for": held.person or None}
            self._context.say("held", profile=job.profile, job=job.id, name=job.shown, **facts)

    @property
    def soon(self) -> bool:
        """True if one of them is to be met again without anybody's doing."""
        with self._lock:
            return any(held.soon for held in self._known.values())

    def told(self, most: int) -> list[dict[str, Any]]:
        """What the status says of each, those that wait for longest first."""
        with self._lock:
            known = sorted(self._known.values(), key=lambda held: held.order)
        return [held.told() for held in known[:most]]

    # --- looking -----------------------------------------------------------------------------

    def look(self, *, holds: bool, busy: Callable[[Beneath], bool]) -> list[Beneath]:
        """The jobs that are to be met again, oldest first; from now on they are not held.

        `holds`: the profile says that films may be held, so there is a folder to look into. One
        that is `busy` has not been put down yet, and is looked at the next time.
        """
        self._read_requests()
        due = {folder for folder, held in self._known.items() if held.soon}
        due |= {f for f, held in self._known.items() if held.job in self._context.live.discards}
        self.left_alone = []
        if holds or self._known:
            due |= self._released()
        day, budget = local_day(self._context.now()), self._context.live.budget
        if (day, budget) != (self._day, self._budget):
            self._day, self._budget = day, budget
            due |= self._known.keys()
        if due or self._clock() - self._through_at >= LOOKED_THROUGH_EVERY:
            self._through_at = self._clock()
            self._prune()
            due |= self._without_proof()
        with self._lock:
            free = [folder for folder in due & self._known.keys() if not busy(folder)]
            free.sort(key=lambda folder: self._known[folder].order)
            for folder in free:
                held = self._known.pop(folder)
                self._tried[held.job] = held.tried
        return free

    def _read_requests(self) -> None:
        """Which held jobs are to be given up; a request of a job that is no more is met."""
        wanted = [one for one in asked(self._context.folders) if one.do is Asked.DISCARD]
        if wanted:
            there = jobs_in_hand(self._context.folders)
            for one in wanted:
                if one.what not in there:
                    one.done()
        self._context.live.discards = frozenset(one.what for one in wanted)

    def _released(self) -> set[Beneath]:
        """Jobs whose proof seems to lie in release/; what else lies there is told."""
        due: set[Beneath] = set()
        by_name: dict[_Place, list[tuple[Beneath, HeldJob]]] = {}
        with self._lock:
            known = list(self._known.items())
        for folder, held in known:
            for name in held.proofs:
                for sub in dict.fromkeys((held.sub, ())):
                    by_name.setdefault((sub, name), []).append((folder, held))
        others = _OtherNotes(self._context, {Path(held.film).name for _, held in known})
        for place, look, why in self._in_release():
            fit = by_name.get(place, []) if not why else []
            fresh = [(folder, held) for folder, held in fit if look not in held.tried]
            for folder, held in fresh:
                held.tried.add(look)
                due.add(folder)
            if not fresh and len(self.left_alone) < _NAMED and not others.tell_of(place):
                name = "/".join(map(file_names.shown, ("release", *place[0], place[1])))
                self.left_alone.append((name, why or _why_not(bool(fit))))
        return due

    def _in_release(self) -> Iterable[tuple[_Place, tuple[Any, ...], str]]:
        """Each file below release/: its place, how it looks, and why it counts for nothing."""
        release = self._context.folders.release
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            release.lstat()
            places = (
                (folder, name) for folder, _, names in release.walk() for name in sorted(names)
            )
            for folder, name in islice(places, _MOST_IN_RELEASE):
                if file_names.is_noise(name):
                    continue
                with contextlib.suppress(FileNotFoundError):
                    found = (folder / name).lstat()
                    look = (name, found.st_ino, found.st_size, found.st_mtime_ns)
                    why = "" if (folder / name).is_file() else JobQueueWord.NO_FILE.say()
                    yield (folder.names_below(release), name), look, why

    def _prune(self) -> None:
        """Forget jobs that another host has taken over while this one slept."""
        there = {path.name for path in entries(self._context.own)}
        with self._lock:
            gone = [folder for folder, held in self._known.items() if held.job not in there]
            for folder in gone:
                del self._known[folder]
            self._said &= there
        self._context.sheets.keep_only(there)

    def _without_proof(self) -> set[Beneath]:
        """Jobs of whose proofs one is missing in held/, so that it is made again."""
        lying: dict[tuple[str, ...], set[str]] = {}
        missing = set()
        for folder, held in list(self._known.items()):
            if held.sub not in lying:
                around = self._context.folders.held.joinpath(*held.sub)
                lying[held.sub] = {path.name for path in entries(around)}
            note = Path(held.film).name + file_names.WHY_END
            if not lying[held.sub].issuperset((*held.proofs, note)):
                missing.add(folder)
        return missing


class _OtherNotes:
    """The notes of held films of which this host knows nothing; read once a look."""

    def __init__(self, context: JobContext, own: set[str]) -> None:
        self._held = context.folders.held
        self._own = own
        self._notes: dict[tuple[str, ...], set[str]] = {}

    def tell_of(self, place: _Place) -> bool:
        """True if the proof of a film that another host holds has this name."""
        sub, name = place
        if sub not in self._notes:
            inside = (path.name for path in entries(self._held.joinpath(*sub)))
            end = file_names.WHY_END
            found = {one[: -len(end)] for one in inside if one.endswith(end)}
            self._notes[sub] = found - self._own
        parts = Path(name).stem.split("-")  # of a film in pages and parts, `-p01-r1c1`
        stems = {"-".join(parts[:count]) for count in range(max(1, len(parts) - 2), len(parts) + 1)}
        return not self._notes[sub].isdisjoint(stems)


def _why_not(named: bool) -> str:
    return (JobQueueWord.OTHER_PROOF if named else JobQueueWord.NO_PROOF).say()

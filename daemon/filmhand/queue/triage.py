"""What one look at a drop folder means: which art is ready, which waits, and why."""

from __future__ import annotations

import errno
import os
import threading
from collections.abc import Callable
from dataclasses import field
from typing import TypeGuard

from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.disk_errors import trouble_of_file, whose
from filmhand.intake import refusals
from filmhand.intake.scan import NAMED, Bundle, FolderScan, Found
from filmhand.intake.settle import FileEnd, SettleLook, SettleState, Tracker
from filmhand.jobs.claim import NotSettled
from filmhand.queue.queue_words import JobQueueWord
from filmhand.queue.settings import SETTLE
from filmhand.queue.task import ClaimOne, Task
from filmhand.timing.lone_wait import LoneWait
from filmhand.values import dataclass

ALONE_FOR = 600.0  # seconds that a ticket or mask waits for its art
EMPTY_FOR = 3600.0  # seconds that an empty sub-folder stays
READY = 64  # art that is looked into at one time; the rest only rests until its turn comes
READY_AT_MOST = 2048  # where so much is worked off between two looks


@dataclass(frozen=True, slots=True)
class WaitingArt:
    """A file that is not taken yet; `stuck` if nothing but people can change that."""

    name: str
    why: str
    stuck: bool = False


@dataclass(slots=True)
class FolderView:
    """What the last look saw; replaced as a whole."""

    waiting: list[WaitingArt] = field(default_factory=list)
    ready: list[Task] = field(default_factory=list)
    left_alone: list[tuple[str, str]] = field(default_factory=list)
    noise: int = 0
    scans_settle: bool = False  # scans of wedges wait, which will be read
    more: int = 0  # art whose turn comes after all that is in `waiting`


@dataclass(frozen=True, slots=True)
class TriageRules:
    """What holds at this look: seconds of rest, bytes allowed, whose sign of life is at hand."""

    settle: float
    max_bytes: int
    own_sign: Beneath
    handed_out: int = 0  # since the last look
    network: bool = False  # other computers may write here

    @property
    def ready(self) -> int:
        """How much art to look into now: enough until the next look, and no more."""
        return min(max(READY, 2 * self.handed_out), READY_AT_MOST)


class Triage:
    """Judges each look, and remembers between looks since when things are as they are.

    `patient` is False for `once`, which does not wait ten minutes for the art of a ticket.
    """

    def __init__(
        self, finished: Callable[[Beneath], FileEnd], clock: Callable[[], float], *, patient: bool
    ) -> None:
        self._clock = clock
        self._patient = patient
        self._tracker = Tracker(finished, clock)
        self._since: dict[Beneath, float] = {}
        self._came: dict[Beneath, float] = {}
        self._lock = threading.Lock()  # guards what threads that work tell the one that looks
        self._restarts: list[Beneath] = []
        self._apart: dict[Beneath, LoneWait] = {}  # art that waits by itself
        self._held = Tracker(finished, clock)  # art that settles in the hands of its job
        self._rest = (SETTLE, False)

    def judge(
        self, seen: FolderScan, rules: TriageRules, in_hand: Callable[[Beneath], bool]
    ) -> FolderView:
        """The view of this look: scans first, then the oldest; art `in_hand` is on no list."""
        self._rest = rules.settle, rules.network
        self._forget(seen)
        view = FolderView(left_alone=seen.left_alone, noise=seen.noise)
        enough = rules.ready
        for bundle in sorted(seen.bundles, key=_age_and_place):
            if in_hand(bundle.art.path):
                continue
            if len(view.ready) >= enough:
                for one in (bundle.art, *bundle.companions()):
                    self._tracker.note(one.path, one.stat)
                if len(view.waiting) < NAMED:
                    view.waiting.append(WaitingArt(bundle.shown, JobQueueWord.ITS_TURN.say()))
                else:
                    view.more += 1
                continue
            found = self._judge(bundle, rules)
            if isinstance(found, ClaimOne):
                view.ready.append(found)
            else:
                view.waiting.append(found)
                view.scans_settle |= bundle.is_scan and not found.stuck
        return view

    def wait_again(self, path: Beneath, error: Exception) -> None:
        """A claim failed: the file settles anew, after a pause if the system will not move it."""
        with self._lock:
            self._restarts.append(path)
            if isinstance(error, OSError):
                why = trouble_of_file(path, error, moving=True)
            elif isinstance(error, NotSettled) and error.immovable:
                why = JobQueueWord.WHOSE.say(why=error, whose=whose(path))
            else:
                return
            self._apart.setdefault(path, LoneWait(self._clock)).again(why)

    def why_wait(self, held: list[Beneath]) -> str:
        """Why the files in a job's hands, its art last, must wait; empty once they have rested."""
        settle, network = self._rest
        looks = [
            self._held.look(
                path, path.lstat(), settle=settle, check_end=path == held[-1], network=network
            )
            for path in held
        ]
        waits = [look.why for look in looks if look.rest is SettleState.WAIT]
        for path in held if not waits else ():
            self._held.restart(path)
        return waits[-1] if waits else ""

    def oldest(self) -> float:
        """How long the longest waiting art has been seen in the drop folder; 0 without any."""
        came = self._came
        return self._clock() - min(came.values()) if came else 0.0

    def empty_for_long(self, seen: FolderScan) -> list[Beneath]:
        """Dropped sub-folders that have been empty for an hour."""
        now = self._clock()
        return [
            folder
            for folder in seen.empty_folders
            if now - self._since.setdefault(folder, now) >= EMPTY_FOR
        ]

    def _forget(self, seen: FolderScan) -> None:
        """Keep nothing about files that are gone: one that comes again is another file."""
        paths = {one.path for b in seen.bundles for one in (b.art, *b.companions())}
        with self._lock:
            restarts, self._restarts = self._restarts, []
            self._apart = {path: wait for path, wait in self._apart.items() if path in paths}
        for path in restarts:
            self._tracker.restart(path)
        self._tracker.keep_only(paths)
        now = self._clock()
        self._came = {
            bundle.art.path: self._came.get(bundle.art.path, now) for bundle in seen.bundles
        }
        timed = {bundle.art.path for bundle in seen.bundles if bundle.alone}
        timed.update(seen.empty_folders)
        self._since = {path: since for path, since in self._since.items() if path in timed}

    def _judge(self, bundle: Bundle, rules: TriageRules) -> ClaimOne | WaitingArt:
        if (wait := self._wait_of(bundle)) is not None and wait.pause.holds():
            for one in (bundle.art, *bundle.companions()):
                self._tracker.note(one.path, one.stat)
            return _waiting(bundle, wait)
        art = self._tracker.look(
            bundle.art.path,
            bundle.art.stat,
            settle=rules.settle,
            check_end=not bundle.alone,
            network=rules.network,
        )
        others = [
            self._tracker.look(
                one.path, one.stat, settle=rules.settle, check_end=False, network=rules.network
            )
            for one in bundle.companions()
        ]
        if _is_trouble(art.error):
            return self._unreadable(bundle, bundle.art, art.error)
        if bundle.alone:
            found = self._judge_alone(bundle, art.rest, rules)
        else:
            found = self._judge_whole(bundle, [art, *others], rules)
        if isinstance(found, ClaimOne):
            # Of art that is whole the end has been read already.
            own = [bundle.art] if bundle.alone or art.rest is SettleState.EMPTY else []
            for one in (*own, *bundle.companions()):
                error = _reading(one.path)
                if _is_trouble(error):
                    return self._unreadable(bundle, one, error)
        return found

    def _wait_of(self, bundle: Bundle) -> LoneWait | None:
        """The wait of art that waits by itself; none after somebody changed one of its files."""
        with self._lock:
            wait = self._apart.get(bundle.art.path)
            if wait is None:
                return None
            mark = tuple(_mark(one.stat) for one in (bundle.art, *bundle.companions()))
            if wait.mark not in {None, mark}:
                del self._apart[bundle.art.path]
                return None
            wait.mark = mark
            return wait

    def _unreadable(self, bundle: Bundle, one: Found, error: OSError) -> ClaimOne | WaitingArt:
        with self._lock:
            wait = self._apart.setdefault(bundle.art.path, LoneWait(self._clock))
        why = trouble_of_file(one.path, error)
        if wait.over():
            return ClaimOne(bundle, refusals.unreadable(one.name, why))
        wait.again(why)
        wait.stuck = wait.times > 1  # a busy file may be readable the next time
        return _waiting(bundle, wait)

    def _judge_whole(
        self, bundle: Bundle, looks: list[SettleLook], rules: TriageRules
    ) -> ClaimOne | WaitingArt:
        for look in looks:
            if look.rest is SettleState.WAIT:
                return WaitingArt(bundle.shown, look.why, stuck=look.stuck)
        if bundle.misnamed is not None:
            return ClaimOne(bundle, refusals.misnamed(bundle.art.name, bundle.misnamed))
        return ClaimOne(bundle, refusals.of_look(looks[0], bundle.art.stat, rules.max_bytes))

    def _judge_alone(
        self, bundle: Bundle, rest: SettleState, rules: TriageRules
    ) -> ClaimOne | WaitingArt:
        now = self._clock()
        since = self._since.setdefault(bundle.art.path, now)
        over = now - since >= ALONE_FOR or (not self._patient and _old(bundle, rules))
        if rest is SettleState.WAIT or not over:
            why = JobQueueWord.ART_IS_MISSING.say()
            return WaitingArt(bundle.shown, why, stuck=rest is not SettleState.WAIT)
        return ClaimOne(bundle, refusals.alone(bundle))


def _mark(found: os.stat_result) -> tuple[int, ...]:
    """What somebody changes who puts the trouble right; a rename to and fro does not."""
    rights = found.st_mode, found.st_uid, found.st_gid
    return found.st_size, found.st_mtime_ns, found.st_ino, *rights


def _waiting(bundle: Bundle, wait: LoneWait) -> WaitingArt:
    why = wait.told()
    if wait.over():
        why = JobQueueWord.CANNOT_BE_REFUSED.say(why=why)
    return WaitingArt(bundle.shown, why, stuck=wait.stuck)


def _reading(path: Beneath) -> OSError | None:
    """What the system answers to reading the beginning of a file; None if all is well."""
    try:
        with path.open() as file:
            file.read(1)
    except OSError as error:
        return error
    return None


def _is_trouble(error: OSError | None) -> TypeGuard[OSError]:
    """True unless the file has just gone, or is no file any more: then the next look tells."""
    return error is not None and error.errno not in {errno.ENOENT, *IRREGULAR}


def _age_and_place(bundle: Bundle) -> tuple[bool, int, tuple[str, ...], str]:
    return not bundle.is_scan, bundle.art.stat.st_mtime_ns, bundle.art.sub, bundle.art.name


def _old(bundle: Bundle, rules: TriageRules) -> bool:
    """For `once`: by the file system's own clock it has lain here for ten minutes."""
    age = rules.own_sign.lstat().st_ctime - bundle.art.stat.st_ctime
    return age >= ALONE_FOR

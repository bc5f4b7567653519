"""What one look at a drop folder means: which art is ready, which waits, and why."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from filmhand.disk.beneath import Beneath
from filmhand.intake import refusals
from filmhand.intake.scan import Bundle, FolderScan
from filmhand.intake.settle import FileEnd, SettleState, Tracker
from filmhand.jobs.claim import NotSettled
from filmhand.queue.task import ClaimOne, Task
from filmhand.timing.backoff import Backoff

ALONE_FOR = 600.0  # seconds that a ticket or mask waits for its art
EMPTY_FOR = 3600.0  # seconds that an empty sub-folder stays
READY = 64  # art that is looked into at one time; the rest only rests until its turn comes
READY_AT_MOST = 2048  # where so much is worked off between two looks
NAMED = 500  # waiting art of which more than the number is kept


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
        self._immovable: dict[Beneath, Backoff] = {}

    def judge(
        self, seen: FolderScan, rules: TriageRules, in_hand: Callable[[Beneath], bool]
    ) -> FolderView:
        """The view of this look; art that is `in_hand` is on no list. Oldest first."""
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
                    view.waiting.append(WaitingArt(bundle.shown, "its turn comes"))
                else:
                    view.more += 1
                continue
            found = self._judge(bundle, rules)
            if isinstance(found, ClaimOne):
                view.ready.append(found)
            else:
                view.waiting.append(found)
        return view

    def wait_again(self, path: Beneath, error: Exception) -> None:
        """A claim failed: the file settles anew, after a pause if the system will not move it."""
        with self._lock:
            self._restarts.append(path)
            if isinstance(error, NotSettled) and error.immovable:
                self._immovable.setdefault(path, Backoff(self._clock)).begin(str(error))

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
            self._immovable = {p: held for p, held in self._immovable.items() if p in paths}
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
        if bundle.alone:
            return self._judge_alone(bundle, art.rest, rules)
        for look in (art, *others):
            if look.rest is SettleState.WAIT:
                return WaitingArt(bundle.shown, look.why, stuck=look.stuck)
        with self._lock:
            held = self._immovable.get(bundle.art.path)
        if held is not None and held.holds():
            return WaitingArt(bundle.shown, held.why, stuck=True)
        if bundle.misnamed is not None:
            return ClaimOne(bundle, refusals.misnamed(bundle.art.name, bundle.misnamed))
        return ClaimOne(bundle, refusals.of_look(art, bundle.art.stat, rules.max_bytes))

    def _judge_alone(
        self, bundle: Bundle, rest: SettleState, rules: TriageRules
    ) -> ClaimOne | WaitingArt:
        now = self._clock()
        since = self._since.setdefault(bundle.art.path, now)
        over = now - since >= ALONE_FOR or (not self._patient and _old(bundle, rules))
        if rest is SettleState.WAIT or not over:
            return WaitingArt(
                bundle.shown, "its art has not come yet", stuck=rest is not SettleState.WAIT
            )
        return ClaimOne(bundle, refusals.alone(bundle))


def _age_and_place(bundle: Bundle) -> tuple[int, tuple[str, ...], str]:
    return bundle.art.stat.st_mtime_ns, bundle.art.sub, bundle.art.name


def _old(bundle: Bundle, rules: TriageRules) -> bool:
    """For `once`: by the file system's own clock it has lain here for ten minutes."""
    age = rules.own_sign.lstat().st_ctime - bundle.art.stat.st_ctime
    return age >= ALONE_FOR

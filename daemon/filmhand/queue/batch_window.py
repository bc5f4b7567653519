"""Which settled art waits for more to share its sheet, and which goes on one sheet together.

Only looks. What it knows is since when somebody waits, and how large art is that was measured;
after a restart both begin anew.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from filmhand.disk.beneath import Beneath
from filmhand.intake.scan import Bundle, Found
from filmhand.profile.ticket.gang import GangWishes, waits_for_gang
from filmhand.queue.queue_words import JobQueueWord
from filmhand.queue.task import ClaimOne, ClaimTogether, MeasureSheet, Task
from filmhand.queue.triage import READY, FolderView, WaitingArt
from filmhand.request import ArtSize, SheetSpace

_Look = tuple[Beneath, int, int]


class BatchWindow:
    """Sorts each look's ready art into those that go and those that wait.

    Only art of one folder goes on one sheet. `patient` is False for `once`, which waits no longer
    than for art that still settles. `measures` tells that somebody can be asked whether all that
    waits has room. One thread looks and others measure; the lock guards what they tell each other.
    """

    def __init__(
        self,
        clock: Callable[[], float],
        now: Callable[[], datetime],
        *,
        patient: bool,
        measures: bool,
    ) -> None:
        self._clock = clock
        self._now = now
        self._patient = patient
        self._measures = measures
        self._since: dict[Beneath, float] = {}
        self._tickets: dict[_Look, bool] = {}
        self._asked: dict[tuple[_Look, ...], SheetSpace | None] = {}  # None: not answered yet
        self._sizes: dict[tuple[_Look, ...], ArtSize | None] = {}
        self._profile: Any = None
        self._lock = threading.Lock()

    def sort_out(self, view: FolderView, gang: GangWishes | None, profile: dict[str, Any]) -> None:
        """Change the view: who must wait is no longer ready, who goes together is one task."""
        if gang is None:
            self._since, self._tickets = {}, {}
            return
        # A view that is full would keep others from being looked into.
        now, crowded = self._clock(), len(view.ready) >= READY
        settling = any(not waiting.stuck for waiting in view.waiting)
        hurry = crowded or not (self._patient or settling)
        groups, ready = self._groups(view.ready)
        bundles = [bundle for group in groups.values() for bundle in group]
        self._since = {b.art.path: self._since.get(b.art.path, now) for b in bundles}
        self._forget(groups.values(), profile)
        for group in groups.values():
            first = min(self._since[bundle.art.path] for bundle in group)
            left = first + gang.wait - now
            go = self._go(group, gang, over=hurry or left <= 0, ready=ready)
            until = (self._now() + timedelta(seconds=max(0.0, left))).astimezone()
            why = JobQueueWord.FOR_COMPANY.say(time=f"{until:%H:%M}")
            view.waiting += [WaitingArt(bundle.shown, why) for bundle in group if bundle not in go]
        view.ready = ready

    def _go(
        self, group: list[Bundle], gang: GangWishes, *, over: bool, ready: list[Task]
    ) -> list[Bundle]:
        """Those of one folder that wait no longer; their task is added to what is ready."""
        if over or len(group) >= gang.most:
            go = group[: gang.most]
        else:
            pool = _key(group)
            with self._lock:
                new, room = pool not in self._asked, self._asked.get(pool)
            if new and self._measures and len(group) > 1:
                ready.append(MeasureSheet(tuple(group)))
            go = [group[n] for n in room.chosen] if room is not None and room.full else []
        if go:
            ready.append(ClaimOne(go[0]) if len(go) == 1 else ClaimTogether(tuple(go)))
        return go

    # --- measuring -------------------------------------------------------------------------------

    def asked(self, bundles: Sequence[Bundle]) -> None:
        """Somebody goes to measure these."""
        with self._lock:
            self._asked[_key(bundles)] = None

    def sizes(self, bundles: Sequence[Bundle]) -> dict[int, ArtSize | None]:
        """The sizes that are known already, by number."""
        keys = {number: _key([bundle]) for number, bundle in enumerate(bundles)}
        with self._lock:
            known = self._sizes
            return {number: known[key] for number, key in keys.items() if key in known}

    def know(self, bundles: Sequence[Bundle], room: SheetSpace | None) -> None:
        """What the measuring found; None if it failed, and then only the time counts."""
        with self._lock:
            for bundle, size in zip(bundles, room.sizes if room else (), strict=room is not None):
                self._sizes[_key([bundle])] = size
            self._asked[_key(bundles)] = room or SheetSpace()

    def _forget(self, groups: Iterable[list[Bundle]], profile: dict[str, Any]) -> None:
        """Keep nothing about art that is gone, and nothing that another profile found."""
        pools = {_key(group) for group in groups}
        alone = {_key([bundle]) for group in groups for bundle in group}
        with self._lock:
            if profile is not self._profile:
                self._asked, self._sizes, self._profile = {}, {}, profile
            self._asked = {pool: room for pool, room in self._asked.items() if pool in pools}
            self._sizes = {one: size for one, size in self._sizes.items() if one in alone}

    # --- who may share ---------------------------------------------------------------------------

    def _groups(self, ready: list[Task]) -> tuple[dict[tuple[str, ...], list[Bundle]], list[Task]]:
        """Those that may share a sheet by their folder, and those that may not."""
        groups: dict[tuple[str, ...], list[Bundle]] = {}
        alone = []
        known, self._tickets = self._tickets, {}
        for task in ready:
            if isinstance(task, ClaimOne) and self._joins(task, known):
                groups.setdefault(task.bundle.art.sub, []).append(task.bundle)
            else:
                alone.append(task)
        return groups, alone

    def _joins(self, task: ClaimOne, known: dict[_Look, bool]) -> bool:
        bundle = task.bundle
        if bundle.alone or bundle.is_scan or task.refusal is not None:
            return False
        if bundle.ticket is None:
            return True
        key = _look(bundle.ticket)
        if key not in known:
            try:
                known[key] = waits_for_gang(bundle.ticket.path)
            except OSError:
                return False  # gone or not readable: the claim will tell
        self._tickets[key] = known[key]
        return known[key]


def _look(found: Found) -> _Look:
    return found.path, found.stat.st_mtime_ns, found.stat.st_size


def _key(bundles: Sequence[Bundle]) -> tuple[_Look, ...]:
    """What changes when any file of the bundles does."""
    return tuple(_look(one) for bundle in bundles for one in (bundle.art, *bundle.companions()))

"""Which settled art waits for company, and which goes on one sheet together.

Only looks. What it knows is since when somebody waits; after a restart that begins anew.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from filmhand.profile.gang import Gang, waits_for_company
from filmhand.spool.judge import READY, Board, Waiting, Work

_Sub = tuple[str, ...]


class Company:
    """Sorts each look's ready art into those that go and those that wait.

    Only art of one folder goes on one sheet. `patient` is False for `once`, which waits no longer
    than for art that still settles.
    """

    def __init__(
        self, clock: Callable[[], float], now: Callable[[], datetime], *, patient: bool
    ) -> None:
        self._clock = clock
        self._now = now
        self._patient = patient
        self._since: dict[_Sub, float] = {}
        self._tickets: dict[tuple[Path, int, int], bool] = {}

    def sort_out(self, board: Board, gang: Gang | None) -> None:
        """Change the board: who must wait is no longer ready, who goes together is one work."""
        if gang is None:
            self._since, self._tickets = {}, {}
            return
        # A board that is full would keep others from being looked into.
        now, crowded = self._clock(), len(board.ready) >= READY
        settling = any(not waiting.stuck for waiting in board.waiting)
        groups, ready = self._groups(board.ready)
        self._since = {sub: self._since.get(sub, now) for sub in groups}
        for sub, works in groups.items():
            rest = works
            while len(rest) >= gang.most:
                ready.append(_together(rest[: gang.most]))
                rest = rest[gang.most :]
            left = self._since[sub] + gang.wait - now
            if rest and (left <= 0 or crowded or not (self._patient or settling)):
                ready.append(_together(rest))
            elif rest:
                until = (self._now() + timedelta(seconds=left)).astimezone()
                why = f"waiting for company until {until:%H:%M}"
                board.waiting += [Waiting(work.shown, why) for work in rest]
        board.ready = ready

    def _groups(self, ready: list[Work]) -> tuple[dict[_Sub, list[Work]], list[Work]]:
        """Those that may share a sheet by their folder, and those that may not."""
        groups: dict[_Sub, list[Work]] = {}
        alone = []
        known, self._tickets = self._tickets, {}
        for work in ready:
            if self._joins(work, known) and work.bundle is not None:
                groups.setdefault(work.bundle.art.sub, []).append(work)
            else:
                alone.append(work)
        return groups, alone

    def _joins(self, work: Work, known: dict[tuple[Path, int, int], bool]) -> bool:
        bundle = work.bundle
        if bundle is None or bundle.alone or work.refusal is not None:
            return False
        if bundle.ticket is None:
            return True
        found = bundle.ticket.stat
        key = (bundle.ticket.path, found.st_mtime_ns, found.st_size)
        if key not in known:
            try:
                known[key] = waits_for_company(bundle.ticket.path)
            except OSError:
                return False  # gone or not readable: the claim will tell
        self._tickets[key] = known[key]
        return known[key]


def _together(works: list[Work]) -> Work:
    if len(works) == 1:
        return works[0]
    return Work(company=tuple(work.bundle for work in works if work.bundle is not None))

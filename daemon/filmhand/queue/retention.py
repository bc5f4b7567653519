"""Tidying away what a profile's `keep` no longer wants: films, proofs, records, originals.

What can be half-done when we die here: nothing; each file is removed by itself, a record last of
all that it tells of. Only files that a record of a finished job names are removed, and nothing of
anybody else's. Refused art is never touched. Originals go by the time at which they were put away,
films, proofs and records by that of which the record tells and by their own; on the file system's
clock and on this computer's, whichever is younger: a host whose clock lay behind made nothing old.

A wrong clock must not make everything look old: nothing is removed while the clock lies behind
the newest finished job, nor within a day of a jump.
"""

from __future__ import annotations

import contextlib
import stat
import time
from collections import Counter
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import next_files
from filmhand.jobs.context import JobContext
from filmhand.jobs.film_sets import place_in_set, stem_of_set
from filmhand.jobs.job import utc_text
from filmhand.jobs.ledger import record_told
from filmhand.peers.survey import jobs_in_hand
from filmhand.profile.model import Keep
from filmhand.queue.queue_words import JobQueueWord

OFTEN = 3600.0  # seconds between two rounds, a thirtieth of the shortest time to keep ...
SELDOM = 86400.0  # ... between these two
LOOKED_AT = 500  # files of a kind at a time, so that no look at the drop folder waits for long
_GO_ON = 60.0  # seconds until the round goes on with the files after those
_JUMP = 3600.0  # seconds by which wall clock and steady clock may part
_APART = 300.0  # by which this clock may lie behind that of another host that ended a job
_CALM = 86400.0  # seconds without tidying after a jump
_PROOFS = (".jpg", ".png")


def steady_clock() -> float:
    """Seconds that no setting of the time changes and that go on while the computer sleeps."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


class Retention:
    """Tidies one profile's folder, a round now and then, a part of a round at a time."""

    def __init__(self, context: JobContext, clock: Callable[[], float] = steady_clock) -> None:
        self._context = context
        self._clock = clock
        self._next = float("-inf")
        self._calm_until = float("-inf")
        self._base = (context.now().timestamp(), clock())
        # Kinds that this round has not been through, from where.
        self._after: dict[str, str] = {}
        self.why_not = ""

    def tidy(self, keep: Keep) -> Counter[str]:
        """A part of a round if one is due; how many files of each kind were removed.

        OSError where the folder does not answer; the next time goes on.
        """
        removed: Counter[str] = Counter()
        if self._clock() < self._next or keep == Keep():
            return removed
        self._next = self._clock() + _gap(keep)
        now = self._context.now()
        self.why_not = self._wrong_clock(now)
        if self.why_not:
            return removed
        wanted = {
            "positives": keep.films,
            "proofs": keep.proofs,
            "records": keep.records,
            "originals": keep.originals,
        }
        if not self._after:
            self._after = dict.fromkeys(wanted, "")
        in_hand = jobs_in_hand(self._context.folders)
        for kind in list(self._after):
            seconds = wanted[kind]
            if seconds is None:
                del self._after[kind]
            elif kind == "originals":
                removed[kind] = self._prune_originals(seconds, now)
            else:
                removed[kind] = self._prune_made(kind, keep, seconds, now, in_hand)
        if self._after:
            self._next = self._clock() + _GO_ON
        return +removed

    def _wrong_clock(self, now: datetime) -> str:
        """A sentence if this computer's clock cannot be trusted for now."""
        wall, steady = now.timestamp(), self._clock()
        if abs((wall - self._base[0]) - (steady - self._base[1])) > _JUMP:
            self._calm_until = steady + _CALM
            self._base = (wall, steady)
        newest = self._context.ledger.newest()
        if newest is not None and utc_text(now + timedelta(seconds=_APART)) < newest:
            return JobQueueWord.CLOCK_BEHIND.say()
        if steady < self._calm_until:
            return JobQueueWord.CLOCK_JUMPED.say()
        return ""

    # --- films, proofs, records --------------------------------------------------------------

    def _prune_made(
        self, kind: str, keep: Keep, seconds: float, now: datetime, in_hand: set[str]
    ) -> int:
        count, newest = 0, self._newest(now)
        for path in self._next_files(kind):
            record = self._record_of(kind, path)
            if record is None or record["job"] in in_hand or _age(record, now) < seconds:
                continue
            with contextlib.suppress(FileNotFoundError):
                if newest - path.lstat().st_mtime < seconds:
                    continue
            if kind == "positives" and path.name not in record["film"]["files"].values():
                continue
            # The log of prints stays, though art be called as it is.
            if kind == "records" and (
                path.suffix != ".json" or self._still_needed(path, record, keep)
            ):
                continue
            whole = self._proof_of_set(path, record) if kind == "proofs" else None
            if whole is not None:
                with contextlib.suppress(FileNotFoundError):
                    if newest - whole.lstat().st_mtime < seconds:
                        continue  # without this one nobody would know it
                count += atomic.unlink_expired(whole)
            count += atomic.unlink_expired(path)
        return count

    def _proof_of_set(self, proof: Beneath, record: dict[str, Any]) -> Beneath | None:
        """The proof of the whole set, for that of its first film, whose record tells of both.

        None where there is none, and where a film of its own is called so.
        """
        place = place_in_set(record)
        stem = None if place is None else stem_of_set(Path(proof.name).stem, place)
        if place is None or place["k"] != 1 or stem is None:
            return None
        whole = proof.with_name(stem + Path(proof.name).suffix)
        return whole if whole.is_file() and self._record_of("proofs", whole) is None else None

    def _record_of(self, kind: str, path: Beneath) -> dict[str, Any] | None:
        """The record that tells of a film or proof; None for files that are not filmhand's."""
        *sub, name = path.names_below(self._context.folders.output(kind))
        return record_told(
            self._context.folders.output("records").joinpath(*sub, f"{Path(name).stem}.json")
        )

    def _still_needed(self, path: Beneath, record: dict[str, Any], keep: Keep) -> bool:
        """A record stays as long as it must tell that a film or proof may go."""
        *sub, name = path.names_below(self._context.folders.output("records"))
        films = self._context.folders.output("positives").joinpath(*sub)
        proofs = self._context.folders.output("proofs").joinpath(*sub)
        if keep.films is not None and any(
            (films / film).exists() for film in record["film"]["files"].values()
        ):
            return True
        return keep.proofs is not None and any(
            (proofs / (Path(name).stem + suffix)).exists() for suffix in _PROOFS
        )

    # --- originals ---------------------------------------------------------------------------

    def _prune_originals(self, seconds: float, now: datetime) -> int:
        """Art of finished jobs: it is put into originals only after its films are out."""
        count, newest = 0, self._newest(now)
        for path in self._next_files("originals"):
            with contextlib.suppress(OSError):
                found = path.lstat()
                if stat.S_ISREG(found.st_mode) and newest - found.st_ctime >= seconds:
                    count += atomic.unlink_expired(path)
        return count

    def _newest(self, now: datetime) -> float:
        """The time on the file system's clock or on this computer's, whichever is behind."""
        folders = self._context.folders
        there = (folders.hidden / self._context.host / "alive").lstat().st_mtime
        return min(there, now.timestamp())

    def _next_files(self, kind: str) -> list[Beneath]:
        """The next files of an output folder, in the order of their names."""
        top = self._context.folders.output(kind)
        chosen, self._after[kind] = next_files(top, self._after[kind], LOOKED_AT)
        if not self._after[kind]:
            del self._after[kind]
        return chosen


def _age(record: dict[str, Any], now: datetime) -> float:
    made = datetime.fromisoformat(record["at"])  # with its Z, which makes it comparable
    return (now - made).total_seconds()


def _gap(keep: Keep) -> float:
    times = (keep.films, keep.proofs, keep.records, keep.originals)
    shortest = min((seconds for seconds in times if seconds is not None), default=SELDOM)
    return min(SELDOM, max(OFTEN, shortest / 30))

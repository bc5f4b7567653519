"""When a dropped file has come to rest and may be taken.

Nothing here compares file times with a clock: "unchanged for so long" is measured on a monotonic
clock that is passed in, between looks that saw the same size, times and inode.
"""

from __future__ import annotations

import errno
import fcntl
import os
import signal
import time
from collections.abc import Callable, Iterable
from dataclasses import field
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from filmhand.disk.beneath import Beneath
from filmhand.intake.intake_words import IntakeWord
from filmhand.values import dataclass

GIVE_UP_FACTOR = 10
GIVE_UP_AT_LEAST = 5.0  # seconds
UNSEEN_FACTOR = 3  # times the settle time, where nothing tells whether a file is being written
# A copy over a slow line pauses, and the more of it has come, the more there is to lose. Where its
# writer cannot be seen it is waited for as long as all of it would take at a megabyte a second.
PAUSE_AT_LEAST = 60.0  # seconds
PAUSE_PER_BYTE = 1e-6
PAUSE_AT_MOST = 1800.0
_CAP_LEASE = 28  # capability.h


class FileEnd(Protocol):
    """What a look at a file's end says, as :mod:`filmhand.art.files.completeness` gives it."""

    @property
    def finished(self) -> bool:
        """True if the end looks finished."""

    @property
    def why(self) -> str:
        """One phrase: what is missing."""

    @property
    def hard(self) -> bool:
        """True if a missing end is certain; False if the file may still be good."""


class SettleState(StrEnum):
    """What may be done with a file now."""

    WAIT = "wait"
    READY = "ready"
    EMPTY = "empty"
    CUT_OFF = "cut off"


@dataclass(frozen=True, slots=True)
class SettleLook:
    """The verdict of one look, with what people should know about it."""

    rest: SettleState
    why: str
    stuck: bool = False  # True if waiting alone will not change it
    error: OSError | None = field(default=None, compare=False)  # the answer to reading it


@dataclass(slots=True)
class _Seen:
    signature: tuple[int, int, int, int]
    since: float
    whole: bool = False  # its end has been found, and nobody has written since


def signature(found: os.stat_result) -> tuple[int, int, int, int]:
    """What must not change while a file settles: size, both times, inode."""
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


class Tracker:
    """Remembers since when each file of one drop folder has been unchanged."""

    def __init__(
        self, finished: Callable[[Beneath], FileEnd], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._finished = finished
        self._clock = clock
        self._seen: dict[Beneath, _Seen] = {}

    def look(
        self,
        path: Beneath,
        found: os.stat_result,
        *,
        settle: float,
        check_end: bool = True,
        network: bool = False,
    ) -> SettleLook:
        """The verdict on a regular file; `found` is what lstat says now.

        `network`: other computers may write it, which nothing here can tell.
        """
        seen = self.note(path, found)
        if seen is None:
            return SettleLook(SettleState.WAIT, IntakeWord.JUST_CAME.say())
        now = self._clock()
        rested = now - seen.since
        if rested < settle:
            return SettleLook(SettleState.WAIT, IntakeWord.SETTLES.say())
        writer = has_writer(path)
        if writer:
            # A pause while the writer keeps the file open is not an end, however long it lasts.
            seen.since, seen.whole = now, False
            return SettleLook(SettleState.WAIT, IntakeWord.STILL_WRITTEN.say())
        # The settle time of a share is longer already, since nobody ever sees who writes there.
        if writer is None and not network and rested < (wanted := UNSEEN_FACTOR * settle):
            why = IntakeWord.SETTLES_LONGER.say(seconds=f"{wanted:g}")
            return SettleLook(SettleState.WAIT, why)
        unseen = writer is None or network
        give_up = rested >= give_up_after(settle, found.st_size, unseen=unseen)
        if found.st_size == 0:
            rest = SettleState.EMPTY if give_up else SettleState.WAIT
            return SettleLook(rest, IntakeWord.EMPTY.say())
        verdict = SettleLook(SettleState.READY, "")
        if check_end and not seen.whole:
            verdict = self._end(path, found, give_up)
            seen.whole = verdict == SettleLook(SettleState.READY, "")
        return verdict

    def note(self, path: Beneath, found: os.stat_result) -> _Seen | None:
        """Since when the file is as it is; None if it has just come or changed. Opens nothing."""
        seen = self._seen.get(path)
        if seen is None or seen.signature != signature(found):
            self._seen[path] = _Seen(signature(found), self._clock())
            return None
        return seen

    def _end(self, path: Beneath, found: os.stat_result, give_up: bool) -> SettleLook:
        try:
            finish = self._finished(path)
        except OSError as error:
            why = IntakeWord.CANNOT_READ.say(why=error.strerror)
            return SettleLook(SettleState.WAIT, why, stuck=give_up, error=error)
        if not finish.finished:
            if not give_up:
                why = IntakeWord.END_IS_MISSING.say(why=finish.why)
                return SettleLook(SettleState.WAIT, why)
            return SettleLook(SettleState.CUT_OFF if finish.hard else SettleState.READY, finish.why)
        if not give_up and ends_in_hole(path, found.st_size):
            return SettleLook(SettleState.WAIT, IntakeWord.END_NOT_WRITTEN.say())
        return SettleLook(SettleState.READY, "")

    def restart(self, path: Beneath) -> None:
        """Let `path` settle anew, as after a claim that the system refused."""
        self._seen.pop(path, None)

    def keep_only(self, paths: Iterable[Beneath]) -> None:
        """Forget files that are no longer there; one that comes again settles anew."""
        kept = set(paths)
        self._seen = {path: seen for path, seen in self._seen.items() if path in kept}


def give_up_after(settle: float, size: int, *, unseen: bool) -> float:
    """Seconds without a change after which a file without its end has broken off.

    `unseen`: whoever still has it open for writing cannot be seen.
    """
    least = max(GIVE_UP_FACTOR * settle, GIVE_UP_AT_LEAST)
    if not unseen or size == 0:
        return least
    return max(least, min(PAUSE_AT_LEAST + PAUSE_PER_BYTE * size, PAUSE_AT_MOST))


def sees_all_writers(powers: Path = Path("/proc/self/status")) -> bool | None:
    """True if :func:`has_writer` can tell of other users' files too; None: of no file at all.

    That takes the power CAP_LEASE (capabilities(7)), number 28.
    """
    if not hasattr(fcntl, "F_SETLEASE"):
        return None
    try:
        lines = powers.read_text(encoding="ascii").splitlines()
        (held,) = [int(line.split()[1], 16) for line in lines if line.startswith("CapEff:")]
    except (OSError, ValueError):
        return False
    return bool(held >> _CAP_LEASE & 1)


def has_writer(path: Beneath) -> bool | None:
    """True: somebody has it open for writing; None: this system, user or share cannot tell.

    A read lease is refused exactly while a writer has the file open (fcntl(2), F_SETLEASE).
    """
    if not hasattr(fcntl, "F_SETLEASE"):
        return None
    try:
        descriptor = path.open_descriptor(os.O_RDONLY)
    except OSError:
        return None
    try:
        # A writer that opens the file during the lease makes the kernel send a signal, whose
        # default would end the process; the urgent-data signal is ignored by default.
        fcntl.fcntl(descriptor, fcntl.F_SETSIG, signal.SIGURG)
        fcntl.fcntl(descriptor, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        fcntl.fcntl(descriptor, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    except OSError as error:
        return True if error.errno == errno.EAGAIN else None
    finally:
        os.close(descriptor)
    return False


def ends_in_hole(path: Beneath, size: int) -> bool:
    """True if the end of the file was reserved but never written (lseek(2), SEEK_HOLE)."""
    if not hasattr(os, "SEEK_HOLE"):
        return False
    try:
        descriptor = path.open_descriptor(os.O_RDONLY)
    except OSError:
        return False
    try:
        os.lseek(descriptor, max(0, size - 1), os.SEEK_DATA)
    except OSError as error:
        return error.errno == errno.ENXIO
    finally:
        os.close(descriptor)
    return False

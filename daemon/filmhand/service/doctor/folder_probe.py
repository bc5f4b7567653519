"""What a profile's folder can do, found out by doing it: for `filmhand doctor`.

Everything is tried in a hidden folder of its own that is removed again. Nothing appears in a
folder that people or print queues look at: rights there are tried with a file without a name
(open(2), O_TMPFILE), and whether films can be renamed there is asked without renaming any.
"""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import plain_error
from filmhand.disk.folders import HOLDING, OUTPUTS, Folders, is_network
from filmhand.disk.free_space import space_of
from filmhand.intake.settle import UNSEEN_FACTOR, has_writer, sees_all_writers
from filmhand.intake.watch import events_arrive
from filmhand.language import Sentence
from filmhand.service.doctor.doctor_words import DoctorWord, Level, Topic
from filmhand.values import dataclass

_EVENT_WITHIN = 2.0  # seconds; local events take milliseconds
_CLOCK_NOTE = 2.0  # seconds that clocks of two computers may differ without a word


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: where (a place, or a profile), what, found what, do what."""

    level: Level
    where: str
    what: Topic
    say: str
    do: str | None = None

    def as_dict(self) -> dict[str, str | None]:
        """The finding as `doctor --json` prints it: level, place and topic are words of ours."""
        return {key: None if one is None else str(one) for key, one in asdict(self).items()}

    def told(self) -> str:
        """Where, what and what was found, as people read it."""
        where = self.where.say() if isinstance(self.where, Sentence) else self.where
        return DoctorWord.FINDING.say(where=where, what=self.what.say(), say=self.say)


_Tried = tuple[Level, str, str | None]  # of a finding: how it is meant, what was found, what to do


def probe(folders: Folders, where: str) -> Iterator[Finding]:
    """Try all that filmhand does in a profile's folder; the folder must be there and marked.

    A try that fails is a finding, never an exception.
    """
    try:
        with atomic.temporary_folder(folders.hidden) as trial:
            yield from try_file_system(trial, where)
            yield from _try_together(trial, folders, where)
    except OSError as error:
        yield Finding(
            Level.WRONG,
            where,
            Topic.RIGHTS,
            DoctorWord.NOT_WRITABLE.say(
                folder=file_names.shown(str(folders.hidden)), why=error.strerror
            ),
            plain_error(error),
        )
    yield from _try_rights(folders, where)


def try_file_system(trial: Beneath, where: str) -> Iterator[Finding]:
    """Try in a trial folder what filmhand asks of a file system."""
    for what, attempt in _TRIES:
        try:
            level, say, do = attempt(trial)
        except OSError as error:
            level, do = Level.WRONG, plain_error(error)
            say = DoctorWord.FAILED.say(why=error.strerror)
        yield Finding(level, where, what, say, do)


def _create(trial: Beneath) -> _Tried:
    before = time.time()
    atomic.write_atomic(trial / "file", b"trial")
    after = time.time()
    if (trial / "file").read_bytes(64) != b"trial":
        return Level.WRONG, DoctorWord.CAME_BACK_DIFFERENT.say(), DoctorWord.CHECK_DISK.say()
    made = (trial / "file").lstat().st_mtime
    offset = made - after if made > after else min(0.0, made - before)
    if abs(offset) <= _CLOCK_NOTE:
        return Level.OK, DoctorWord.FILES_CAN_BE_MADE.say(), None
    differs = DoctorWord.CLOCK_AHEAD if offset > 0 else DoctorWord.CLOCK_BEHIND
    say = differs.say(seconds=f"{abs(offset):.0f}")
    return Level.NOTE, say, DoctorWord.FOLLOW_TIME_SERVER.say()


def _fsync(trial: Beneath) -> _Tried:
    for path, flags in ((trial / "file", os.O_RDWR), (trial, os.O_RDONLY | os.O_DIRECTORY)):
        descriptor = path.open_descriptor(flags)
        try:
            os.fsync(descriptor)
        except OSError as error:
            row = DoctorWord.NAMES_NOT_SYNCED if path == trial else DoctorWord.FILE_NOT_SYNCED
            level = Level.NOTE if path == trial else Level.WRONG
            return level, row.say(why=error.strerror), DoctorWord.POWER_FAILURE.say()
        finally:
            os.close(descriptor)
    return Level.OK, DoctorWord.SYNCED.say(), None


def _rename(trial: Beneath) -> _Tried:
    atomic.rename_durably(trial / "file", trial / "renamed")
    atomic.rename_durably(trial / "renamed", trial / "file")
    return Level.OK, DoctorWord.CAN_RENAME.say(), None


def _keep_names(trial: Beneath) -> _Tried:
    atomic.write_atomic(trial / "other", b"other")
    try:
        replaced = atomic.rename_no_replace(trial / "other", trial / "file")
    except FileExistsError:
        return Level.OK, DoctorWord.NEVER_REPLACES.say(), None
    if replaced:
        return Level.WRONG, DoctorWord.REPLACES.say(), DoctorWord.NO_SUCH_SHARE.say()
    if atomic.try_hard_link(trial / "file", trial / "second"):
        return Level.OK, DoctorWord.KEPT_APART_BY_LINK.say(), None
    return Level.NOTE, DoctorWord.NEVER_SAFE.say(), DoctorWord.NO_OTHER_PROGRAM.say()


def _links(trial: Beneath) -> _Tried:
    if atomic.try_hard_link(trial / "file", trial / "linked"):
        return Level.OK, DoctorWord.LINKS.say(), None
    return Level.NOTE, DoctorWord.NO_LINKS.say(), None


def _lease(trial: Beneath) -> _Tried:
    descriptor = (trial / "file").open_descriptor(os.O_WRONLY)
    try:
        writer = has_writer(trial / "file")
    finally:
        os.close(descriptor)
    told = writer and has_writer(trial / "file") is False
    if is_network(trial.path):
        say = DoctorWord.FAR_WRITERS_UNSEEN.say()
    elif not told:
        say = DoctorWord.WRITERS_UNSEEN.say(times=UNSEEN_FACTOR)
    elif sees_all_writers():
        return Level.OK, DoctorWord.WRITERS_SEEN.say(), None
    else:
        say = DoctorWord.OWN_WRITERS_SEEN.say(user=os.geteuid(), times=UNSEEN_FACTOR)
        return Level.NOTE, say, DoctorWord.GIVE_LEASE.say()
    return Level.NOTE, say, DoctorWord.RAISE_SETTLE.say()


def _space(trial: Beneath) -> _Tried:
    space = space_of(trial.path)
    if space.low:
        return Level.WRONG, space.say(), DoctorWord.MAKE_ROOM.say()
    return Level.OK, space.say(), None


def _events(trial: Beneath) -> _Tried:
    if is_network(trial.path):
        return Level.NOTE, DoctorWord.SHARE_WITHOUT_EVENTS.say(), DoctorWord.LOOKS_AT_SHARES.say()
    if events_arrive(trial, within=_EVENT_WITHIN):
        return Level.OK, DoctorWord.EVENTS_ARRIVE.say(), None
    return Level.NOTE, DoctorWord.NO_EVENT.say(), DoctorWord.LOOKS_OFTEN.say()


_TRIES: tuple[tuple[Topic, Callable[[Beneath], _Tried]], ...] = (
    (Topic.FILES, _create),
    (Topic.FSYNC, _fsync),
    (Topic.RENAME, _rename),
    (Topic.NAMES, _keep_names),
    (Topic.LINKS, _links),
    (Topic.WRITERS, _lease),
    (Topic.SPACE, _space),
    (Topic.EVENTS, _events),
)


def _try_together(trial: Beneath, folders: Folders, where: str) -> Iterator[Finding]:
    atomic.write_atomic(trial / "file", b"")
    apart = [
        kind
        for kind in folders.there()
        if not atomic.on_same_mount(trial / "file", folders.top / kind)
    ]
    if not apart:
        yield Finding(Level.OK, where, Topic.ONE_FILE_SYSTEM, DoctorWord.ONE_FILE_SYSTEM.say())
        return
    say = DoctorWord.SEVERAL_FILE_SYSTEMS.say(folders=", ".join(apart))
    do = DoctorWord.SAME_DISK.say(name=where)
    yield Finding(Level.WRONG, where, Topic.ONE_FILE_SYSTEM, say, do)


def _try_rights(folders: Folders, where: str) -> Iterator[Finding]:
    failed = False
    for kind in ("drop", *OUTPUTS, *(name for name in HOLDING if name in folders.there())):
        why = _why_not_writable(folders.top / kind)
        if why is not None:
            failed = True
            say = DoctorWord.CANNOT_WRITE.say(folder=kind, why=why)
            do = DoctorWord.ALLOW_READING_AND_WRITING.say(user=os.geteuid())
            yield Finding(Level.WRONG, where, Topic.RIGHTS, say, do)
    if not failed:
        yield Finding(Level.OK, where, Topic.RIGHTS, DoctorWord.ALL_WRITABLE.say())


def _why_not_writable(folder: Beneath) -> str | None:
    """None if files can be made, seen and removed in `folder`; nothing appears in it."""
    if not folder.exists():
        return None if _may(folder.parent, os.W_OK | os.X_OK) else DoctorWord.NOT_THERE.say()
    if not folder.is_dir():
        return DoctorWord.NO_FOLDER.say()
    if not _may(folder, os.R_OK | os.W_OK | os.X_OK):
        return DoctorWord.NO_RIGHTS.say()
    if hasattr(os, "O_TMPFILE"):
        try:
            os.close(folder.open_descriptor(os.O_TMPFILE | os.O_WRONLY, 0o600))
        except OSError as error:
            if error.errno not in _NO_NAMELESS:
                return error.strerror or str(error)
    return None


def _may(folder: Beneath, rights: int) -> bool:
    return os.access(folder.path, rights, effective_ids=os.access in os.supports_effective_ids)


# File systems and kernels that know no files without a name; the rights above must do then.
_NO_NAMELESS = atomic.NOT_SUPPORTED | {errno.EISDIR}

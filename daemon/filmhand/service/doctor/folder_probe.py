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
from dataclasses import asdict, dataclass
from enum import StrEnum

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_errors import plain_error
from filmhand.disk.folders import HOLDING, OUTPUTS, Folders, is_network
from filmhand.disk.free_space import space_of
from filmhand.intake.settle import UNSEEN_FACTOR, has_writer, sees_all_writers
from filmhand.intake.watch import events_arrive

_EVENT_WITHIN = 2.0  # seconds; local events take milliseconds
_CLOCK_NOTE = 2.0  # seconds that clocks of two computers may differ without a word


class Level(StrEnum):
    """How a finding is meant."""

    OK = "ok"
    NOTE = "note"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: where, what, what was found, what to do about it."""

    level: Level
    where: str
    what: str
    say: str
    do: str | None = None

    def as_dict(self) -> dict[str, str | None]:
        """The finding as `doctor --json` prints it."""
        return asdict(self) | {"level": self.level.value}


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
            "rights",
            f"Nothing can be written in {file_names.shown(str(folders.hidden))}: {error.strerror}.",
            plain_error(error),
        )
    yield from _try_rights(folders, where)


def try_file_system(trial: Beneath, where: str) -> Iterator[Finding]:
    """Try in a trial folder what filmhand asks of a file system."""
    for what, attempt in _TRIES:
        try:
            level, say, do = attempt(trial)
        except OSError as error:
            level, say, do = Level.WRONG, f"It failed: {error.strerror}.", plain_error(error)
        yield Finding(level, where, what, say, do)


def _create(trial: Beneath) -> _Tried:
    before = time.time()
    atomic.write_atomic(trial / "file", b"trial")
    after = time.time()
    if (trial / "file").read_bytes(64) != b"trial":
        say = "What was written came back different."
        return Level.WRONG, say, "Check the disk or share before using it."
    made = (trial / "file").lstat().st_mtime
    offset = made - after if made > after else min(0.0, made - before)
    if abs(offset) <= _CLOCK_NOTE:
        return Level.OK, "Files can be made, and their time is right.", None
    side = "ahead of" if offset > 0 else "behind"
    return (
        Level.NOTE,
        f"The file system's clock is {abs(offset):.0f} s {side} this computer's.",
        "Let both follow a time server. Filmhand itself compares no file time with its own clock.",
    )


def _fsync(trial: Beneath) -> _Tried:
    for path, flags in ((trial / "file", os.O_RDWR), (trial, os.O_RDONLY | os.O_DIRECTORY)):
        descriptor = path.open_descriptor(flags)
        try:
            os.fsync(descriptor)
        except OSError as error:
            kind = "a file" if path != trial else "a folder's names"
            return (
                Level.NOTE if path == trial else Level.WRONG,
                f"The file system cannot say that {kind} reached the disk: {error.strerror}.",
                "A power failure may cost the last moments of work here; a local disk would not.",
            )
        finally:
            os.close(descriptor)
    return Level.OK, "Files and names reach the disk when asked to.", None


def _rename(trial: Beneath) -> _Tried:
    atomic.rename_durably(trial / "file", trial / "renamed")
    atomic.rename_durably(trial / "renamed", trial / "file")
    return Level.OK, "Files can be renamed.", None


def _keep_names(trial: Beneath) -> _Tried:
    atomic.write_atomic(trial / "other", b"other")
    try:
        replaced = atomic.rename_no_replace(trial / "other", trial / "file")
    except FileExistsError:
        return Level.OK, "A name that is taken is never taken again.", None
    if replaced:
        return (
            Level.WRONG,
            "The file system says that it renames without replacing, and replaced a file.",
            "Do not use this share: files with the same name could be lost on it.",
        )
    if atomic.try_hard_link(trial / "file", trial / "second"):
        return Level.OK, "Names are kept apart by a second name (link).", None
    return (
        Level.NOTE,
        "The file system knows neither renaming without replacing nor links.",
        "Let no other program write into positives, proofs and records here.",
    )


def _links(trial: Beneath) -> _Tried:
    if atomic.try_hard_link(trial / "file", trial / "linked"):
        return Level.OK, "Hard links can be made.", None
    return Level.NOTE, "Hard links cannot be made; filmhand does without.", None


def _lease(trial: Beneath) -> _Tried:
    descriptor = (trial / "file").open_descriptor(os.O_WRONLY)
    try:
        writer = has_writer(trial / "file")
    finally:
        os.close(descriptor)
    told = writer and has_writer(trial / "file") is False
    if is_network(trial.path):
        say = "Who writes a file on another computer cannot be seen here; art rests longer for it."
    elif not told:
        say = (
            "The system cannot tell whether somebody still writes a file; all art rests "
            f"{UNSEEN_FACTOR} times the settle time."
        )
    elif sees_all_writers():
        return Level.OK, "The system tells whether a file is still written, whoever owns it.", None
    else:
        say = (
            f"The system tells the user that runs this (number {os.geteuid()}) of own files only "
            "whether they are still written; art that others own rests "
            f"{UNSEEN_FACTOR} times the settle time."
        )
        return Level.NOTE, say, "Give the service the power CAP_LEASE, as filmhand's unit does."
    return Level.NOTE, say, "Raise `settle` in the profile if copies arrive with long pauses."


def _space(trial: Beneath) -> _Tried:
    space = space_of(trial.path)
    if space.low:
        return Level.WRONG, space.say(), "Make room before the disk is full."
    return Level.OK, space.say(), None


def _events(trial: Beneath) -> _Tried:
    if is_network(trial.path):
        return (
            Level.NOTE,
            "This is a share: what other computers do here causes no events.",
            "Nothing; filmhand looks every 10 s by itself.",
        )
    if events_arrive(trial, within=_EVENT_WITHIN):
        return Level.OK, "Events arrive.", None
    return (
        Level.NOTE,
        "No event arrived when a file was written.",
        "Nothing; filmhand looks twice a second by itself. If the limit on watches is reached, "
        "raise fs.inotify.max_user_watches.",
    )


_TRIES: tuple[tuple[str, Callable[[Beneath], _Tried]], ...] = (
    ("files", _create),
    ("fsync", _fsync),
    ("rename", _rename),
    ("names", _keep_names),
    ("links", _links),
    ("writers", _lease),
    ("space", _space),
    ("events", _events),
)


def _try_together(trial: Beneath, folders: Folders, where: str) -> Iterator[Finding]:
    atomic.write_atomic(trial / "file", b"")
    apart = [
        kind
        for kind in folders.there()
        if not atomic.on_same_mount(trial / "file", folders.top / kind)
    ]
    if not apart:
        say = "All folders lie on one file system."
        yield Finding(Level.OK, where, "one file system", say)
        return
    yield Finding(
        Level.WRONG,
        where,
        "one file system",
        f"Files cannot be renamed from .filmhand to {', '.join(apart)}: not one file system.",
        f"Put all folders of {where} on the same disk or share.",
    )


def _try_rights(folders: Folders, where: str) -> Iterator[Finding]:
    failed = False
    for kind in ("drop", *OUTPUTS, *(name for name in HOLDING if name in folders.there())):
        why = _why_not_writable(folders.top / kind)
        if why is not None:
            failed = True
            yield Finding(
                Level.WRONG,
                where,
                "rights",
                f"Filmhand cannot write in {kind}: {why}.",
                f"Give the user that runs filmhand (number {os.geteuid()}) the right to read and "
                "write there.",
            )
    if not failed:
        say = "All folders can be read and written."
        yield Finding(Level.OK, where, "rights", say)


def _why_not_writable(folder: Beneath) -> str | None:
    """None if files can be made, seen and removed in `folder`; nothing appears in it."""
    if not folder.exists():
        return None if _may(folder.parent, os.W_OK | os.X_OK) else "it is not there"
    if not folder.is_dir():
        return "a link or a file is in its place"
    if not _may(folder, os.R_OK | os.W_OK | os.X_OK):
        return "the rights are missing"
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

"""Who else may write where filmhand keeps its work in hand, and what was set aside there."""

from __future__ import annotations

import contextlib
import grp
import pwd
import stat
from collections.abc import Iterator

from filmhand.disk import file_names, set_aside
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.service.doctor.folder_probe import Finding, Level


def private_folder(folders: Folders, where: str) -> Iterator[Finding]:
    """What stands about the private folder of a profile; it must be there."""
    for worry in set_aside.worries(folders.hidden):
        say, _, do = worry.rpartition(". ")
        yield Finding(Level.NOTE, where, "set aside", f"{say}.", do)
    with contextlib.suppress(OSError):
        yield _who_may_write(folders, where)


def _who_may_write(folders: Folders, where: str) -> Finding:
    """Whoever may write in the folder around it may put another in its place."""
    others = [f"{who} in .filmhand" for who in _others(folders.hidden)]
    others += [f"{who} in {file_names.shown(folders.root.name)}" for who in _others(folders.top)]
    owner = _user(folders.hidden.lstat().st_uid)
    if not others:
        say = f"Only {owner}, whose it is, may write in .filmhand."
        return Finding(Level.OK, where, "private folder", say)
    return Finding(
        Level.NOTE,
        where,
        "private folder",
        f"Besides {owner}, whose .filmhand is, these may write there or exchange it: "
        f"{', '.join(others)}.",
        "All that lies there is checked before it is used; to keep it in order, take away their "
        "right to write (chmod go-w), but for other hosts that work on the folder as others.",
    )


def _others(folder: Beneath) -> Iterator[str]:
    """Who besides its owner may write in a folder, where the file system knows rights.

    In a folder with the sticky bit nobody can exchange what is another's.
    """
    found = folder.lstat()
    if found.st_mode & stat.S_ISVTX:
        return
    if found.st_mode & stat.S_IWGRP:
        yield f"the group {_group(found.st_gid)}"
    if found.st_mode & stat.S_IWOTH:
        yield "everybody"


def _user(number: int) -> str:
    with contextlib.suppress(KeyError):
        return f"the user {pwd.getpwuid(number).pw_name}"
    return f"the user {number}"


def _group(number: int) -> str:
    with contextlib.suppress(KeyError):
        return grp.getgrgid(number).gr_name
    return str(number)

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
from filmhand.service.doctor.doctor_words import DoctorWord, Level, Topic
from filmhand.service.doctor.folder_probe import Finding


def private_folder(folders: Folders, where: str) -> Iterator[Finding]:
    """What stands about the private folder of a profile; it must be there."""
    for say, do in set_aside.worries(folders.hidden):
        yield Finding(Level.NOTE, where, Topic.SET_ASIDE, say, do)
    with contextlib.suppress(OSError):
        yield _who_may_write(folders, where)


def _who_may_write(folders: Folders, where: str) -> Finding:
    """Whoever may write in the folder around it may put another in its place."""
    others = [*_others(folders.hidden, ".filmhand")]
    others += _others(folders.top, file_names.shown(folders.root.name))
    owner = _user(folders.hidden.lstat().st_uid)
    if not others:
        say = DoctorWord.OWNER_ONLY.say(owner=owner)
        return Finding(Level.OK, where, Topic.PRIVATE_FOLDER, say)
    say = DoctorWord.OTHERS_TOO.say(owner=owner, others=", ".join(others))
    do = DoctorWord.TAKE_RIGHTS_AWAY.say()
    return Finding(Level.NOTE, where, Topic.PRIVATE_FOLDER, say, do)


def _others(folder: Beneath, shown: str) -> Iterator[str]:
    """Who besides its owner may write in a folder, where the file system knows rights.

    In a folder with the sticky bit nobody can exchange what is another's.
    """
    found = folder.lstat()
    if found.st_mode & stat.S_ISVTX:
        return
    if found.st_mode & stat.S_IWGRP:
        yield DoctorWord.GROUP_IN.say(name=_group(found.st_gid), folder=shown)
    if found.st_mode & stat.S_IWOTH:
        yield DoctorWord.EVERYBODY_IN.say(folder=shown)


def _user(number: int) -> str:
    name = str(number)
    with contextlib.suppress(KeyError):
        name = pwd.getpwuid(number).pw_name
    return DoctorWord.USER.say(name=name)


def _group(number: int) -> str:
    with contextlib.suppress(KeyError):
        return grp.getgrgid(number).gr_name
    return str(number)

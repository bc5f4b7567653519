"""Errors of disk, share and rights, told apart from errors of the art, and said plainly."""

from __future__ import annotations

import errno
import pwd
import stat

from filmhand.disk import file_names
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.disk_words import DiskWord
from filmhand.errors import no_space_left

# What a customer's file cannot be blamed for. Everything else that the system reports during a
# job counts as a strike, so that one odd name cannot stop a folder for good.
BLAMELESS = {
    errno.ENOSPC,
    errno.EDQUOT,
    errno.EROFS,
    errno.EIO,
    errno.ESTALE,
    errno.ENOTCONN,
    errno.EACCES,
    errno.EPERM,
    errno.EHOSTDOWN,
    errno.EHOSTUNREACH,
    errno.ETIMEDOUT,
    errno.EMFILE,
    errno.ENFILE,
    errno.ENOMEM,
    errno.EAGAIN,
    errno.EBUSY,
    errno.ENODEV,
    errno.ENXIO,
    errno.EREMOTEIO,
    errno.EFBIG,
    errno.ENOENT,
    errno.EXDEV,
    *IRREGULAR,
}

# What by its nature is short for a whole disk or the whole computer, whichever file met it.
OF_ALL = {
    errno.ENOSPC,
    errno.EDQUOT,
    errno.EROFS,
    errno.EMFILE,
    errno.ENFILE,
    errno.ENOMEM,
    errno.EAGAIN,
}


def whose(path: Beneath) -> str:
    """Whose file it is and who may do what with it, as people read it."""
    try:
        found = path.lstat()
    except OSError:
        return DiskWord.BELONGS_TO_UNKNOWN.say()
    rights = stat.filemode(found.st_mode)
    try:
        owner = pwd.getpwuid(found.st_uid).pw_name
    except KeyError:
        return DiskWord.BELONGS_TO_NUMBER.say(owner=found.st_uid, rights=rights)
    return DiskWord.BELONGS_TO.say(owner=owner, rights=rights)


def trouble_of_file(path: Beneath, error: OSError, *, moving: bool = False) -> str:
    """One sentence on a file that cannot be read or moved for now: why, whose it is, what to do."""
    match error.errno:
        case errno.EACCES | errno.EPERM:
            do = DiskWord.LET_MOVE if moving else DiskWord.LET_READ
        case errno.EBUSY | errno.ETXTBSY | errno.EAGAIN:
            do = DiskWord.CLOSE_IT
        case _:
            do = DiskWord.COPY_AGAIN
    return (DiskWord.CANNOT_MOVE if moving else DiskWord.CANNOT_READ).say(
        name=file_names.shown(path.name), error=error.strerror, whose=whose(path), do=do.say()
    )


def kind_of(error: BaseException) -> object:
    """What two errors with the same cause have in common, whichever file they met first."""
    cause = error if isinstance(error, OSError) else error.__cause__
    return cause.errno if isinstance(cause, OSError) else str(error)


def plain_error(error: OSError) -> str:
    """One sentence: what the system answered, where, and what to do about it."""
    where = f" ({error.filename})" if error.filename else ""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT | errno.EFBIG:
            return no_space_left(error.filename or "")
        case errno.ELOOP | errno.ENOTDIR | errno.EISDIR:
            row = DiskWord.IN_THE_WAY
        case errno.EROFS:
            row = DiskWord.READ_ONLY
        case errno.EACCES | errno.EPERM:
            row = DiskWord.NO_RIGHT
        case errno.ENOENT:
            row = DiskWord.NO_LONGER_THERE
        case errno.EMFILE | errno.ENFILE | errno.ENOMEM | errno.EAGAIN:
            row = DiskWord.COMPUTER_SHORT
        case _:
            row = DiskWord.NO_ANSWER
    return row.say(where=where, error=error.strerror)

"""Errors of disk, share and rights, told apart from errors of the art, and said plainly."""

from __future__ import annotations

import errno
import pwd
import stat

from filmhand.disk import file_names
from filmhand.disk.beneath import IRREGULAR, Beneath
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
        return "whose it is cannot be told"
    try:
        owner = pwd.getpwuid(found.st_uid).pw_name
    except KeyError:
        owner = f"user {found.st_uid}"
    return f"it belongs to {owner}, its rights are {stat.filemode(found.st_mode)}"


def trouble_of_file(path: Beneath, error: OSError, what: str = "read") -> str:
    """One sentence on a file that cannot be dealt with for now: why, whose it is, what to do."""
    match error.errno:
        case errno.EACCES | errno.EPERM:
            do = f"give filmhand's user the right to {what} it"
        case errno.EBUSY | errno.ETXTBSY | errno.EAGAIN:
            do = "close it in other programs"
        case _:
            do = "copy it here again, and have its disk or share looked at"
    return (
        f"filmhand cannot {what} {file_names.shown(path.name)} ({error.strerror}); "
        f"{whose(path)}: {do}"
    )


def kind_of(error: BaseException) -> object:
    """What two errors with the same cause have in common, whichever file they met first."""
    cause = error if isinstance(error, OSError) else error.__cause__
    return cause.errno if isinstance(cause, OSError) else str(error)


def plain_error(error: OSError) -> str:  # noqa: PLR0911
    """One sentence: what the system answered, where, and what to do about it."""
    where = f" ({error.filename})" if error.filename else ""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT | errno.EFBIG:
            return no_space_left(error.filename or "")
        case errno.ELOOP | errno.ENOTDIR | errno.EISDIR:
            return (
                f"A link, or something else that is no file or folder of its own, is in the way"
                f"{where}; filmhand follows no links there. Move it away and filmhand goes on."
            )
        case errno.EROFS:
            return f"The folder may only be read{where}; make it writable and filmhand goes on."
        case errno.EACCES | errno.EPERM:
            return (
                f"Filmhand has no right to do its work there{where}; give its user the right to "
                "read and write and it goes on."
            )
        case errno.ENOENT:
            return f"Something is no longer there{where}; filmhand looks again in a while."
        case errno.EMFILE | errno.ENFILE | errno.ENOMEM | errno.EAGAIN:
            return "This computer is short of memory or open files; filmhand tries again."
        case _:
            return (
                f"The disk or share does not answer as it should{where}: {error.strerror}; "
                "filmhand tries again."
            )

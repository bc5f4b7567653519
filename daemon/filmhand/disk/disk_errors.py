"""Errors of disk, share and rights, told apart from errors of the art, and said plainly."""

from __future__ import annotations

import errno

from filmhand.disk.beneath import IRREGULAR
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


def kind_of(error: BaseException) -> object:
    """What two errors with the same cause have in common, whichever file they met first."""
    cause = error if isinstance(error, OSError) else error.__cause__
    return cause.errno if isinstance(cause, OSError) else str(error)


def plain_error(error: OSError) -> str:  # noqa: PLR0911
    """One sentence: what the system answered, where, and what to do about it."""
    where = f" ({error.filename})" if error.filename else ""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT | errno.EFBIG:
            return no_space_left(where)
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

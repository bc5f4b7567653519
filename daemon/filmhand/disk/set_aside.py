"""Things in filmhand's private folders that are not its own, kept where they are in nobody's way.

Network disks, desktop programs and network file systems put helper files and folders into every
folder that they see, and whoever can write there may forge what looks like filmhand's own. What
their systems make anew is removed; all else that does not fit is moved to one place,
``.filmhand/set-aside/``, and never read, adopted or deleted.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.disk_words import DiskCount

SHOWN = 20  # names of which more than the number is told


def entries(folder: Beneath) -> list[Beneath]:
    """What lies in a folder, sorted by name; nothing if there is no such folder."""
    try:
        return folder.iterdir()
    except (FileNotFoundError, NotADirectoryError):
        return []


def set_aside(path: Beneath, hidden: Beneath) -> str | None:
    """Remove what its system makes anew, or move `path` below ``set-aside``.

    Returns the name that it has there; None if it is gone, or if the system does not let it go:
    a network file system may hold a file that somebody has open, and takes it away by itself.
    """
    if file_names.is_remade(path.name):
        with contextlib.suppress(OSError):
            _remove(path)
            return None
    try:
        return atomic.move_aside(path, hidden / "set-aside").name
    except OSError:
        return None


def own_folder(folder: Beneath, hidden: Beneath) -> None:
    """Make a folder below the private one; whatever else has its name is set aside."""
    try:
        folder.mkdir(0o770, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        set_aside(folder, hidden)
        folder.mkdir(0o770, exist_ok=True)


def remove_empty(folder: Beneath) -> None:
    """Remove a folder that holds nothing but what its system makes anew; OSError if it does."""
    for path in entries(folder):
        if file_names.is_remade(path.name):
            _remove(path)
    folder.rmdir()


def _remove(path: Beneath) -> None:
    if path.is_dir():
        path.rmtree()
    else:
        path.unlink()


def clear(folder: Beneath, hidden: Beneath) -> list[str]:
    """Set everything in `folder` aside and remove it; the names of what had to be kept.

    A folder that cannot be removed for now is set aside itself, and tidied away later.
    """
    kept = [name for entry in entries(folder) if (name := set_aside(entry, hidden)) is not None]
    try:
        folder.rmdir()
    except FileNotFoundError:
        pass
    except OSError:
        set_aside(folder, hidden)
    return kept


def tidy(hidden: Beneath) -> None:
    """Remove the folders below ``set-aside`` that have become empty."""
    for place, _, _ in reversed(list((hidden / "set-aside").walk())):
        with contextlib.suppress(OSError):
            place.rmdir()


def worries(hidden: Beneath) -> Iterator[tuple[str, str]]:
    """What lies there, if anything does, and what to do about it."""
    with contextlib.suppress(OSError):
        names = [file_names.shown(path.name) for path in entries(hidden / "set-aside")]
        if names:
            shown, more = ", ".join(names[:SHOWN]), len(names) - SHOWN
            if more > 0:
                shown = DiskCount.AND_MORE.say(more, names=shown)
            place = file_names.shown(str(hidden / "set-aside"))
            say = DiskCount.SET_ASIDE.say(len(names), place=place, names=shown)
            yield say, DiskCount.WHETHER_MISSED.say(len(names))

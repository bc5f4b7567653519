"""Things in filmhand's private folders that are not its own, kept where they are in nobody's way.

Network disks, desktop programs and network file systems put helper files and folders into every
folder that they see. What their systems make anew is removed; all else is moved to one place,
``.filmhand/set-aside/``, and never read, adopted or deleted.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
from collections.abc import Iterator
from pathlib import Path

from filmhand.disk import atomic, file_names

SHOWN = 20  # names of which more than the number is told


def entries(folder: Path) -> list[Path]:
    """What lies in a folder, sorted by name; nothing if there is no such folder."""
    try:
        return sorted(folder.iterdir())
    except (FileNotFoundError, NotADirectoryError):
        return []


def is_regular(path: Path) -> bool:
    """True for a file that is no link, pipe, device or folder; False too if it is gone."""
    try:
        return stat.S_ISREG(os.lstat(path).st_mode)
    except FileNotFoundError:
        return False


def set_aside(path: Path, hidden: Path) -> str | None:
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


def remove_empty(folder: Path) -> None:
    """Remove a folder that holds nothing but what its system makes anew; OSError if it does."""
    for path in entries(folder):
        if file_names.is_remade(path.name):
            _remove(path)
    folder.rmdir()


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink()


def clear(folder: Path, hidden: Path) -> list[str]:
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


def tidy(hidden: Path) -> None:
    """Remove the folders below ``set-aside`` that have become empty."""
    for place, _, _ in os.walk(hidden / "set-aside", topdown=False):
        with contextlib.suppress(OSError):
            os.rmdir(place)  # noqa: PTH106


def worries(hidden: Path) -> Iterator[str]:
    """A sentence on what lies there, if anything does."""
    with contextlib.suppress(OSError):
        names = [file_names.shown(path.name) for path in entries(hidden / "set-aside")]
        if names:
            more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
            yield (
                f"Filmhand found in its own folders what is not its own, and put it into "
                f"{file_names.shown(str(hidden / 'set-aside'))}: {', '.join(names[:SHOWN])}{more}. "
                "Look whether somebody misses it, then remove it."
            )

"""A small trial of all that jobs do in a profile's folder, to tell whose trouble an error is.

When a job has met an error of the system, the same steps are tried with a file of filmhand's own.
If they work, the trouble is that of the job's own files and the others go on; if not, it concerns
the whole folder. What can be left behind by a kill is one hidden file in the drop folder or an
output folder, which the next trial takes away, and a hidden folder among the jobs in hand.
"""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import OUTPUTS, Folders

_DATA = b"filmhand tries whether this folder works\n"


def try_folder(folders: Folders, own: Beneath, scratch: Path) -> None:
    """OSError if something that each job does fails: in its own place, the others, or scratch.

    `own` is the folder of this host's jobs in hand. Not for two threads at a time.
    """
    if not folders.present():
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(folders.marker))
    scratch.mkdir(parents=True, exist_ok=True)
    with atomic.temporary_folder(scratch) as trial:
        _write(trial / "file")
    with atomic.temporary_folder(own) as trial:
        held = trial / "held"
        held.mkdir()
        file = held / f".{own.name}.trial.tmp"
        _write(file)
        atomic.append_line(held / "log", _DATA[:-1], aside=held)
        folders.drop.names()
        for folder in (folders.drop, *map(folders.output, OUTPUTS)):
            _there_and_back(file, folder / file.name)


def _write(path: Beneath) -> None:
    atomic.write_atomic(path, _DATA)
    if path.read_bytes(len(_DATA)) != _DATA:
        raise OSError(errno.EIO, "the disk did not keep what was written", str(path))


def _there_and_back(file: Beneath, place: Beneath) -> None:
    place.unlink(missing_ok=True)  # that of a trial that was killed
    try:
        if place.parent.name == "positives":
            atomic.publish_no_replace(file, place)
        else:
            atomic.move_no_replace(file, place)
        atomic.claim_by_rename(place, file)
    except OSError:
        with contextlib.suppress(OSError):
            place.unlink()
        raise

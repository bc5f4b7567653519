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
from filmhand.disk.disk_words import DiskWord
from filmhand.disk.folders import OUTPUTS, Folders

TRIAL = ".trial"  # the folder among the jobs in hand where the trial is made
_TRIES = 5  # to take the hidden file away from a share that fails now and then
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
    trial = own / TRIAL
    clear_trial(own)
    try:
        inside = trial / "in"
        inside.mkdir(parents=True, within=own.parent)
        file, other = inside / f".{own.name}.trial.tmp", inside / "other"
        _write(file)
        atomic.append_line(inside / "log", _DATA[:-1], aside=inside)
        atomic.publish_no_replace(file, other)
        atomic.move_no_replace(other, file)
        folders.drop.names()
        for folder in (folders.drop, *map(folders.output, OUTPUTS)):
            _there_and_back(file, folder / file.name)
    finally:
        clear_trial(own)


def clear_trial(own: Beneath) -> None:
    """Remove what a trial left among the jobs in hand, as far as the system lets it go."""
    (own / TRIAL).rmtree(ignore_errors=True)


def _write(path: Beneath) -> None:
    atomic.write_atomic(path, _DATA)
    if path.read_bytes(len(_DATA)) != _DATA:
        raise OSError(errno.EIO, DiskWord.NOT_KEPT.say(), str(path))


def _there_and_back(file: Beneath, place: Beneath) -> None:
    try:
        atomic.rename_durably(file, place)  # in place of that of a trial that was killed
        atomic.claim_by_rename(place, file)
    except OSError:
        for _ in range(_TRIES):
            with contextlib.suppress(OSError):
                place.unlink(missing_ok=True)
                break
        raise

"""Scans of a wedge that are dropped together are read together.

Each scan is a job of its own and leaves a reading of its own; it is read together with those that
came shortly before it, so the last one of several leaves the curve of all. What can be half-done
when we die here: copies of figures in the scratch folder, which is emptied at the start.
"""

from __future__ import annotations

import contextlib
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

from filmhand.disk.beneath import Beneath
from filmhand.jobs.context import JobContext
from filmhand.jobs.job import Job
from filmhand.profile.inks import ink_folders
from filmhand.profile.scan_place import scan_place

TOGETHER = timedelta(minutes=30)
"""How long after one scan the next still belongs to it: time to lay a few prints on a scanner."""
_MOST = 20  # scans that are read together
_LARGEST = 256 * 1024  # bytes of figures
_FIGURES = re.compile(r"(\d{4}-\d{2}-\d{2}-\d{6})-[0-9a-f]{8}(?:-\d{1,4})?\.json")


def copy_earlier(job: Job, context: JobContext, scratch: Beneath) -> tuple[Path, ...]:
    """Copies of the figures of scans that came shortly before, the oldest first.

    What cannot be read becomes an empty copy, so that whoever reads them tells of it.
    """
    place = readings_folder(job, context)
    job.decision.earlier_scans = recent_readings(job, context)
    copies = scratch / "earlier"
    copies.mkdir(exist_ok=True)
    found = []
    for name in job.decision.earlier_scans:
        data = b""
        with contextlib.suppress(OSError, ValueError):
            data = (place / name).read_bytes(_LARGEST)
        copy = copies / name
        with copy.open_new() as stream:
            stream.write(data)
        found.append(copy.path)
    return tuple(found)


def another_came(job: Job, context: JobContext) -> bool:
    """True if another scan was read since this one was, so that both are not yet read together.

    To be asked while nothing else is published, and before anything of this job is.
    """
    if not all((job.out / item.source).exists() for item in job.publication.items):
        return False
    if len(job.decision.earlier_scans) >= _MOST:
        return False  # whoever goes on adding some keeps nobody waiting for ever
    return not set(recent_readings(job, context)) <= set(job.decision.earlier_scans)


def recent_readings(job: Job, context: JobContext) -> list[str]:
    """The names of figures that a scan which is read now belongs to, the oldest first.

    Each came within :data:`TOGETHER` before the next. OSError where the folder cannot be read.
    """
    try:
        names = [n for n in readings_folder(job, context).names() if own_digits(job) not in n]
    except (FileNotFoundError, NotADirectoryError):
        return []
    dated = sorted(
        ((at, name) for name in names if (at := _time_of(name)) is not None), reverse=True
    )
    after = context.now()
    kept: list[str] = []
    for at, name in dated:
        if at - after > TOGETHER:
            continue  # by a clock that was wrong
        if after - at > TOGETHER or len(kept) == _MOST:
            break
        after = min(at, after)
        kept.append(name)
    return kept[::-1]


def time_of_reading(job: Job, context: JobContext) -> datetime:
    """Now, but later than all readings that this one was read together with.

    The newest of all by name is in force, and names have whole seconds.
    """
    before = [at for name in job.decision.earlier_scans if (at := _time_of(name)) is not None]
    return max([context.now(), *(at + timedelta(seconds=1) for at in before)])


def readings_folder(job: Job, context: JobContext) -> Beneath:
    """The folder that a scan's reading is kept in: of an ink with a press of its own, its own.

    By the profile that the scan was taken and read with: had the ink another name by now, its
    curve would else be in force for all inks.
    """
    profile = context.profile_of(job.snapshot)
    ink = scan_place(job.sub, ink_folders(profile.inks, profile.underbase)).ink
    return context.folders.curves / ink if ink else context.folders.curves


def own_digits(job: Job) -> str:
    """What makes the name of a job's reading one of its own."""
    return job.id.rpartition("-")[2]


def _time_of(name: str) -> datetime | None:
    found = _FIGURES.fullmatch(name)
    if found is None:
        return None
    try:
        return datetime.strptime(found[1], "%Y-%m-%d-%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return None

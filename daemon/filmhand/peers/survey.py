"""What lies about in a profile's folder: other hosts, jobs in hand, forgotten noise. Only looks.

Ages are told by the file system's own clock: the time of a file that was just written there
against the times of the others. No two clocks are compared.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from filmhand.disk import atomic, file_names
from filmhand.disk.folders import Folders
from filmhand.jobs.job import Job
from filmhand.peers import host

_NOISE_AFTER = 86400.0  # seconds after which an unfinished download is a forgotten one
_STUCK_AFTER = 3600.0
_MOST = 20


@dataclass(frozen=True, slots=True)
class HostSeen:
    """A host with a folder here: seconds since its last sign of life (None: never), its jobs."""

    name: str
    silent: float | None
    dead: bool
    jobs: tuple[str, ...]


def file_system_time(folder: Path) -> float:
    """What the clock of the folder's file system shows now; OSError if nothing can be written."""
    with atomic.temporary_folder(folder) as trial:
        (trial / "now").touch()
        return (trial / "now").stat().st_mtime


def hosts_seen(folders: Folders, now: float) -> list[HostSeen]:
    """Every host that has a folder of jobs here."""
    found = []
    with contextlib.suppress(OSError):
        for name in host.Peers(folders.hidden, "").others():
            alive = folders.hidden / name / "alive"
            silent, dead = None, False
            with contextlib.suppress(OSError):
                silent = max(0.0, now - alive.stat().st_mtime)
                dead = host.certainly_dead(alive.read_bytes())
            inside = (folders.hidden / name).iterdir()
            jobs = tuple(sorted(entry.name for entry in inside if _is_job(entry)))
            found.append(HostSeen(name, silent, dead, jobs))
    return found


def stuck_jobs(folders: Folders, now: float) -> list[tuple[str, str, float]]:
    """Shown name, state and age in seconds of the jobs that nothing was noted of for an hour."""
    found = []
    for seen in hosts_seen(folders, now):
        for identity in seen.jobs:
            folder = folders.hidden / seen.name / identity
            with contextlib.suppress(OSError):
                age = now - folder.stat().st_mtime
                with contextlib.suppress(OSError):
                    age = min(age, now - (folder / "job.json").stat().st_mtime)
                if age >= _STUCK_AFTER:
                    try:
                        job = Job.load(folder)
                        found.append((job.shown, job.state.value, age))
                    except ValueError:
                        found.append((identity, "without notes", age))
    return found


def jobs_in_hand(folders: Folders) -> set[str]:
    """The ids of all jobs that are not finished, of every host; OSError if nobody can tell."""
    return {
        identity
        for name in host.Peers(folders.hidden, "").others()
        for entry in (folders.hidden / name).iterdir()
        if _is_job(entry)
        for identity in (entry.name, *members_of(entry))
    }


def _is_job(entry: Path) -> bool:
    return entry.is_dir() and not file_names.is_noise_folder(entry.name)


def members_of(gang: Path) -> list[str]:
    """The ids of the jobs in a gang's folder; none in that of an ordinary job."""
    with contextlib.suppress(OSError):
        found = [path.parent for path in gang.glob("*/**/job.json")]
        return [folder.name for folder in found if folder.name != "held"]
    return []


def old_noise(folders: Folders, now: float) -> list[str]:
    """Shown names of noise files in drop that are older than a day, a few of them."""
    return sorted(islice(_noise(folders.drop, now), _MOST))


def _noise(drop: Path, now: float) -> Iterator[str]:
    for place, inside, files in os.walk(drop):
        inside[:] = [name for name in inside if not file_names.is_noise_folder(name)]
        for name in files:
            if file_names.is_noise(name) and not name.startswith("."):
                path = Path(place, name)
                with contextlib.suppress(OSError):
                    if now - path.lstat().st_mtime >= _NOISE_AFTER:
                        yield file_names.shown(str(path.relative_to(drop)))

"""What lies about in a profile's folder: other hosts, jobs in hand, forgotten noise. Only looks.

Ages are told by the file system's own clock: the time of a file that was just written there
against the times of the others. No two clocks are compared.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from itertools import islice

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders, hosts_in
from filmhand.disk.forms import is_job_id
from filmhand.disk.set_aside import entries
from filmhand.jobs.job import Job, State
from filmhand.peers import host
from filmhand.peers.peer_words import PeerWord
from filmhand.values import dataclass

_NOISE_AFTER = 86400.0  # seconds after which an unfinished download is a forgotten one
_STUCK_AFTER = 3600.0
_MOST = 20
_GANG_LEVELS = 4  # of folders below `.filmhand`: host, gang, next gang, member


@dataclass(frozen=True, slots=True)
class HostSeen:
    """A host with a folder here: seconds since its last sign of life (None: never), its jobs."""

    name: str
    silent: float | None
    dead: bool
    jobs: tuple[str, ...]


def file_system_time(folder: Beneath) -> float:
    """What the clock of the folder's file system shows now; OSError if nothing can be written."""
    with atomic.temporary_folder(folder) as trial:
        (trial / "now").touch()
        return (trial / "now").lstat().st_mtime


def hosts_seen(folders: Folders, now: float) -> list[HostSeen]:
    """Every host that has a folder of jobs here."""
    found = []
    with contextlib.suppress(OSError):
        for name in hosts_in(folders.hidden):
            alive = folders.hidden / name / "alive"
            silent, dead = None, False
            with contextlib.suppress(OSError):
                silent = max(0.0, now - alive.lstat().st_mtime)
                dead = host.certainly_dead(host.last_sign(folders.hidden, name))
            jobs = tuple(entry.name for entry in _jobs_of(folders.hidden / name))
            found.append(HostSeen(name, silent, dead, jobs))
    return found


def stuck_jobs(folders: Folders, now: float) -> list[tuple[str, str, float]]:
    """Shown name, state and age in seconds of the jobs that nothing was noted of for an hour."""
    found = []
    for seen in hosts_seen(folders, now):
        for identity in seen.jobs:
            folder = folders.hidden / seen.name / identity
            with contextlib.suppress(OSError):
                age = now - folder.lstat().st_mtime
                with contextlib.suppress(OSError):
                    age = min(age, now - (folder / "job.json").lstat().st_mtime)
                if age >= _STUCK_AFTER:
                    try:
                        job = Job.load(folder)
                        if job.state is State.HELD:
                            continue  # it waits for people, or for another day
                        found.append((job.shown, job.state.value, age))
                    except ValueError:
                        found.append((identity, PeerWord.WITHOUT_NOTES.say(), age))
    return found


def jobs_in_hand(folders: Folders) -> set[str]:
    """The ids of all jobs that are not finished, of every host; OSError if nobody can tell."""
    return {folder.name for folder in job_folders(folders.hidden)}


def job_folders(hidden: Beneath) -> Iterator[Beneath]:
    """The folders of all jobs that are not finished, those inside a gang's included.

    OSError if nobody can tell.
    """
    for name in hosts_in(hidden):
        waiting = _jobs_of(hidden / name)
        while waiting:
            folder = waiting.pop(0)
            yield folder
            # Members lie in a gang's folder, and those without room in the next gang's in it.
            if len(folder.parts) - len(hidden.parts) < _GANG_LEVELS:
                waiting += _jobs_of(folder)


def unfinished_jobs(hidden: Beneath, of: str | None = None) -> Iterator[Job]:
    """The same of one host or of all as they are noted; what cannot be read is left out."""
    with contextlib.suppress(OSError):
        for folder in job_folders(hidden):
            if of in {None, folder.names_below(hidden)[0]}:
                with contextlib.suppress(OSError, ValueError):
                    yield Job.load(folder)


def _jobs_of(folder: Beneath) -> list[Beneath]:
    return [entry for entry in entries(folder) if is_job_id(entry.name) and entry.is_dir()]


def old_noise(folders: Folders, now: float) -> list[str]:
    """Shown names of noise files in drop that are older than a day, a few of them."""
    return sorted(islice(_noise(folders.drop, now), _MOST))


def _noise(drop: Beneath, now: float) -> Iterator[str]:
    for place, inside, files in drop.walk():
        inside[:] = [name for name in inside if not file_names.is_noise_folder(name)]
        for name in files:
            if file_names.is_noise(name) and not name.startswith("."):
                path = place / name
                with contextlib.suppress(OSError):
                    if now - path.lstat().st_mtime >= _NOISE_AFTER:
                        yield file_names.shown("/".join(path.names_below(drop)))

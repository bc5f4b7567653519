"""What `filmhand doctor` looks at: this computer, the state folder, the profiles, each folder.

It tries things for real (:mod:`filmhand.service.doctor.folder_probe`) and leaves nothing behind.
With `init` it prepares the folders that profiles name elsewhere; nothing else does.
"""

from __future__ import annotations

import contextlib
import os
import platform
import resource
import sqlite3
from collections.abc import Iterable, Iterator
from importlib import metadata
from pathlib import Path

from filmhand import __version__
from filmhand.art.files import extras
from filmhand.disk import atomic, file_names
from filmhand.disk.folders import OUTPUTS, Folders, is_network, resolved
from filmhand.disk.free_space import space_of
from filmhand.errors import EnvironmentTrouble
from filmhand.peers import survey
from filmhand.peers.host import is_locked, known_id
from filmhand.service.doctor.cluster import examine_cluster
from filmhand.service.doctor.folder_probe import Finding, Level, probe, try_file_system
from filmhand.service.doctor.job_process import examine_job_process
from filmhand.service.doctor.private_folder import private_folder
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.station_mark import StationMark
from filmhand.service.strays import strays
from filmhand.worker.parent import usable_cores

_FILES_WANTED = 256  # open files; the service and its workers stay far below
_HERE = "this computer"


def examine_station(
    station: Path, registry: ProfileRegistry, state: Path, known: Iterable[Path], *, init: bool
) -> Iterator[Finding]:
    """Every finding about a station, in the order in which trouble is best mended.

    `known` are the folders that profiles worked in before.
    """
    yield from _computer()
    yield from _state(state)
    yield from _station(station, StationMark(station, state), init=init)
    yield from _profiles(registry)
    drops = {name: _drop_of(registry, name) for name in registry.profiles}
    for name, profile in sorted(registry.profiles.items()):
        folders = registry.folders_of(profile)
        yield from _folder(name, folders, station, init=init)
        yield from _overlaps(name, folders, drops)
        yield from _lying_about(name, folders, known_id(state), running=is_locked(state))
        if profile.workers is not None:
            yield from examine_cluster(name, profile.workers, folders)
    roots = {name: registry.root_of(profile) for name, profile in registry.profiles.items()}
    for say in strays(station, roots, known):
        yield Finding(Level.NOTE, "station", "art for nobody", say)


# --- this computer -------------------------------------------------------------------------------


def _computer() -> Iterator[Finding]:
    versions = [f"filmhand {__version__}", f"Python {platform.python_version()}"]
    for package in ("numpy", "pillow"):
        with contextlib.suppress(metadata.PackageNotFoundError):
            versions.append(f"{package} {metadata.version(package)}")
    versions += [f"SQLite {sqlite3.sqlite_version}", f"{platform.system()} {platform.release()}"]
    yield Finding(Level.OK, _HERE, "versions", ", ".join(versions) + ".")
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    say = f"{usable_cores()} cores can be used; the computer has {memory:.1f} GiB of memory."
    yield Finding(Level.OK, _HERE, "cores and memory", say)
    yield _kinds_of_art()
    yield from examine_job_process(_HERE)
    files = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    say = f"{files} files may be open at once."
    if files == resource.RLIM_INFINITY or files >= _FILES_WANTED:
        yield Finding(Level.OK, _HERE, "open files", say)
    else:
        yield Finding(Level.WRONG, _HERE, "open files", say, "Allow 1024 (ulimit -n 1024).")
    with contextlib.suppress(OSError, ValueError):
        watches = int(Path("/proc/sys/fs/inotify/max_user_watches").read_text(encoding="ascii"))
        yield Finding(Level.OK, _HERE, "watches", f"{watches} folders may be watched at once.")


def _kinds_of_art() -> Finding:
    """Which kinds of files are open here, beside those that always are."""
    opened, closed = extras.opened_and_closed()
    always = "JPEG, PNG, TIFF, WebP, GIF, BMP and the like are read"
    more = f", and with the addition {', '.join(opened)}" if opened else ""
    if not closed:
        return Finding(Level.OK, _HERE, "kinds of art", f"{always}{more}.")
    say = f"{always}{more}; not {', '.join(closed)}."
    return Finding(Level.NOTE, _HERE, "kinds of art", say, f"{extras.ART_EXTRA} adds them.")


def _state(state: Path) -> Iterator[Finding]:
    where, shown = "state folder", file_names.shown(str(state))
    running = "runs" if is_locked(state) else "does not run"
    yield Finding(Level.OK, where, "service", f"The service of this station {running}.")
    there = _nearest(state)
    if is_network(there):
        yield Finding(
            Level.NOTE,
            where,
            "local disk",
            f"{shown} lies on a share, where the ledger's locks are not reliable.",
            "Name a folder on a local disk with --state.",
        )
    else:
        yield Finding(Level.OK, where, "local disk", f"{shown} is on this computer.")
    try:
        with atomic.temporary_folder(there):
            space = space_of(there)
    except OSError as error:
        say = f"Nothing can be written in {file_names.shown(str(there))}: {error.strerror}."
        do = "Give the user that runs filmhand the right to write there, or name another --state."
        yield Finding(Level.WRONG, where, "rights", say, do)
        return
    level, do = (Level.WRONG, "Make room before the disk is full.") if space.low else (Level.OK, "")
    yield Finding(level, where, "space", space.say(), do or None)


def _station(station: Path, mark: StationMark, *, init: bool) -> Iterator[Finding]:
    shown, absent = file_names.shown(str(station)), mark.known and not mark.there()
    if absent and init:
        try:
            mark.renew()
        except OSError as error:
            say = f"{shown} could not be marked: {error.strerror}."
            yield Finding(Level.WRONG, "station", "mark", say, "Connect the disk or share.")
        else:
            say = f"{shown} carries a new mark; it is the station from now on."
            yield Finding(Level.OK, "station", "mark", say)
    elif absent:
        do = (
            "Connect its disk or share, or give it its old name back; if this is how it shall be: "
            "filmhand doctor STATION --init"
        )
        say = f"{shown} lacks the mark that was left in it: it is another folder, or not there."
        yield Finding(Level.WRONG, "station", "mark", say, do)
    elif not station.is_dir():
        say = f"{shown} is not there yet; the service makes it when it starts."
        do = "Check the path if you expected it there."
        yield Finding(Level.NOTE, "station", "folder", say, do)
    elif not mark.carried and not any(station.iterdir()):
        say = f"{shown} is empty and carries no mark of filmhand."
        do = "If a disk or share belongs there, it is not connected."
        yield Finding(Level.NOTE, "station", "mark", say, do)


def _nearest(path: Path) -> Path:
    """The folder itself, or the nearest one above it that is there."""
    return next(one for one in (path, *path.parents) if one.is_dir())


# --- profiles ------------------------------------------------------------------------------------


def _profiles(registry: ProfileRegistry) -> Iterator[Finding]:
    for fault in registry.faults:
        do = "Correct the file; the service reads it again by itself."
        yield Finding(Level.WRONG, "profiles", "profile", fault, do)
    if registry.profiles:
        say = f"Right: {', '.join(sorted(registry.profiles))}."
        yield Finding(Level.OK, "profiles", "profile", say)
    elif not registry.faults:
        say = f"There is no profile in {file_names.shown(str(registry.folder))}."
        yield Finding(Level.WRONG, "profiles", "profile", say, "Put one there, or use --profiles.")


def _drop_of(registry: ProfileRegistry, name: str) -> Path:
    return resolved(registry.root_of(registry.profiles[name]) / "drop")


def _overlaps(name: str, folders: Folders, drops: dict[str, Path]) -> Iterator[Finding]:
    """Films that appear in a drop folder would be taken for art, and made again for ever."""
    for kind in OUTPUTS:
        folder = resolved(folders.output(kind).path)
        for other, drop in sorted(drops.items()):
            if folder.is_relative_to(drop):
                yield Finding(
                    Level.WRONG,
                    name,
                    "folders",
                    f"{kind} lies inside the drop folder of {other}: what comes out goes in again.",
                    f"Give {name} a folder outside {file_names.shown(str(drop))}.",
                )


# --- one profile's folder ------------------------------------------------------------------------


def _folder(name: str, folders: Folders, station: Path, *, init: bool) -> Iterator[Finding]:
    shown = file_names.shown(str(folders.root))
    if not folders.present() and folders.elsewhere:
        if not init:
            say = f"{shown} is not there or is not prepared."
            do = "Connect the disk or share; if it is new: filmhand doctor STATION --init"
            yield Finding(Level.WRONG, name, "marker", say, do)
            return
        yield _prepare(name, folders)
    if folders.present():
        yield Finding(Level.OK, name, "marker", f"{shown} carries filmhand's mark.")
        yield from probe(folders, name)
        yield from private_folder(folders, name)
    elif not folders.elsewhere:
        yield Finding(
            Level.OK, name, "marker", f"{shown} is new; the service makes it when it starts."
        )
        try:
            with atomic.temporary_folder(_nearest(folders.root)) as trial:
                yield from try_file_system(trial, name)
        except OSError as error:
            say = f"Nothing can be written in {file_names.shown(str(station))}: {error.strerror}."
            do = "Give the user that runs filmhand the right to write there."
            yield Finding(Level.WRONG, name, "rights", say, do)


def _prepare(name: str, folders: Folders) -> Finding:
    shown = file_names.shown(str(folders.root))
    try:
        if not folders.root.parent.is_dir():
            raise EnvironmentTrouble("the folder above it is not there")
        folders.make()
    except (OSError, EnvironmentTrouble) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        say = f"{shown} could not be prepared: {why}."
        return Finding(Level.WRONG, name, "prepared", say, "Connect the disk or share, then again.")
    return Finding(Level.OK, name, "prepared", f"{shown} is prepared and carries the mark now.")


def _lying_about(
    name: str, folders: Folders, own: str | None, *, running: bool
) -> Iterator[Finding]:
    if not folders.present():
        return
    try:
        now = survey.file_system_time(folders.hidden)
    except OSError:
        return  # the probe has told it
    for seen in survey.hosts_seen(folders, now):
        if seen.name != own:
            yield _other_host(name, seen)
    stuck = survey.stuck_jobs(folders, now)
    for shown, state, age in stuck:
        yield Finding(
            Level.WRONG if running else Level.NOTE,
            name,
            "job",
            f"{shown} has been {state} for {_ago(age)}.",
            "See `filmhand status` and the log." if running else "Start the service; it goes on.",
        )
    noise = survey.old_noise(folders, now)
    if noise:
        yield Finding(
            Level.NOTE,
            name,
            "left in drop",
            f"Unfinished for more than a day: {', '.join(noise)}.",
            "Somebody may wait for it: drop the file again under its own name, or remove it.",
        )
    if not stuck and not noise:
        yield Finding(Level.OK, name, "left over", "Nothing is stuck and nothing forgotten.")


def _other_host(name: str, seen: survey.HostSeen) -> Finding:
    silent = "has never given a sign of life"
    if seen.silent is not None:
        silent = f"gave its last sign of life {_ago(seen.silent)} ago"
    say = f"{seen.name} {silent} and has {len(seen.jobs)} jobs in hand here."
    if seen.silent is not None and seen.silent < 60 and not seen.dead:
        return Finding(Level.OK, name, "other host", say)
    do = "Its jobs are taken over by a running service after the profile's `takeover` time."
    return Finding(Level.NOTE, name, "other host", say, do)


def _ago(seconds: float) -> str:
    for size, unit in ((86400, "days"), (3600, "hours"), (60, "minutes")):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.0f} seconds"

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
from filmhand.kernels.loops import compiled, is_plain
from filmhand.kernels.plain import PLAIN
from filmhand.peers import survey
from filmhand.peers.host import is_locked, known_id
from filmhand.service.doctor.cluster import examine_cluster
from filmhand.service.doctor.doctor_words import DoctorCount, DoctorWord, Examined, Level, Topic
from filmhand.service.doctor.folder_probe import Finding, probe, try_file_system
from filmhand.service.doctor.job_process import examine_job_process
from filmhand.service.doctor.private_folder import private_folder
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.station_mark import StationMark
from filmhand.service.strays import strays
from filmhand.worker.cores import usable_cores

_FILES_WANTED = 256  # open files; the service and its workers stay far below


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
        yield Finding(Level.NOTE, Examined.STATION, Topic.ART_FOR_NOBODY, say)


# --- this computer -------------------------------------------------------------------------------


def _computer() -> Iterator[Finding]:
    versions = [f"filmhand {__version__}", f"Python {platform.python_version()}"]
    for package in ("numpy", "pillow"):
        with contextlib.suppress(metadata.PackageNotFoundError):
            versions.append(f"{package} {metadata.version(package)}")
    versions += [f"SQLite {sqlite3.sqlite_version}", f"{platform.system()} {platform.release()}"]
    here, say = Examined.COMPUTER, DoctorWord.VERSIONS.say(versions=", ".join(versions))
    yield Finding(Level.OK, here, Topic.VERSIONS, say)
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    say = DoctorWord.CORES.say(cores=usable_cores(), memory=f"{memory:.1f}")
    yield Finding(Level.OK, here, Topic.CORES_AND_MEMORY, say)
    yield _loops()
    yield _kinds_of_art()
    yield from examine_job_process(here)
    files = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    say = DoctorWord.OPEN_FILES.say(files=files)
    if files == resource.RLIM_INFINITY or files >= _FILES_WANTED:
        yield Finding(Level.OK, here, Topic.OPEN_FILES, say)
    else:
        do = DoctorWord.ALLOW_MORE_FILES.say()
        yield Finding(Level.WRONG, here, Topic.OPEN_FILES, say, do)
    with contextlib.suppress(OSError, ValueError):
        watches = int(Path("/proc/sys/fs/inotify/max_user_watches").read_text(encoding="ascii"))
        say = DoctorWord.WATCHES.say(watches=watches)
        yield Finding(Level.OK, here, Topic.WATCHES, say)


def _loops() -> Finding:
    """Whether the compiled inner loops run, and if not, why."""
    here = Examined.COMPUTER
    if compiled() is not None:
        return Finding(Level.OK, here, Topic.LOOPS, DoctorWord.LOOPS_COMPILED.say())
    if is_plain():
        say = DoctorWord.LOOPS_SWITCHED_OFF.say(variable=PLAIN)
        do = DoctorWord.SWITCH_LOOPS_ON.say(variable=PLAIN)
        return Finding(Level.NOTE, here, Topic.LOOPS, say, do)
    say, do = DoctorWord.LOOPS_NOT_COMPILED.say(), DoctorWord.COMPILE_LOOPS.say()
    return Finding(Level.NOTE, here, Topic.LOOPS, say, do)


def _kinds_of_art() -> Finding:
    """Which kinds of files are open here, beside those that always are."""
    opened, closed = extras.opened_and_closed()
    row = {
        (True, False): DoctorWord.ALL_READ,
        (True, True): DoctorWord.SOME_READ,
        (False, True): DoctorWord.NONE_ADDED,
    }[bool(opened), bool(closed)]
    say = row.say(opened=", ".join(opened), closed=", ".join(closed))
    if not closed:
        return Finding(Level.OK, Examined.COMPUTER, Topic.KINDS_OF_ART, say)
    do = DoctorWord.EXTRA_ADDS.say(extra=extras.ART_EXTRA)
    return Finding(Level.NOTE, Examined.COMPUTER, Topic.KINDS_OF_ART, say, do)


def _state(state: Path) -> Iterator[Finding]:
    where, shown = Examined.STATE, file_names.shown(str(state))
    running = DoctorWord.SERVICE_RUNS if is_locked(state) else DoctorWord.SERVICE_DOES_NOT_RUN
    yield Finding(Level.OK, where, Topic.SERVICE, running.say())
    there = _nearest(state)
    if is_network(there):
        yield Finding(
            Level.NOTE,
            where,
            Topic.LOCAL_DISK,
            DoctorWord.STATE_ON_SHARE.say(folder=shown),
            DoctorWord.STATE_ELSEWHERE.say(),
        )
    else:
        say = DoctorWord.STATE_IS_LOCAL.say(folder=shown)
        yield Finding(Level.OK, where, Topic.LOCAL_DISK, say)
    try:
        with atomic.temporary_folder(there):
            space = space_of(there)
    except OSError as error:
        say = _not_writable(there, error)
        do = DoctorWord.ALLOW_WRITING_OR_STATE.say()
        yield Finding(Level.WRONG, where, Topic.RIGHTS, say, do)
        return
    if space.low:
        do = DoctorWord.MAKE_ROOM.say()
        yield Finding(Level.WRONG, where, Topic.SPACE, space.say(), do)
    else:
        yield Finding(Level.OK, where, Topic.SPACE, space.say())


def _station(station: Path, mark: StationMark, *, init: bool) -> Iterator[Finding]:
    where, shown = Examined.STATION, file_names.shown(str(station))
    absent = mark.known and not mark.there()
    if absent and init:
        try:
            mark.renew()
        except OSError as error:
            say = DoctorWord.NOT_MARKED.say(station=shown, why=error.strerror)
            yield Finding(Level.WRONG, where, Topic.MARK, say, DoctorWord.CONNECT.say())
        else:
            say = DoctorWord.MARKED_ANEW.say(station=shown)
            yield Finding(Level.OK, where, Topic.MARK, say)
    elif absent:
        say = DoctorWord.ANOTHER_STATION.say(station=shown)
        yield Finding(Level.WRONG, where, Topic.MARK, say, DoctorWord.CONNECT_STATION.say())
    elif not station.is_dir():
        say = DoctorWord.STATION_IS_NEW.say(station=shown)
        yield Finding(Level.NOTE, where, Topic.FOLDER, say, DoctorWord.CHECK_PATH.say())
    elif not mark.carried and not any(station.iterdir()):
        say = DoctorWord.STATION_IS_EMPTY.say(station=shown)
        yield Finding(Level.NOTE, where, Topic.MARK, say, DoctorWord.NOT_CONNECTED.say())


def _not_writable(folder: Path, error: OSError) -> str:
    return DoctorWord.NOT_WRITABLE.say(folder=file_names.shown(str(folder)), why=error.strerror)


def _nearest(path: Path) -> Path:
    """The folder itself, or the nearest one above it that is there."""
    return next(one for one in (path, *path.parents) if one.is_dir())


# --- profiles ------------------------------------------------------------------------------------


def _profiles(registry: ProfileRegistry) -> Iterator[Finding]:
    where, what = Examined.PROFILES, Topic.PROFILE
    for fault in registry.faults:
        yield Finding(Level.WRONG, where, what, fault, DoctorWord.CORRECT_PROFILE.say())
    if registry.profiles:
        say = DoctorWord.PROFILES_RIGHT.say(profiles=", ".join(sorted(registry.profiles)))
        yield Finding(Level.OK, where, what, say)
    elif not registry.faults:
        say, do = registry.absence()
        yield Finding(Level.WRONG, where, what, say, do)


def _drop_of(registry: ProfileRegistry, name: str) -> Path:
    return resolved(registry.root_of(registry.profiles[name]) / "drop")


def _overlaps(name: str, folders: Folders, drops: dict[str, Path]) -> Iterator[Finding]:
    """Films that appear in a drop folder would be taken for art, and made again for ever."""
    for kind in OUTPUTS:
        folder = resolved(folders.output(kind).path)
        for other, drop in sorted(drops.items()):
            if folder.is_relative_to(drop):
                say = DoctorWord.GOES_IN_AGAIN.say(kind=kind, other=other)
                do = DoctorWord.FOLDER_OUTSIDE.say(name=name, drop=file_names.shown(str(drop)))
                yield Finding(Level.WRONG, name, Topic.FOLDERS, say, do)


# --- one profile's folder ------------------------------------------------------------------------


def _folder(name: str, folders: Folders, station: Path, *, init: bool) -> Iterator[Finding]:
    shown = file_names.shown(str(folders.root))
    if not folders.present() and folders.elsewhere:
        if not init:
            say = DoctorWord.FOLDER_NOT_READY.say(folder=shown)
            yield Finding(Level.WRONG, name, Topic.MARKER, say, DoctorWord.CONNECT_OR_INIT.say())
            return
        yield _prepare(name, folders)
    if folders.present():
        yield Finding(Level.OK, name, Topic.MARKER, DoctorWord.CARRIES_MARK.say(folder=shown))
        yield from probe(folders, name)
        yield from private_folder(folders, name)
    elif not folders.elsewhere:
        yield Finding(Level.OK, name, Topic.MARKER, DoctorWord.FOLDER_IS_NEW.say(folder=shown))
        try:
            with atomic.temporary_folder(_nearest(folders.root)) as trial:
                yield from try_file_system(trial, name)
        except OSError as error:
            say, do = _not_writable(station, error), DoctorWord.ALLOW_WRITING.say()
            yield Finding(Level.WRONG, name, Topic.RIGHTS, say, do)


def _prepare(name: str, folders: Folders) -> Finding:
    shown = file_names.shown(str(folders.root))
    try:
        if not folders.root.parent.is_dir():
            raise EnvironmentTrouble(DoctorWord.NOTHING_ABOVE.say())
        folders.make()
    except (OSError, EnvironmentTrouble) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        say = DoctorWord.NOT_PREPARED.say(folder=shown, why=why)
        do = DoctorWord.CONNECT_AND_REPEAT.say()
        return Finding(Level.WRONG, name, Topic.PREPARED, say, do)
    return Finding(Level.OK, name, Topic.PREPARED, DoctorWord.NOW_PREPARED.say(folder=shown))


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
    level = Level.WRONG if running else Level.NOTE
    then = DoctorWord.SEE_STATUS if running else DoctorWord.START_SERVICE
    for shown, state, age in stuck:
        say = DoctorWord.JOB_IS_STUCK.say(name=shown, state=state, ago=_ago(age))
        yield Finding(level, name, Topic.JOB, say, then.say())
    noise = survey.old_noise(folders, now)
    if noise:
        say = DoctorWord.UNFINISHED.say(names=", ".join(noise))
        yield Finding(Level.NOTE, name, Topic.LEFT_IN_DROP, say, DoctorWord.DROP_AGAIN.say())
    if not stuck and not noise:
        yield Finding(Level.OK, name, Topic.LEFT_OVER, DoctorWord.NOTHING_LEFT.say())


def _other_host(name: str, seen: survey.HostSeen) -> Finding:
    if seen.silent is None:
        say = DoctorCount.HOST_NEVER_HEARD.say(len(seen.jobs), host=seen.name)
    else:
        ago = _ago(seen.silent)
        say = DoctorCount.HOST_HEARD.say(len(seen.jobs), host=seen.name, ago=ago)
    if seen.silent is not None and seen.silent < 60 and not seen.dead:
        return Finding(Level.OK, name, Topic.OTHER_HOST, say)
    return Finding(Level.NOTE, name, Topic.OTHER_HOST, say, DoctorWord.TAKEN_OVER.say())


def _ago(seconds: float) -> str:
    units = ((86400, DoctorCount.DAYS), (3600, DoctorCount.HOURS), (60, DoctorCount.MINUTES))
    for size, unit in units:
        if seconds >= 2 * size:
            return unit.say(round(seconds / size))
    return DoctorCount.SECONDS.say(round(seconds))

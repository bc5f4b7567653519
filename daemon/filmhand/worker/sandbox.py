"""What a job's process can reach: its own folders, and what Python needs to load; nothing else.

Landlock (landlock(7)) bounds what files can be opened, and on newer kernels connections and
signals; :mod:`filmhand.worker.system_calls` refuses what Landlock does not know. Where the kernel
has neither, everything works as without them, and ``filmhand doctor`` says so.

Landlock's three calls are made here by their numbers, which are the same on every machine: the
bindings on PyPI are a development release or new and of one hand each, so they would have to be
read and watched for longer than these lines.
"""

from __future__ import annotations

import ctypes
import os
import struct
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from filmhand.errors import EnvironmentTrouble
from filmhand.values import dataclass
from filmhand.worker.system_calls import filter_calls
from filmhand.worker.worker_words import WorkerWord

_CREATE, _ADD, _RESTRICT = 444, 445, 446  # asm-generic/unistd.h
_ASK_VERSION, _RULE_OF_PATH = 1, 1  # linux/landlock.h, as the rights and scopes below
_WRITE_FILE, _READ_FILE, _READ_DIR = 1 << 1, 1 << 2, 1 << 3
_REMOVE_DIR, _REMOVE_FILE, _MAKE_DIR, _MAKE_REG = 1 << 4, 1 << 5, 1 << 7, 1 << 8
_REFER, _TRUNCATE = 1 << 13, 1 << 14
_ALL_RIGHTS = {1: (1 << 13) - 1, 2: (1 << 14) - 1, 3: (1 << 15) - 1, 5: (1 << 16) - 1}
_ALL_OF_TCP, _ALL_SCOPES = 0b11, 0b11
_TCP_SINCE, _SCOPES_SINCE = 4, 6
_READ = _READ_FILE | _READ_DIR
# No links, pipes, sockets or devices: whoever looks into the folders later must find none.
_WORK = (
    _READ | _WRITE_FILE | _REMOVE_DIR | _REMOVE_FILE | _MAKE_DIR | _MAKE_REG | _REFER | _TRUNCATE
)
_OF_A_FILE = _WRITE_FILE | _READ_FILE | _TRUNCATE
_PR_SET_NO_NEW_PRIVS, _PR_CAP_AMBIENT, _PR_CAP_AMBIENT_CLEAR_ALL = 38, 47, 4  # linux/prctl.h

_LOADED_FROM = (
    *("/lib", "/lib32", "/lib64", "/usr/lib", "/usr/lib32", "/usr/lib64", "/usr/local/lib"),
    *("/nix/store", "/gnu/store"),
    *("/etc/ld.so.cache", "/etc/ld-musl-x86_64.path", "/etc/ld-musl-aarch64.path"),
)
# Where fonts lie for drawings that set text: fontconfig's usual folders, and those of X11.
_FONTS = (
    *("/etc/fonts", "/usr/share/fonts", "/usr/local/share/fonts", "/usr/share/X11/fonts"),
    *("/usr/share/fontconfig", "/var/cache/fontconfig", "/usr/share/ghostscript/fonts"),
)
_OWN_FONTS = (".fonts", ".local/share/fonts", ".config/fontconfig")
_DEVICES = ("/dev/null", "/dev/zero", "/dev/random", "/dev/urandom")


@dataclass(frozen=True, slots=True)
class Confinement:
    """What holds for a process: the version of Landlock's interface (0: none), and the filter."""

    landlock: int
    calls_filtered: bool


def confine(readable: Iterable[Path], writable: Iterable[Path]) -> Confinement:
    """Bind this process, and all that it forks, to some files and folders; for good.

    It must have no other thread.

    Parameters
    ----------
    readable : files and folders that may be read, beside those that Python itself needs
    writable : folders in which files and folders may be made, written and removed

    Raises EnvironmentTrouble where the system can bind it and then failed in it.
    """
    _control(_PR_SET_NO_NEW_PRIVS, 1)  # without which the system does neither
    version = landlock_version()
    if version:
        try:
            _restrict(version, readable, writable)
        except OSError as error:
            raise EnvironmentTrouble(WorkerWord.NOT_BOUND.say(why=error.strerror)) from error
    return Confinement(version, filter_calls(own_signals=version < _SCOPES_SINCE))


def landlock_version() -> int:
    """The newest version of Landlock's interface that this system has; 0 for none."""
    if sys.platform != "linux":
        return 0
    try:
        return _call(_CREATE, None, ctypes.c_size_t(0), _ASK_VERSION)
    except OSError:  # not built in, not switched on, or kept from us
        return 0


def keep_from_workers() -> None:
    """Let no program that this process starts inherit the capabilities that a unit gave it.

    To be called by the first thread, before there are others.
    """
    _control(_PR_CAP_AMBIENT, _PR_CAP_AMBIENT_CLEAR_ALL)


def _restrict(version: int, readable: Iterable[Path], writable: Iterable[Path]) -> None:
    handled = _ALL_RIGHTS[max(known for known in _ALL_RIGHTS if known <= version)]
    bounds = [handled]
    if version >= _TCP_SINCE:
        bounds.append(_ALL_OF_TCP)
    if version >= _SCOPES_SINCE:
        bounds.append(_ALL_SCOPES)
    given = struct.pack(f"={len(bounds)}Q", *bounds)
    rules = _call(_CREATE, given, ctypes.c_size_t(len(given)), 0)
    try:
        for path in (*_needed(), *readable):
            _allow(rules, path, _READ & handled)
        _allow(rules, Path("/dev/null"), (_READ | _WRITE_FILE) & handled)
        for path in writable:
            _allow(rules, path, _WORK & handled)
        _call(_RESTRICT, rules, 0)
    finally:
        os.close(rules)


def _allow(rules: int, path: Path, rights: int) -> None:
    """Allow what lies there; a path with nothing there needs no rule."""
    try:
        place = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return
    try:
        if not path.is_dir():
            rights &= _OF_A_FILE
        _call(_ADD, rules, _RULE_OF_PATH, struct.pack("=Qi", rights, place), 0)
    finally:
        os.close(place)


def _needed() -> Iterator[Path]:
    """What Python and the libraries load when they are first used."""
    home = _home()
    search = os.environ.get("LD_LIBRARY_PATH", "").split(os.pathsep)
    for folder in {sys.prefix, sys.base_prefix, sys.exec_prefix, *sys.path, *search}:
        path = Path(folder)
        # A folder that also holds people's own, as / does, is none to load from.
        if (
            path.is_absolute()
            and len(path.parts) > 1
            and (home is None or not home.is_relative_to(path))
        ):
            yield path
    for name in (*_LOADED_FROM, *_FONTS, *_DEVICES):
        yield Path(name)
    if home:
        yield from (home / name for name in _OWN_FONTS)
    yield Path("/proc/self")


def _home() -> Path | None:
    try:
        return Path.home().resolve()
    except (RuntimeError, OSError):
        return None


@cache
def _library() -> ctypes.CDLL:
    return ctypes.CDLL(None, use_errno=True)


def _control(what: int, how: int) -> None:
    if hasattr(_library(), "prctl"):
        _library().prctl(what, how, 0, 0, 0)


def _call(number: int, *given: Any) -> int:
    result = int(_library().syscall(ctypes.c_long(number), *given))
    if result < 0:
        code = ctypes.get_errno()
        raise OSError(code, os.strerror(code))
    return result

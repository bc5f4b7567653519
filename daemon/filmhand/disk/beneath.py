"""Places below a folder that is trusted, reached without ever following a link.

Whoever can write in a profile's folder can put links, pipes and folders of his own there, also in
the moment between a look and the use of what was seen. A path is therefore never handed to the
system. Each operation walks from the trusted folder name by name, with descriptors of folders that
are opened without following links, and does its work in the last of them (openat(2)). Nothing that
is done so can leave the trusted folder; what lies above it, links included, is the administrator's.

All systems that filmhand runs on know these calls. Where there is no ``O_PATH`` (macOS), the
folders on the way must be readable, not only searchable; else the same holds.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Callable, Iterable, Iterator
from functools import total_ordering
from io import BufferedReader
from pathlib import Path
from typing import Any, BinaryIO, Literal, TypeVar

from filmhand.disk.disk_words import DiskWord

DEEPEST_FOLDERS = 40  # levels of folders that are gone through; people's have at most a dozen
_WAY = getattr(os, "O_PATH", os.O_RDONLY) | os.O_DIRECTORY | os.O_CLOEXEC
_READ_FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC
_READ = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
# What the system answers where a link, pipe, socket, device or folder is in the place of a file.
IRREGULAR = {errno.ELOOP, errno.ENOTDIR, errno.EISDIR, errno.ENXIO}
_Answer = TypeVar("_Answer")


def is_single(name: object) -> bool:
    """True for the name of one thing in a folder: it names no other folder, and can be encoded."""
    if not isinstance(name, str) or name in {"", ".", ".."} or "/" in name or "\0" in name:
        return False
    try:
        os.fsencode(name)
    except UnicodeEncodeError:
        return False
    return True


@total_ordering
class Beneath:
    """A place below `root`, as single names.

    Parameters
    ----------
    root : Path
        A folder that is trusted, and may be reached through links.
    parts : tuple of str
        The names from there on; ValueError for one that is more than a name.
    """

    __slots__ = ("_hash", "parts", "root")

    root: Path
    parts: tuple[str, ...]

    def __init__(self, root: Path, parts: tuple[str, ...] = ()) -> None:
        for part in parts:
            if not is_single(part):
                raise ValueError(f"{part!r} is not the name of one thing in a folder")
        self._set(root, parts)

    def _set(self, root: Path, parts: tuple[str, ...]) -> Beneath:
        self.root, self.parts = root, parts
        self._hash = hash((root, parts))
        return self

    def _child(self, name: str) -> Beneath:
        """A name that the system gave needs no check."""
        return Beneath.__new__(Beneath)._set(self.root, (*self.parts, name))

    # --- names -------------------------------------------------------------------------------

    def __truediv__(self, name: str) -> Beneath:
        if not is_single(name):
            raise ValueError(f"{name!r} is not the name of one thing in a folder")
        return self._child(name)

    def joinpath(self, *names: str) -> Beneath:
        """The place of these names, one below the other."""
        return Beneath(self.root, (*self.parts, *names))

    @property
    def path(self) -> Path:
        """The path, for messages, and for those who can do no harm with it."""
        return self.root.joinpath(*self.parts)

    @property
    def name(self) -> str:
        """The last name."""
        return self.parts[-1] if self.parts else self.root.name

    @property
    def suffix(self) -> str:
        """The ending of the name, with its dot."""
        return Path(self.name).suffix

    @property
    def parent(self) -> Beneath:
        """The folder around it; ValueError for the trusted folder itself."""
        if not self.parts:
            raise ValueError(f"what lies above {self.root} is none of filmhand's business")
        return Beneath.__new__(Beneath)._set(self.root, self.parts[:-1])

    def with_name(self, name: str) -> Beneath:
        """Another name in the same folder."""
        return self.parent / name

    def names_below(self, top: Beneath) -> tuple[str, ...]:
        """The names from `top` to here; ValueError if it is not below."""
        count = len(top.parts)
        if self.root != top.root or self.parts[:count] != top.parts:
            raise ValueError(f"{self} is not below {top}")
        return self.parts[count:]

    def __str__(self) -> str:
        return str(self.path)

    def __repr__(self) -> str:
        return f"Beneath({str(self.root)!r}, {self.parts!r})"

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Beneath) and (self.parts, self.root) == (other.parts, other.root)

    def __lt__(self, other: Beneath) -> bool:
        return (self.root, self.parts) < (other.root, other.parts)

    # --- the way there -----------------------------------------------------------------------

    def open_parent(self) -> tuple[int, str]:
        """A descriptor of the folder around it, and the name to use there; the caller closes it.

        NotADirectoryError where a link or a file is in the place of one of the folders.
        """
        folder = os.open(self.root, _WAY)
        for number, part in enumerate(self.parts[:-1], 1):
            try:
                inner = os.open(part, _WAY | os.O_NOFOLLOW, dir_fd=folder)
            except OSError as error:
                if error.errno == errno.ELOOP:
                    error = NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
                error.filename = str(self.root.joinpath(*self.parts[:number]))
                raise error from None
            finally:
                os.close(folder)
            folder = inner
        return folder, self.parts[-1] if self.parts else "."

    def _do(self, function: Callable[..., _Answer], *values: Any, **options: Any) -> _Answer:
        folder, name = self.open_parent()
        try:
            return function(name, *values, dir_fd=folder, **options)
        except OSError as error:
            error.filename = str(self)
            raise
        finally:
            os.close(folder)

    def open_folder(self) -> int:
        """A descriptor to read the folder itself, or to make its names durable."""
        return self._do(os.open, _READ_FOLDER)

    # --- looking -----------------------------------------------------------------------------

    def lstat(self) -> os.stat_result:
        """What lies there, a link as a link."""
        return self._do(os.stat, follow_symlinks=False)

    def _mode(self) -> int:
        """0 if nothing is there."""
        try:
            return self.lstat().st_mode
        except (FileNotFoundError, NotADirectoryError):
            return 0

    def exists(self) -> bool:
        """True if anything is there, be it a link to nowhere."""
        return bool(self._mode())

    def is_dir(self) -> bool:
        """True for a folder; False for a link to one."""
        return stat.S_ISDIR(self._mode())

    def is_file(self) -> bool:
        """True for a regular file; False for a link to one."""
        return stat.S_ISREG(self._mode())

    def modes(self, names: Iterable[str]) -> list[int]:
        """The mode of what has each of these names in the folder; 0 where nothing has."""
        return [0 if found is None else found.st_mode for found in self.stats(names)]

    def stats(self, names: Iterable[str]) -> list[os.stat_result | None]:
        """What has each of these names in the folder; None where nothing has."""
        folder = self._child("any").open_parent()[0]
        found: list[os.stat_result | None] = []
        try:
            for name in names:
                try:
                    found.append(os.stat(name, dir_fd=folder, follow_symlinks=False))
                except FileNotFoundError:
                    found.append(None)
        except OSError as error:
            error.filename = str(self)
            raise
        finally:
            os.close(folder)
        return found

    def names(self) -> list[str]:
        """The names in the folder, in no order."""
        descriptor = self.open_folder()
        try:
            return os.listdir(descriptor)  # noqa: PTH208
        finally:
            os.close(descriptor)

    def iterdir(self) -> list[Beneath]:
        """What lies in the folder, by name."""
        return [self._child(name) for name in sorted(self.names())]

    def scan(self) -> list[tuple[str, os.stat_result]]:
        """Names in the folder with what lies there; without what went away meanwhile."""
        descriptor, found = self.open_folder(), []
        try:
            with os.scandir(descriptor) as entries:
                for entry in entries:
                    with contextlib.suppress(OSError):
                        found.append((entry.name, entry.stat(follow_symlinks=False)))
        finally:
            os.close(descriptor)
        return found

    def _kinds(self) -> tuple[list[str], list[str]]:
        """The names of folders and of all else, sorted; most systems tell that without a look."""
        descriptor = self.open_folder()
        kinds: tuple[list[str], list[str]] = ([], [])
        try:
            with os.scandir(descriptor) as entries:
                for entry in entries:
                    kinds[not entry.is_dir(follow_symlinks=False)].append(entry.name)
        finally:
            os.close(descriptor)
        return sorted(kinds[0]), sorted(kinds[1])

    def walk(
        self, onerror: Callable[[OSError], None] | None = None
    ) -> Iterator[tuple[Beneath, list[str], list[str]]]:
        """Each folder from here down with its folders and its other names, as :func:`os.walk`.

        The caller may take folders out of the list. Of what cannot be read `onerror` hears.
        """
        waiting = [self]
        while waiting:
            folder = waiting.pop()
            try:
                inside, others = folder._kinds()
            except OSError as error:
                if onerror is not None:
                    onerror(error)
                continue
            yield folder, inside, others
            if len(folder.parts) - len(self.parts) < DEEPEST_FOLDERS:
                waiting += [folder._child(name) for name in reversed(inside)]

    # --- files -------------------------------------------------------------------------------

    def open(self, mode: Literal["rb"] = "rb", /) -> BufferedReader:
        """Open a regular file for reading; OSError of :data:`IRREGULAR` for anything else.

        A pipe or device neither holds this up nor is it read.
        """
        assert mode == "rb"
        descriptor = self._do(os.open, _READ)
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            os.close(descriptor)
            raise OSError(errno.ELOOP, DiskWord.NO_REGULAR_FILE.say(), str(self))
        return os.fdopen(descriptor, "rb")

    def read_bytes(self, most: int) -> bytes:
        """The content of a regular file; ValueError if it is longer than `most` bytes."""
        with self.open() as file:
            data = file.read(most + 1)
        if len(data) > most:
            raise ValueError(f"{self} has more than {most} bytes")
        return data

    def read_end(self, most: int) -> bytes:
        """The last `most` bytes of a regular file, or all of a shorter one."""
        with self.open() as file:
            file.seek(max(0, file.seek(0, os.SEEK_END) - most))
            return file.read()

    def open_new(self, mode: int = 0o666) -> BinaryIO:
        """Make a file and open it for writing; FileExistsError if anything has the name."""
        return os.fdopen(self._do(os.open, _NEW, mode), "wb")

    def open_descriptor(self, flags: int, mode: int = 0o666) -> int:
        """As :func:`os.open`, never through a link and never waiting for a pipe's other end."""
        return self._do(os.open, flags | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC, mode)

    def touch(self) -> None:
        """Make an empty file; FileExistsError if anything has the name."""
        self.open_new().close()

    def utime(self, times: tuple[float, float]) -> None:
        """Set both times of a file."""
        self._do(os.utime, times, follow_symlinks=False)

    def unlink(self, *, missing_ok: bool = False) -> None:
        """Remove a file, or a link itself."""
        try:
            self._do(os.unlink)
        except FileNotFoundError:
            if not missing_ok:
                raise

    # --- folders -----------------------------------------------------------------------------

    def mkdir(
        self,
        mode: int = 0o777,
        *,
        parents: bool = False,
        within: Beneath | None = None,
        exist_ok: bool = False,
    ) -> None:
        """Make a folder; a link to one never counts as being there already.

        `parents` makes what is missing on the way, but never the trusted folder, nor `within` and
        what lies above it: a share can vanish at any moment, and nothing is made in its stead.
        """
        if not self.parts:
            self.lstat()
            return
        try:
            self._do(os.mkdir, mode)
        except FileExistsError:
            if not exist_ok or not self.is_dir():
                raise
        except FileNotFoundError:
            if not parents or len(self.parts) == 1 or self.parent == within:
                raise
            self.parent.mkdir(parents=True, within=within, exist_ok=True)
            self.mkdir(mode, exist_ok=exist_ok)

    def rmdir(self) -> None:
        """Remove an empty folder."""
        self._do(os.rmdir)

    def rmtree(self, *, ignore_errors: bool = False) -> None:
        """Remove a folder and all that is in it; links in it are removed themselves.

        Nothing happens to one that is nested too deep to be filmhand's own: OSError of ELOOP.
        """
        try:
            folders = list(self.walk(_raise))
            if any(len(one.parts) - len(self.parts) >= DEEPEST_FOLDERS for one, _, _ in folders):
                raise OSError(errno.ELOOP, DiskWord.TOO_DEEP.say(), str(self))
            for folder, _, names in reversed(folders):
                for name in names:
                    (folder / name).unlink(missing_ok=True)
                folder.rmdir()
        except OSError:
            if not ignore_errors:
                raise


def _raise(error: OSError) -> None:
    raise error


def as_beneath(path: Path | Beneath) -> Beneath:
    """A local path as a place in its folder, which is trusted."""
    return path if isinstance(path, Beneath) else Beneath(path.parent, (path.name,))

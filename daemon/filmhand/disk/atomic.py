"""The only place that renames, and the few ways in which filmhand's own files are written.

What can be half-done when we die here: a new file exists under a temporary name in the job's
folder; or, on a file system without rename-without-replacing, an empty file holds the place of a
customer's file or a record that is about to arrive (:func:`_reserve` recognizes it on the next
try), or a film has both its old and its new name (:func:`publish_no_replace` then drops the old
one).
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import secrets
import shutil
import stat
import zlib
from collections.abc import Iterator
from pathlib import Path

from filmhand.disk.file_names import first_free

_AT_FDCWD = -100
_RENAME_NOREPLACE = 1
NOT_SUPPORTED = {errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP, errno.EPERM}
_LINK_NOT_SUPPORTED = {errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.EINVAL}
# The file times of an empty file that only holds a name: the first months of 1970, as no camera.
_PLACE_HELD = 86400
_PLACES = 2**24

_libc = ctypes.CDLL(None, use_errno=True)


def rename_no_replace(source: Path, target: Path) -> bool:
    """Rename, or raise FileExistsError; False if this system or file system has no such call."""
    if not hasattr(_libc, "renameat2"):
        return False
    before = os.lstat(source)
    result = _libc.renameat2(
        _AT_FDCWD, os.fsencode(source), _AT_FDCWD, os.fsencode(target), _RENAME_NOREPLACE
    )
    if result == 0:
        return True
    code = ctypes.get_errno()
    if code in NOT_SUPPORTED:
        return False
    if _happened(source, target, before):
        return True
    raise OSError(code, os.strerror(code), str(source), None, str(target))


def _happened(source: Path, target: Path, before: os.stat_result) -> bool:
    """A network file system may lose the answer to a rename that took place: look."""
    try:
        after = os.lstat(target)
    except OSError:
        return False
    return not os.path.lexists(source) and (after.st_ino, after.st_size) == (
        before.st_ino,
        before.st_size,
    )


def publish_no_replace(source: Path, target: Path, *, reserving: bool = False) -> None:
    """Give one of filmhand's own finished files its final name; never replaces anything.

    `reserving` is for records, which come before the films of their name: where a share can neither
    rename without replacing nor link, an empty file holds the name first, so that two hosts that
    choose the same one never both have it. A film never shows as an empty file.
    """
    if not _renamed(source, target):
        _link_new(source, target, reserving=reserving)
    fsync_folder(target.parent)


def _renamed(source: Path, target: Path) -> bool:
    """As :func:`rename_no_replace`, but False also if the name is taken.

    Linux looks for the target before it asks whether the file system can do this. What an earlier
    try by another way left behind therefore shows as taken, and only that way knows it again.
    """
    try:
        return rename_no_replace(source, target)
    except FileExistsError:
        return False


def _link_new(source: Path, target: Path, *, reserving: bool) -> None:
    try:
        os.link(source, target, follow_symlinks=False)
    except FileExistsError:
        there = os.lstat(target)
        if reserving and not there.st_size:  # perhaps the place that this job held before a kill
            _reserve(source, target)
            source.rename(target)
            return
        if not os.path.samestat(os.lstat(source), there):
            raise
    except OSError as error:
        if error.errno not in _LINK_NOT_SUPPORTED:
            raise
        # Neither call exists on this share. The name is looked at first; between the look and the
        # rename a program that is not filmhand could take it (filmhand itself reserves by record).
        if reserving:
            _reserve(source, target)
        elif os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, "taken", str(target)) from None
        source.rename(target)
        return
    source.unlink()


def move_no_replace(source: Path, target: Path) -> None:
    """Move a customer's file to a free name: renamed, never copied, linked or unlinked."""
    if not _renamed(source, target):
        _reserve(source, target)
        source.rename(target)  # replaces nothing but the empty file that holds the place
    fsync_folder(target.parent)
    fsync_folder(source.parent)


def _reserve(source: Path, target: Path) -> None:
    """Hold the name with an empty file; FileExistsError if it is not this job's to take.

    The job notes the name first, so that a kill before the empty file has its mark is harmless.
    """
    os.lstat(source)
    mark, note = _place_of(source), source.parent.with_name("place")
    wanted = os.fsencode(f"{target.parent.name}/{target.name}")
    noted = note.is_file() and note.read_bytes() == wanted
    if not noted:
        write_atomic(note, wanted)
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_NOFOLLOW, 0o600))
    except FileExistsError:
        found = os.lstat(target)
        marked = 0 <= found.st_mtime - _PLACE_HELD < _PLACES
        ours = int(found.st_mtime) == mark or (noted and not marked)
        if found.st_size or not stat.S_ISREG(found.st_mode) or not ours:
            note.unlink()
            raise FileExistsError(errno.EEXIST, "taken", str(target)) from None
    os.utime(target, (mark, mark), follow_symlinks=False)


def _place_of(source: Path) -> int:
    """The time that marks a place as held for this file of this job, and for no other.

    Were it the same for all, two hosts could take one place for their own, and the second file
    would replace the first.
    """
    job, name = source.parent.parent.name, source.name
    return _PLACE_HELD + zlib.crc32(os.fsencode(f"{job}/{name}")) % _PLACES


def claim_by_rename(source: Path, target: Path) -> None:
    """Take a file into a job's own, fresh folder; FileNotFoundError if another took it first."""
    rename_durably(source, target)
    fsync_folder(source.parent)


def rename_durably(source: Path, target: Path) -> None:
    """Take over a file or a whole job folder; FileNotFoundError if another host did."""
    before = os.lstat(source)
    try:
        source.rename(target)
    except OSError:
        if not _happened(source, target, before):
            raise
    fsync_folder(target.parent)


def unpublish(source: Path, target: Path) -> None:
    """Bring one of filmhand's own published files back into the job's folder, to renumber it."""
    source.rename(target)
    fsync_folder(target.parent)


def rename_unreadable(path: Path) -> None:
    """Give one of filmhand's own files that cannot be read another name, in place of an older."""
    path.replace(path.with_name(f"unreadable-{path.name}"))


def move_aside(path: Path, into: Path) -> Path:
    """Move anything, whole folders included, to a free name in `into`, which is made."""
    into.mkdir(exist_ok=True)

    def called(count: int) -> Path:
        return into / (path.name if count == 1 else f"{path.name}-{count}")

    while True:
        target = called(first_free(lambda count: not os.path.lexists(called(count))))
        with contextlib.suppress(FileExistsError):
            if not rename_no_replace(path, target):
                path.rename(target)
            return target


def write_atomic(
    path: Path, data: bytes, *, durable: bool = True, shared_by_way_of: Path | None = None
) -> None:
    """Write one of filmhand's own files so that its name always shows the old or the new whole.

    A file that several hosts write takes its way through a folder where each has its own name.
    """
    fresh = path.with_name(f".{path.name}.new")
    if shared_by_way_of is not None:
        fresh = shared_by_way_of / f".{path.name}.{secrets.token_hex(4)}.new"
    try:
        with fresh.open("wb") as file:
            file.write(data)
            file.flush()
            if durable:
                os.fsync(file.fileno())
        fresh.replace(path)
    except OSError:
        # After a failed fsync the pages count as clean, so trying it again would prove nothing.
        fresh.unlink(missing_ok=True)
        raise
    if durable:
        fsync_folder(path.parent)


def append_line(path: Path, line: bytes) -> None:
    """Append one durable line, or raise OSError; it always begins where a line begins.

    A full disk or a power cut may leave a piece of a line. It stays, on a line of its own, and
    readers skip it. Nothing is taken back, since another thread may have appended meanwhile.
    """
    descriptor = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o666)
    try:
        at_start = _line_starts(descriptor, os.fstat(descriptor).st_size)
        while True:
            data = line + b"\n" if at_start else b"\n" + line + b"\n"
            if os.write(descriptor, data) < len(data):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
            began = os.lseek(descriptor, 0, os.SEEK_CUR) - len(data)
            if not at_start or _line_starts(descriptor, began):
                break
            at_start = False  # another thread's line broke off between the look and the writing
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    fsync_folder(path.parent)


def _line_starts(descriptor: int, place: int) -> bool:
    return place <= 0 or os.pread(descriptor, 1, place - 1) == b"\n"


def unlink_expired(path: Path) -> bool:
    """Remove a file that the profile's `keep` no longer wants; False if it was gone already."""
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    return True


@contextlib.contextmanager
def temporary_folder(parent: Path) -> Iterator[Path]:
    """A fresh hidden folder to try things in; it and all that is in it are removed again."""
    folder = parent / f".trial-{secrets.token_hex(4)}"
    folder.mkdir()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def try_hard_link(source: Path, target: Path) -> bool:
    """True if a second name for `source` could be made; only for files in a trial folder."""
    try:
        os.link(source, target, follow_symlinks=False)
    except OSError:
        return False
    return True


def on_same_mount(file: Path, folder: Path) -> bool:
    """True if `file` could be renamed into `folder`; nothing is renamed.

    A rename onto the name ``.`` never happens, and the answer tells: EXDEV where the two lie on
    different mounts, which Linux looks at first, and another error where they do not (rename(2)).
    """
    try:
        file.rename(f"{folder}/.")
    except OSError as error:
        if error.errno == errno.EXDEV:
            return False
    return file.stat().st_dev == folder.stat().st_dev


def fsync_folder(folder: Path) -> None:
    """Make the names in `folder` durable, where the file system knows such a thing."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in {errno.EINVAL, errno.ENOTSUP, errno.EBADF, errno.EACCES}:
            raise
    finally:
        os.close(descriptor)

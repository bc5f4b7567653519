"""The only place that renames, and the few ways in which filmhand's own files are written.

What can be half-done when we die here: a new file exists under a temporary name in the job's
folder; or, on a file system without rename-without-replacing, an empty file holds the place of a
customer's file or a record that is about to arrive (:func:`_reserve` recognizes it on the next
try), or a film has both its old and its new name (:func:`publish_no_replace` then drops the old
one).

All is done through descriptors of folders (:mod:`filmhand.disk.beneath`), so no link is followed.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import stat
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from filmhand.disk.beneath import IRREGULAR, Beneath, as_beneath
from filmhand.disk.file_names import NAME_BYTES, cut, first_free, random_digits

AnyPlace = Path | Beneath
_RENAME_NOREPLACE = 1
NOT_SUPPORTED = {errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP, errno.EPERM}
_LINK_NOT_SUPPORTED = {errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.EINVAL}
# The file times of an empty file that only holds a name: the first months of 1970, as no camera.
_PLACE_HELD = 86400
_PLACES = 2**24

_libc = ctypes.CDLL(None, use_errno=True)


@contextlib.contextmanager
def _both(source: AnyPlace, target: AnyPlace) -> Iterator[tuple[int, str, int, str]]:
    """Descriptor of its folder and name of the one, then of the other."""
    source, target = as_beneath(source), as_beneath(target)
    with contextlib.ExitStack() as opened:
        from_folder, from_name = to_folder, _ = source.open_parent()
        opened.callback(os.close, from_folder)
        to_name = target.name
        if not (source.parts and target.parts and source.parent == target.parent):
            to_folder, to_name = target.open_parent()
            opened.callback(os.close, to_folder)
        try:
            yield from_folder, from_name, to_folder, to_name
        except OSError as error:
            error.filename, error.filename2 = str(source), str(target)
            raise


def _rename(source: AnyPlace, target: AnyPlace) -> None:
    with _both(source, target) as (from_folder, from_name, to_folder, to_name):
        os.rename(from_name, to_name, src_dir_fd=from_folder, dst_dir_fd=to_folder)


def rename_no_replace(source: AnyPlace, target: AnyPlace) -> bool:
    """Rename, or raise FileExistsError; False if this system or file system has no such call."""
    if not hasattr(_libc, "renameat2"):
        return False
    before = as_beneath(source).lstat()
    with _both(source, target) as (from_folder, from_name, to_folder, to_name):
        names = os.fsencode(from_name), os.fsencode(to_name)
        result = _libc.renameat2(from_folder, names[0], to_folder, names[1], _RENAME_NOREPLACE)
    if result == 0:
        return True
    code = ctypes.get_errno()
    if code in NOT_SUPPORTED:
        return False
    if _happened(source, target, before):
        return True
    raise OSError(code, os.strerror(code), str(source), None, str(target))


def _happened(source: AnyPlace, target: AnyPlace, before: os.stat_result) -> bool:
    """A network file system may lose the answer to a rename that took place: look."""
    try:
        after = as_beneath(target).lstat()
        gone = not as_beneath(source).exists()
    except OSError:
        return False
    return gone and (after.st_ino, after.st_size) == (before.st_ino, before.st_size)


def publish_no_replace(source: AnyPlace, target: AnyPlace, *, reserving: bool = False) -> None:
    """Give one of filmhand's own finished files its final name; never replaces anything.

    `reserving` is for records, which come before the films of their name: where a share can neither
    rename without replacing nor link, an empty file holds the name first, so that two hosts that
    choose the same one never both have it. A film never shows as an empty file.
    """
    if not _renamed(source, target):
        _link_new(source, target, reserving=reserving)
    fsync_folder(target.parent)


def _renamed(source: AnyPlace, target: AnyPlace) -> bool:
    """As :func:`rename_no_replace`, but False also if the name is taken.

    Linux looks for the target before it asks whether the file system can do this. What an earlier
    try by another way left behind therefore shows as taken, and only that way knows it again.
    """
    try:
        return rename_no_replace(source, target)
    except FileExistsError:
        return False


def _link_new(source: AnyPlace, target: AnyPlace, *, reserving: bool) -> None:
    try:
        _link(source, target)
    except FileExistsError:
        there = as_beneath(target).lstat()
        if reserving and not there.st_size:  # perhaps the place that this job held before a kill
            _reserve(source, target)
            _rename(source, target)
            return
        if not os.path.samestat(as_beneath(source).lstat(), there):
            raise
    except OSError as error:
        if error.errno not in _LINK_NOT_SUPPORTED:
            raise
        # Neither call exists on this share. The name is looked at first; between the look and the
        # rename a program that is not filmhand could take it (filmhand itself reserves by record).
        if reserving:
            _reserve(source, target)
        elif as_beneath(target).exists():
            raise FileExistsError(errno.EEXIST, "taken", str(target)) from None
        _rename(source, target)
        return
    source.unlink()


def _link(source: AnyPlace, target: AnyPlace) -> None:
    with _both(source, target) as (from_folder, from_name, to_folder, to_name):
        os.link(
            from_name, to_name, src_dir_fd=from_folder, dst_dir_fd=to_folder, follow_symlinks=False
        )


def move_no_replace(source: AnyPlace, target: AnyPlace) -> None:
    """Move a customer's file to a free name: renamed, never copied, linked or unlinked."""
    if not _renamed(source, target):
        _reserve(source, target)
        _rename(source, target)  # replaces nothing but the empty file that holds the place
    fsync_folder(target.parent)
    fsync_folder(source.parent)


def _reserve(source: AnyPlace, target: AnyPlace) -> None:
    """Hold the name with an empty file; FileExistsError if it is not this job's to take.

    The job notes the name first, so that a kill before the empty file has its mark is harmless.
    """
    target = as_beneath(target)
    as_beneath(source).lstat()
    mark, note = _place_of(source), as_beneath(source.parent.with_name("place"))
    wanted = os.fsencode(f"{target.parent.name}/{target.name}")
    noted = _says(note, wanted)
    if not noted:
        write_atomic(note, wanted)
    try:
        target.open_new(0o600).close()
    except FileExistsError:
        found = target.lstat()
        marked = 0 <= found.st_mtime - _PLACE_HELD < _PLACES
        ours = int(found.st_mtime) == mark or (noted and not marked)
        if found.st_size or not stat.S_ISREG(found.st_mode) or not ours:
            note.unlink()
            raise FileExistsError(errno.EEXIST, "taken", str(target)) from None
    target.utime((mark, mark))


def _says(note: Beneath, wanted: bytes) -> bool:
    with contextlib.suppress(OSError, ValueError):
        return note.read_bytes(len(wanted)) == wanted
    return False


def _place_of(source: AnyPlace) -> int:
    """The time that marks a place as held for this file of this job, and for no other.

    Were it the same for all, two hosts could take one place for their own, and the second file
    would replace the first.
    """
    job, name = source.parent.parent.name, source.name
    return _PLACE_HELD + zlib.crc32(os.fsencode(f"{job}/{name}")) % _PLACES


def claim_by_rename(source: AnyPlace, target: AnyPlace) -> None:
    """Take a file into a job's own, fresh folder; FileNotFoundError if another took it first."""
    rename_durably(source, target)
    fsync_folder(source.parent)


def rename_durably(source: AnyPlace, target: AnyPlace) -> None:
    """Take over a file or a whole job folder; FileNotFoundError if another host did."""
    before = as_beneath(source).lstat()
    try:
        _rename(source, target)
    except OSError:
        if not _happened(source, target, before):
            raise
    fsync_folder(target.parent)


def unpublish(source: AnyPlace, target: AnyPlace) -> None:
    """Bring one of filmhand's own published files back into the job's folder, to renumber it."""
    _rename(source, target)
    fsync_folder(target.parent)


def rename_unreadable(path: Path) -> None:
    """Give one of filmhand's own files that cannot be read another name, in place of an older."""
    _rename(path, path.with_name(f"unreadable-{path.name}"))


def move_aside(path: AnyPlace, into: AnyPlace) -> Beneath:
    """Move anything, whole folders included, to a free name in `into`, which is made."""
    path, into = as_beneath(path), as_beneath(into)
    try:
        into.mkdir(exist_ok=True)
    except FileExistsError:  # a link or a file has its name
        _rename(into, into.with_name(f"in-the-way-{random_digits()}"))
        into.mkdir()

    def called(count: int) -> Beneath:
        end = "" if count == 1 else f"-{count}"
        return into / (cut(path.name, NAME_BYTES - len(end)) + end)

    while True:
        target = called(first_free(lambda count: not called(count).exists()))
        with contextlib.suppress(FileExistsError):
            if not rename_no_replace(path, target):
                _rename(path, target)
            return target


def write_atomic(
    path: AnyPlace, data: bytes, *, durable: bool = True, shared_by_way_of: Beneath | None = None
) -> None:
    """Write one of filmhand's own files so that its name always shows the old or the new whole.

    A file that several hosts write takes its way through a folder where each has its own name.
    Whatever is in the place of the unfinished form is not opened: it makes way.
    """
    path = as_beneath(path)
    fresh = path.with_name(f".{path.name}.new")
    if shared_by_way_of is not None:
        fresh = shared_by_way_of / f".{path.name}.{random_digits()}.new"
    try:
        with _opened_new(fresh) as file:
            file.write(data)
            file.flush()
            if durable:
                os.fsync(file.fileno())
        try:
            _rename(fresh, path)
        except IsADirectoryError:
            _make_way(path)
            _rename(fresh, path)
    except OSError:
        # After a failed fsync the pages count as clean, so trying it again would prove nothing.
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise
    if durable:
        fsync_folder(path.parent)


def _opened_new(fresh: Beneath) -> BinaryIO:
    try:
        return fresh.open_new()
    except FileExistsError:
        _make_way(fresh)
        return fresh.open_new()


def _make_way(path: Beneath) -> None:
    """Free the name of one of filmhand's own files, whatever has it; nothing of it is opened.

    A folder gets another name beside it, and is set aside with all else that is found there.
    """
    if path.is_dir():
        _rename(path, path.with_name(f"in-the-way-{random_digits()}"))
    else:
        path.unlink(missing_ok=True)


def append_line(path: AnyPlace, line: bytes, *, aside: AnyPlace) -> None:
    """Append one durable line, or raise OSError; it always begins where a line begins.

    What is no file of its own (a link, a pipe, a second name of another file) is moved to the
    folder `aside`, and the log begins anew.

    A full disk or a power cut may leave a piece of a line. It stays, on a line of its own, and
    readers skip it. Nothing is taken back, since another thread may have appended meanwhile.
    """
    descriptor = _opened_log(as_beneath(path), as_beneath(aside))
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


def _opened_log(path: Beneath, aside: Beneath) -> int:
    while True:
        try:
            descriptor = path.open_descriptor(os.O_RDWR | os.O_APPEND | os.O_CREAT)
        except OSError as error:
            if error.errno not in IRREGULAR or not path.parent.is_dir():
                raise
        else:
            found = os.fstat(descriptor)
            if stat.S_ISREG(found.st_mode) and found.st_nlink <= 1:
                return descriptor
            os.close(descriptor)
        move_aside(path, aside)


def _line_starts(descriptor: int, place: int) -> bool:
    return place <= 0 or os.pread(descriptor, 1, place - 1) == b"\n"


def unlink_expired(path: AnyPlace) -> bool:
    """Remove a file that the profile's `keep` no longer wants; False if it was gone already."""
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    return True


@contextlib.contextmanager
def temporary_folder(parent: AnyPlace) -> Iterator[Beneath]:
    """A fresh hidden folder to try things in; it and all that is in it are removed again."""
    around = parent if isinstance(parent, Beneath) else Beneath(parent)
    folder = around / f".trial-{random_digits()}"
    folder.mkdir()
    try:
        yield folder
    finally:
        folder.rmtree(ignore_errors=True)


def try_hard_link(source: AnyPlace, target: AnyPlace) -> bool:
    """True if a second name for `source` could be made; only for files in a trial folder."""
    try:
        _link(source, target)
    except OSError:
        return False
    return True


def on_same_mount(file: AnyPlace, folder: AnyPlace) -> bool:
    """True if `file` could be renamed into `folder`; nothing is renamed.

    A rename onto the name ``.`` never happens, and the answer tells: EXDEV where the two lie on
    different mounts, which Linux looks at first, and another error where they do not (rename(2)).
    """
    file, folder = as_beneath(file), as_beneath(folder)
    from_folder, name = file.open_parent()
    to_folder = folder.open_folder()
    try:
        os.rename(name, ".", src_dir_fd=from_folder, dst_dir_fd=to_folder)
    except OSError as error:
        if error.errno == errno.EXDEV:
            return False
    finally:
        os.close(from_folder)
        os.close(to_folder)
    return file.lstat().st_dev == folder.lstat().st_dev


def fsync_folder(folder: AnyPlace) -> None:
    """Make the names in `folder` durable, where the file system knows such a thing."""
    around = folder if isinstance(folder, Beneath) else Beneath(folder)
    descriptor = around.open_folder()
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in {errno.EINVAL, errno.ENOTSUP, errno.EBADF, errno.EACCES}:
            raise
    finally:
        os.close(descriptor)

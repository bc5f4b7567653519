"""Hints from the system that something happened in a folder: one inotify for all, one thread.

A hint only makes the next look come sooner. Lost events, a full queue, a limit on watches or a
dead thread therefore cost nothing but time, and no error here is worth stopping for. How long that
time is hangs on a proof: each look knocks at its folder, by opening it, and the watching counts as
working only if the system told of the last knock. What other computers do on a share causes no
events here, however well it tells of our own knocks; such folders are not watched at all.

Where the system has no inotify nothing is ever proved, and folders are looked at all the time.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import select
import struct
import threading
from collections.abc import Callable, Iterable, Iterator

from filmhand.disk import file_names
from filmhand.disk.beneath import Beneath

# inotify(7), <sys/inotify.h>
_ATTRIB, _CLOSE_WRITE, _OPEN, _MOVED_FROM, _MOVED_TO = 0x4, 0x8, 0x20, 0x40, 0x80
_CREATE, _DELETE, _DELETE_SELF, _MOVE_SELF = 0x100, 0x200, 0x400, 0x800
_OVERFLOW, _IGNORED, _ONLY_FOLDERS, _IS_FOLDER = 0x4000, 0x8000, 0x0100_0000, 0x4000_0000
# Writing tells nothing that making and closing do not: what has come is looked at until it rests.
_HINTS = _ATTRIB | _CLOSE_WRITE | _MOVED_FROM | _MOVED_TO | _CREATE | _DELETE
_HINTS |= _DELETE_SELF | _MOVE_SELF
_HEAD = struct.Struct("iIII")  # watch, what happened, cookie, bytes of the name

_libc = ctypes.CDLL(None, use_errno=True)


class _Kernel:
    """One inotify of the system; OSError where there is none or no more of them may be had."""

    def __init__(self) -> None:
        if not hasattr(_libc, "inotify_init1"):
            raise OSError("this system has no inotify")
        self._events = _libc.inotify_init1(os.O_CLOEXEC | os.O_NONBLOCK)
        if self._events == -1:
            raise OSError(ctypes.get_errno(), "inotify_init1")
        self._wakes, self._wake = os.pipe()

    def add(self, folder: str) -> int | None:
        """The number of the watch of that folder, the same as long as it is the same folder."""
        mask = _HINTS | _OPEN | _ONLY_FOLDERS
        number = _libc.inotify_add_watch(self._events, os.fsencode(folder), mask)
        return None if number == -1 else number

    def remove(self, number: int) -> None:
        _libc.inotify_rm_watch(self._events, number)

    def events(self) -> Iterator[tuple[int, int, bytes]]:
        """Watch, what happened and the name inside the folder, until :meth:`end` is called."""
        poll = select.poll()
        for descriptor in (self._events, self._wakes):
            poll.register(descriptor, select.POLLIN)
        while all(descriptor != self._wakes for descriptor, _ in poll.poll()):
            data = os.read(self._events, 1 << 16)
            place = 0
            while place < len(data):
                number, what, _, length = _HEAD.unpack_from(data, place)
                place += _HEAD.size + length
                yield number, what, data[place - length : place].rstrip(b"\0")
        for descriptor in (self._events, self._wakes, self._wake):
            os.close(descriptor)

    def end(self) -> None:
        os.write(self._wake, b"\0")


class FolderWatch:
    """Watches folders of several owners; safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kernel: _Kernel | None = None
        self._thread: threading.Thread | None = None
        self._hints: dict[str, Callable[[], None]] = {}
        self._watched: dict[str, set[int]] = {}  # the watches of each owner
        self._owners: dict[int, str] = {}  # whose each watch is
        self._heard: set[int] = set()  # the watches that have told of a knock

    def keep(self, owner: str, folders: Iterable[str], hint: Callable[[], None]) -> bool:
        """Watch these folders for `owner`, and no others; True if the watching surely works.

        It does if all of them were watched before, the same folders in the same places, and the
        knock of the call before was heard. Asked anew each time, since a folder may be made again
        or lie under another mount by now without any event. May take as long as its disk takes to
        answer.
        """
        kernel = self._running()
        wanted = list(folders)
        if kernel is None or not wanted:
            self.let_go(owner)
            return False
        numbers = [kernel.add(folder) for folder in wanted]
        now = {number for number in numbers if number is not None}
        with self._lock:
            before = self._watched.get(owner, set())
            proved = None not in numbers and now <= before and numbers[0] in self._heard
            self._hints[owner], self._watched[owner] = hint, now
            self._owners |= dict.fromkeys(now, owner)
            self._heard -= {numbers[0]}
            gone = before - now
            self._forget(gone)
        for number in gone:
            kernel.remove(number)
        with contextlib.suppress(OSError):
            os.close(os.open(wanted[0], os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC))
        return proved

    def let_go(self, owner: str) -> None:
        """Watch nothing for `owner` any more."""
        with self._lock:
            gone = self._watched.pop(owner, set())
            self._hints.pop(owner, None)
            self._forget(gone)
            kernel = self._kernel
        if kernel is not None:
            for number in gone:
                kernel.remove(number)

    def _forget(self, numbers: Iterable[int]) -> None:
        for number in numbers:
            self._owners.pop(number, None)
            self._heard.discard(number)

    def _running(self) -> _Kernel | None:
        """The inotify that is being read; a new one if there is none or its thread has died."""
        with self._lock:
            if self._kernel is None or self._thread is None or not self._thread.is_alive():
                self._kernel, self._watched, self._owners, self._heard = None, {}, {}, set()
                with contextlib.suppress(OSError):
                    self._kernel = kernel = _Kernel()
                    self._thread = threading.Thread(
                        target=self._listen, args=(kernel,), name="watch", daemon=True
                    )
                    self._thread.start()
            return self._kernel

    def _listen(self, kernel: _Kernel) -> None:
        for number, what, name in kernel.events():
            with self._lock:
                owner = self._owners.get(number)
                if what & _OVERFLOW:  # anything may have happened anywhere
                    told = list(self._hints.values())
                elif owner is None:
                    continue
                else:
                    told = [self._hints[owner]] if _tells(what, name) else []
                if what & _IGNORED:
                    self._watched[owner or ""].discard(number)
                    self._forget([number])
                elif what & _OPEN and what & _IS_FOLDER and not name:
                    self._heard.add(number)
            for hint in told:
                hint()

    def close(self) -> None:
        """Watch nothing any more."""
        with self._lock:
            kernel, thread, self._kernel = self._kernel, self._thread, None
        if kernel is not None and thread is not None and thread.is_alive():
            kernel.end()
            thread.join(1)


def _tells(what: int, name: bytes) -> bool:
    """True if there may be something to see; noise, as a download that goes on, is not."""
    return bool(what & _HINTS) and not file_names.is_noise(os.fsdecode(name))


def events_arrive(folder: Beneath, *, within: float) -> bool:
    """True if writing a file in `folder` causes a hint within so many seconds."""
    heard = threading.Event()
    watch = FolderWatch()
    try:
        watch.keep("trial", [str(folder)], heard.set)
        (folder / "event").touch()
        return heard.wait(within)
    finally:
        watch.close()

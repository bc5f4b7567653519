"""What the system tells of a folder, event by event, and what is made of it.

The numbers of events are those of the kernel's <linux/inotify.h>, which inotify(7) names.
"""

from __future__ import annotations

import ctypes
import errno
import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import SimpleQueue
from types import SimpleNamespace

import pytest

from filmhand.disk.beneath import as_beneath
from filmhand.intake import watch as module
from filmhand.intake.watch import FolderWatch, _Kernel, events_arrive

CREATE, OPEN, IGNORED, OVERFLOW, IS_FOLDER = 0x100, 0x20, 0x8000, 0x4000, 0x4000_0000
KNOCK = OPEN | IS_FOLDER


@pytest.fixture
def watch() -> Iterator[FolderWatch]:
    one = FolderWatch()
    yield one
    one.close()


def wait_until(true: Callable[[], bool]) -> None:
    until = time.monotonic() + 120
    while not true():
        assert time.monotonic() < until
        time.sleep(0.01)


# --- what the system tells ----------------------------------------------------------------------


def rewrite(folder: Path) -> None:
    os.close(os.open(folder / "a.png", os.O_WRONLY))


@pytest.mark.parametrize(
    "act",
    [
        lambda folder: (folder / "a.png").chmod(0o600),
        rewrite,
        lambda folder: (folder / "a.png").rename(folder.parent / "a.png"),
        lambda folder: (folder.parent / "b.png").rename(folder / "b.png"),
        lambda folder: (folder / "c.png").symlink_to("a.png"),
        lambda folder: (folder / "a.png").unlink(),
        lambda folder: folder.rename(folder.parent / "other"),
    ],
    ids=["rights", "written", "moved away", "moved here", "made", "removed", "the folder moved"],
)  # fmt: skip
def test_each_thing_that_happens_alone_is_heard(
    watch: FolderWatch, tmp_path: Path, act: Callable[[Path], object]
) -> None:
    folder = tmp_path / "drop"
    folder.mkdir()
    (folder / "a.png").touch()
    (tmp_path / "b.png").touch()
    heard = threading.Event()
    watch.keep("small", [str(folder)], heard.set)
    act(folder)
    assert heard.wait(120)


def test_the_end_of_a_folder_is_heard_and_its_watch_forgotten(
    watch: FolderWatch, tmp_path: Path
) -> None:
    folder, heard = tmp_path / "drop", threading.Event()
    folder.mkdir()
    watch.keep("small", [str(folder)], heard.set)
    folder.rmdir()
    assert heard.wait(120)
    wait_until(lambda: watch._owners == {} and watch._watched == {"small": set()})
    assert watch._heard == set()


def test_events_that_are_read_together_keep_their_names(tmp_path: Path) -> None:
    kernel = _Kernel()
    number = kernel.add(str(tmp_path))
    names = ["a", "a name of more than sixteen bytes", "b" * 255, "ab", "c" * 16]
    for name in names:
        (tmp_path / name).symlink_to("nowhere")
    os.close(os.open(tmp_path, os.O_RDONLY))
    events = kernel.events()
    assert [next(events) for _ in names] == [(number, CREATE, name.encode()) for name in names]
    assert next(events) == (number, KNOCK, b"")
    kernel.end()
    assert list(events) == []


def test_only_folders_are_watched(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    kernel = _Kernel()
    assert kernel.add(str(tmp_path / "file")) is None
    assert kernel.add(str(tmp_path / "gone")) is None
    kernel.end()
    assert list(kernel.events()) == []


def test_a_limit_that_is_reached_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(flags: int) -> int:
        assert flags == os.O_CLOEXEC | os.O_NONBLOCK
        ctypes.set_errno(errno.EMFILE)
        return -1

    monkeypatch.setattr(module, "_libc", SimpleNamespace(inotify_init1=refuse))
    with pytest.raises(OSError, match="inotify_init1") as caught:
        _Kernel()
    assert caught.value.errno == errno.EMFILE
    monkeypatch.setattr(module, "_libc", SimpleNamespace())
    with pytest.raises(OSError, match="has no inotify"):
        _Kernel()


def test_whether_events_arrive_is_tried_and_nothing_goes_on_listening(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = set(threading.enumerate())
    assert events_arrive(as_beneath(tmp_path), within=120)
    assert set(threading.enumerate()) == before
    monkeypatch.setattr(_Kernel, "add", lambda self, folder: None)
    (tmp_path / "event").unlink()
    assert not events_arrive(as_beneath(tmp_path), within=0.05)
    assert set(threading.enumerate()) == before


# --- what is made of it: a system that tells what the test says ---------------------------------


class Told:
    """A watch whose system watches every folder and tells what :meth:`tell` is given."""

    def __init__(self, watch: FolderWatch, monkeypatch: pytest.MonkeyPatch) -> None:
        self.watch = watch
        self.hints: list[str] = []
        self.removed: list[int] = []
        self._events: SimpleQueue[tuple[int, int, bytes] | None] = SimpleQueue()
        monkeypatch.setattr(_Kernel, "add", lambda self, folder: int(Path(folder).name))
        monkeypatch.setattr(_Kernel, "remove", lambda _, number: self.removed.append(number))
        monkeypatch.setattr(_Kernel, "events", lambda _: iter(self._events.get, None))
        monkeypatch.setattr(_Kernel, "end", lambda _: self._events.put(None))

    def keep(self, owner: str, *numbers: int) -> bool:
        """`owner` keeps the folders that have these watches."""
        folders = [f"/nowhere/{number}" for number in numbers]
        return self.watch.keep(owner, folders, lambda: self.hints.append(owner))

    def tell(self, number: int, what: int, name: bytes = b"") -> list[str]:
        """Who hears of it, with all that was told before."""
        self._events.put((number, what, name))
        self._events.put((-1, OVERFLOW, b""))  # of which all hear, so the one before was dealt with
        all_of_them = sorted(self.watch._hints)
        wait_until(lambda: self.hints[len(self.hints) - len(all_of_them) :] == all_of_them)
        told = self.hints[: len(self.hints) - len(all_of_them)]
        self.hints.clear()
        return told


@pytest.fixture
def told(watch: FolderWatch, monkeypatch: pytest.MonkeyPatch) -> Iterator[Told]:
    yield Told(watch, monkeypatch)
    watch.close()


@pytest.mark.parametrize("what", [0x4, 0x8, 0x40, 0x80, 0x100, 0x200, 0x400, 0x800])
def test_what_may_have_brought_or_ended_a_file_is_a_hint(told: Told, what: int) -> None:
    told.keep("a", 1)
    told.keep("b", 2)
    assert told.tell(1, what, b"x.png") == ["a"]
    assert told.tell(2, what, b"x.png.part") == []  # noise
    assert told.tell(3, what, b"x.png") == []  # nobody's


@pytest.mark.parametrize("what", [0x1, 0x2, 0x10, 0x20, KNOCK])
def test_reading_opening_and_writing_are_no_hints(told: Told, what: int) -> None:
    told.keep("a", 1)
    assert told.tell(1, what, b"x.png") == []


def test_each_proof_takes_a_knock_of_its_own(told: Told) -> None:
    assert not told.keep("a", 1, 2)
    assert not told.keep("a", 1, 2)  # as no knock was heard
    told.tell(1, KNOCK)
    assert told.keep("a", 1, 2)
    assert not told.keep("a", 1, 2)
    told.tell(2, KNOCK)  # at a sub-folder, as others do
    assert not told.keep("a", 1, 2)
    told.tell(1, OPEN)  # a file's
    told.tell(1, KNOCK, b"sub")  # of a folder in it
    assert not told.keep("a", 1, 2)
    told.tell(1, KNOCK)
    assert not told.keep("a", 1, 2, 3)  # a new folder was not watched yet


def test_of_what_is_no_longer_kept_nobody_hears_and_nothing_is_remembered(told: Told) -> None:
    told.keep("a", 1, 2)
    told.keep("b", 3)
    told.tell(1, KNOCK)
    told.keep("a", 2)
    assert told.removed == [1]
    assert told.tell(1, CREATE, b"x.png") == []
    told.watch.let_go("a")
    assert told.removed == [1, 2]
    assert told.tell(2, CREATE, b"x.png") == []
    assert told.tell(2, IGNORED) == []
    assert told.tell(3, CREATE, b"x.png") == ["b"]  # the watch lives on
    told.watch.let_go("nobody")
    assert not told.keep("b")  # nothing to watch
    assert told.removed == [1, 2, 3]
    watch = told.watch
    assert (watch._owners, watch._heard, watch._watched, watch._hints) == ({}, set(), {}, {})


def test_a_watch_that_the_system_ended_proves_nothing(told: Told) -> None:
    told.keep("a", 1)
    told.tell(1, KNOCK)
    assert told.tell(1, IGNORED) == []
    assert not told.keep("a", 1)
    told.tell(1, KNOCK)
    assert told.keep("a", 1)


def test_where_the_system_has_no_inotify_nothing_is_proved(
    watch: FolderWatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(self: _Kernel) -> None:
        raise OSError(24, "inotify_init1")  # EMFILE, as inotify(7) has it

    monkeypatch.setattr(_Kernel, "__init__", none)
    for _ in range(3):
        assert not watch.keep("a", [str(tmp_path)], lambda: None)
    monkeypatch.undo()
    watch.keep("a", [str(tmp_path)], lambda: None)
    wait_until(lambda: watch.keep("a", [str(tmp_path)], lambda: None))

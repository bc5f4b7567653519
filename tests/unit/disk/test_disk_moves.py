"""What moves make durable, and whose empty file holds a place."""

from __future__ import annotations

import ctypes
import errno
import os
import stat
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath, as_beneath


@pytest.fixture
def synced(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of what is made durable, folders with a slash behind them."""
    names: list[str] = []
    truly = os.fsync

    def noted(descriptor: int) -> None:
        path = Path(f"/proc/self/fd/{descriptor}").readlink()
        names.append(path.name + "/" * stat.S_ISDIR(os.fstat(descriptor).st_mode))
        truly(descriptor)

    monkeypatch.setattr(atomic.os, "fsync", noted)
    return names


@pytest.mark.parametrize("kernel", [True, False])
@pytest.mark.parametrize(
    ("move", "folders"),
    [
        (atomic.publish_no_replace, ["to/"]),
        (atomic.move_no_replace, ["to/", "from/"]),
        (atomic.claim_by_rename, ["to/", "from/"]),
        (atomic.rename_durably, ["to/"]),
        (atomic.unpublish, ["to/"]),
    ],
)
def test_a_move_makes_its_names_durable(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    synced: list[str],
    kernel: bool,
    move: Callable[[Path, Path], None],
    folders: list[str],
) -> None:
    """A new name lasts over a power cut only if its folder was flushed: fsync(2), open(2)."""
    if not kernel:
        monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    (tmp_path / "job" / "from").mkdir(parents=True)
    (tmp_path / "to").mkdir()
    source, target = tmp_path / "job" / "from" / "a", tmp_path / "to" / "a"
    source.write_bytes(b"art")
    move(source, target)
    assert not source.exists()
    assert target.read_bytes() == b"art"
    assert synced[-len(folders) :] == folders


def test_a_file_is_written_durably_unless_it_need_not_be(tmp_path: Path, synced: list[str]) -> None:
    atomic.write_atomic(tmp_path / "beat", b"1", durable=False)
    assert synced == []
    atomic.write_atomic(tmp_path / "job.json", b"2")
    assert synced == [".job.json.new", f"{tmp_path.name}/"]
    synced.clear()
    atomic.append_line(tmp_path / "log", b"3", aside=tmp_path / "aside")
    assert synced == ["log", f"{tmp_path.name}/"]


def test_files_of_several_hosts_take_their_way_through_a_folder_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "own").mkdir()
    taken: list[Path] = []
    truly = atomic._rename

    def noted(source: Beneath, target: Beneath) -> None:
        taken.append(source.path)
        truly(source, target)

    monkeypatch.setattr(atomic, "_rename", noted)
    for _ in range(2):
        atomic.write_atomic(
            tmp_path / "shared", b"x", shared_by_way_of=as_beneath(tmp_path / "own")
        )
    assert {path.parent for path in taken} == {tmp_path / "own"}
    assert len(set(taken)) == 2  # two at once never write one file
    assert list((tmp_path / "own").iterdir()) == []


def test_no_flush_where_the_file_system_knows_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = [errno.EINVAL]

    def refuse(descriptor: int) -> None:
        raise OSError(code[0], "no")

    monkeypatch.setattr(atomic.os, "fsync", refuse)
    atomic.fsync_folder(tmp_path)
    code[0] = errno.EIO
    with pytest.raises(OSError, match="no"):
        atomic.fsync_folder(tmp_path)


def test_files_are_closed_again(tmp_path: Path) -> None:
    """A service that runs for a year must not use up its descriptors."""
    before = len(list(Path("/proc/self/fd").iterdir()))
    for number in range(20):
        atomic.append_line(tmp_path / "log", b"line", aside=tmp_path / "aside")
        atomic.write_atomic(tmp_path / "state", b"x")
        atomic._reserve(job_file(tmp_path, f"job {number}"), tmp_path / f"{number}.png")
        with pytest.raises(FileExistsError):
            atomic._reserve(job_file(tmp_path, f"other {number}"), tmp_path / f"{number}.png")
    assert len(list(Path("/proc/self/fd").iterdir())) == before


def job_file(tmp_path: Path, job: str) -> Path:
    source = tmp_path / job / "files" / "art.png"
    source.parent.mkdir(parents=True)
    source.write_bytes(job.encode())
    return source


@pytest.fixture
def without_kernel(monkeypatch: pytest.MonkeyPatch) -> None:
    """A share that can neither rename without replacing nor link."""

    def no_link(*_: object, **__: object) -> None:
        raise OSError(errno.EOPNOTSUPP, "no")

    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    monkeypatch.setattr(os, "link", no_link)


@pytest.mark.usefixtures("without_kernel")
def test_a_place_held_by_one_job_is_taken_by_no_other(tmp_path: Path) -> None:
    one, other = job_file(tmp_path, "job 1"), job_file(tmp_path, "job 2")
    target = tmp_path / "a.png"
    atomic._reserve(one, target)
    with pytest.raises(FileExistsError):
        atomic.move_no_replace(other, target)
    assert not (tmp_path / "job 2" / "place").exists()
    atomic.move_no_replace(one, target)
    assert target.read_bytes() == b"job 1"
    assert other.read_bytes() == b"job 2"


def test_the_mark_of_a_held_place_is_the_same_in_every_version(tmp_path: Path) -> None:
    """Hosts of different versions may share a folder; CRC-32 is that of IEEE 802.3."""
    source, target = job_file(tmp_path, "job 1"), tmp_path / "a.png"
    atomic._reserve(source, target)
    assert target.stat().st_mtime == 86_400 + zlib.crc32(b"job 1/art.png") % 2**24


def test_a_file_that_cannot_even_be_begun_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(Beneath, "open_new", refuse)
    with pytest.raises(OSError, match="full") as caught:
        atomic.write_atomic(tmp_path / "job.json", b"x")
    assert caught.value.errno == errno.ENOSPC


@pytest.mark.usefixtures("without_kernel")
def test_a_place_that_a_kill_left_without_its_mark_is_still_the_jobs_own(tmp_path: Path) -> None:
    source, target = job_file(tmp_path, "job 1"), tmp_path / "a.png"
    (tmp_path / "job 1" / "place").write_bytes(os.fsencode(f"{tmp_path.name}/a.png"))
    target.touch()  # killed before the file time was set
    atomic.move_no_replace(source, target)
    assert target.read_bytes() == b"job 1"


@pytest.mark.usefixtures("without_kernel")
def test_an_empty_file_of_somebody_else_stays_though_the_job_had_noted_the_name(
    tmp_path: Path,
) -> None:
    source, target = job_file(tmp_path, "job 1"), tmp_path / "a.png"
    (tmp_path / "job 1" / "place").write_bytes(os.fsencode(f"{tmp_path.name}/a.png"))
    atomic._reserve(job_file(tmp_path, "job 2"), target)  # another job has its mark on it
    with pytest.raises(FileExistsError):
        atomic.move_no_replace(source, target)
    assert target.stat().st_size == 0
    assert source.read_bytes() == b"job 1"


@pytest.mark.usefixtures("without_kernel")
@pytest.mark.parametrize("reserving", [True, False])
def test_only_records_hold_their_name_with_an_empty_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reserving: bool
) -> None:
    """A film is never seen as an empty file; of a record's name two hosts never both think so."""
    source, target = job_file(tmp_path, "job 1"), tmp_path / "a.json"
    held: list[bool] = []
    truly = atomic._rename

    def noted(source: Path, to: Path) -> None:
        if to == target:  # not the note of the name
            held.append(target.exists() and target.stat().st_size == 0)
        truly(source, to)

    monkeypatch.setattr(atomic, "_rename", noted)
    atomic.publish_no_replace(source, target, reserving=reserving)
    assert held == [reserving]
    assert target.read_bytes() == b"job 1"


def test_a_record_whose_place_was_held_before_a_kill_arrives_where_links_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    source, target = job_file(tmp_path, "job 1"), tmp_path / "a.json"
    atomic._reserve(source, target)
    with pytest.raises(FileExistsError):
        atomic.publish_no_replace(source, target)
    atomic.publish_no_replace(source, target, reserving=True)
    assert target.read_bytes() == b"job 1"


def test_another_file_of_the_name_is_no_lost_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failed rename counts as done only if the very file is there: same inode, same size."""
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    target.write_bytes(b"art")

    def vanish(source: Path, to: Path) -> None:
        source.unlink()
        raise OSError(errno.EIO, "lost")

    monkeypatch.setattr(atomic, "_rename", vanish)
    with pytest.raises(OSError, match="lost"):
        atomic.rename_durably(source, target)


def test_an_older_error_does_not_make_a_rename_fail(tmp_path: Path) -> None:
    """A call that succeeds leaves errno as it was: errno(3)."""
    if not hasattr(atomic._libc, "renameat2"):
        pytest.skip("this system has no such call")
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    ctypes.set_errno(errno.EINVAL)
    atomic.rename_no_replace(source, target)
    ctypes.set_errno(errno.EINVAL)
    assert atomic.rename_no_replace(target, source)


def test_what_cannot_be_read_is_set_aside_and_a_trial_leaves_nothing(tmp_path: Path) -> None:
    path = tmp_path / "state.json"
    for text in ("old", "new"):
        path.write_text(text)
        atomic.rename_unreadable(path)
    assert [one.name for one in tmp_path.iterdir()] == ["unreadable-state.json"]
    assert (tmp_path / "unreadable-state.json").read_text() == "new"
    assert not atomic.unlink_expired(path)
    assert atomic.unlink_expired(tmp_path / "unreadable-state.json")
    with atomic.temporary_folder(tmp_path) as folder:
        assert folder.name.startswith(".")
        (folder / "inside").mkdir()
        (folder / "inside" / "file").path.write_bytes(b"x")
        (folder / "link").path.symlink_to("nowhere")
        assert atomic.try_hard_link(folder / "inside" / "file", folder / "second")
        assert not atomic.try_hard_link(folder / "inside" / "file", folder / "second")
    assert list(tmp_path.iterdir()) == []

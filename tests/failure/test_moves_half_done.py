"""Moves on file systems that cannot rename without replacing, broken off half-way."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from filmhand.disk import atomic


@pytest.fixture
def old_system(monkeypatch: pytest.MonkeyPatch) -> None:
    """Linux on such a file system: a target that is there is told first, and only then the lack."""

    def cannot(source: Path, target: Path) -> bool:
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, "File exists", str(target))
        return False

    monkeypatch.setattr(atomic, "rename_no_replace", cannot)


def held(folder: Path, job: str, data: bytes) -> Path:
    source = folder / job / "held" / "a.png"
    source.parent.mkdir(parents=True)
    source.write_bytes(data)
    return source


@pytest.mark.usefixtures("old_system")
def test_a_film_with_both_names_loses_the_old_one(tmp_path: Path) -> None:
    source, target = tmp_path / "0.pdf", tmp_path / "a.pdf"
    source.write_bytes(b"film")
    os.link(source, target)  # killed after this
    atomic.publish_no_replace(source, target)
    assert not source.exists()
    assert target.read_bytes() == b"film"


@pytest.mark.usefixtures("old_system")
def test_a_place_held_by_the_same_job_is_taken(tmp_path: Path) -> None:
    source, target = held(tmp_path, "job 1", b"art"), tmp_path / "a.png"
    atomic._reserve(source, target)  # killed after this
    atomic.move_no_replace(source, target)
    assert target.read_bytes() == b"art"


@pytest.mark.usefixtures("old_system")
def test_a_place_held_by_another_job_is_taken_by_nobody_else(tmp_path: Path) -> None:
    one, two = held(tmp_path, "job 1", b"art 1"), held(tmp_path, "job 2", b"art 2")
    target = tmp_path / "a.png"
    atomic._reserve(one, target)  # one host is as far as this when another chooses the same name
    with pytest.raises(FileExistsError):
        atomic.move_no_replace(two, target)
    atomic.move_no_replace(one, target)
    assert target.read_bytes() == b"art 1"
    assert two.read_bytes() == b"art 2"


@pytest.mark.usefixtures("old_system")
def test_a_place_that_a_kill_left_without_its_mark_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    source, target = held(tmp_path, "job 1", b"art"), tmp_path / "a.png"
    with monkeypatch.context() as patch:
        patch.setattr(os, "utime", killed)
        with pytest.raises(KeyboardInterrupt):
            atomic.move_no_replace(source, target)
    assert target.read_bytes() == b""
    atomic.move_no_replace(source, target)
    assert target.read_bytes() == b"art"


@pytest.mark.usefixtures("old_system")
def test_an_empty_file_that_was_there_before_stays(tmp_path: Path) -> None:
    source, target = held(tmp_path, "job 1", b"art"), tmp_path / "a.png"
    target.write_bytes(b"")
    for _ in range(2):
        with pytest.raises(FileExistsError):
            atomic.move_no_replace(source, target)
    assert source.read_bytes() == b"art"


# --- shares that can neither rename without replacing nor link -----------------------------------


@pytest.fixture
def plain_share(old_system: None, monkeypatch: pytest.MonkeyPatch) -> None:
    def cannot(source: Path, target: Path, **_: bool) -> None:
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, "File exists", str(target))
        raise OSError(errno.EOPNOTSUPP, "Operation not supported", str(target))

    monkeypatch.setattr(os, "link", cannot)


def staged(folder: Path, job: str, data: bytes) -> Path:
    source = folder / job / "out" / "0.1.record.json"
    source.parent.mkdir(parents=True)
    source.write_bytes(data)
    return source


@pytest.mark.usefixtures("plain_share")
def test_two_hosts_that_choose_one_name_at_the_same_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second publishes its record when the first has looked and not yet renamed."""
    one, two = staged(tmp_path, "job 1", b"record 1"), staged(tmp_path, "job 2", b"record 2")
    target = tmp_path / "a.json"
    rename, refused = atomic._rename, []

    def slow(source: Path, name: Path) -> None:
        if source == one and name == target and not refused:
            with pytest.raises(FileExistsError):
                atomic.publish_no_replace(two, target, reserving=True)
            refused.append(two)
        rename(source, name)

    monkeypatch.setattr(atomic, "_rename", slow)
    atomic.publish_no_replace(one, target, reserving=True)
    assert refused == [two]
    assert target.read_bytes() == b"record 1"
    assert two.read_bytes() == b"record 2"


@pytest.mark.usefixtures("plain_share")
def test_a_name_reserved_for_a_record_before_a_kill_is_used_by_the_same_job(tmp_path: Path) -> None:
    source, target = staged(tmp_path, "job 1", b"record 1"), tmp_path / "a.json"
    atomic._reserve(source, target)  # killed after this
    other = staged(tmp_path, "job 2", b"record 2")
    with pytest.raises(FileExistsError):
        atomic.publish_no_replace(other, target, reserving=True)
    atomic.publish_no_replace(source, target, reserving=True)
    assert target.read_bytes() == b"record 1"


def test_a_job_taken_over_though_the_share_says_that_it_failed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer to the rename was lost, and the repeated request finds nothing to rename."""
    (tmp_path / "silent" / "job 1").mkdir(parents=True)
    (tmp_path / "own").mkdir()
    rename = atomic._rename

    def lost(source: Path, target: Path) -> None:
        rename(source, target)
        raise FileNotFoundError(errno.ENOENT, "No such file or directory", str(source))

    monkeypatch.setattr(atomic, "_rename", lost)
    atomic.rename_durably(tmp_path / "silent" / "job 1", tmp_path / "own" / "job 1")
    with pytest.raises(FileNotFoundError):
        atomic.rename_durably(tmp_path / "silent" / "job 1", tmp_path / "own" / "job 1")

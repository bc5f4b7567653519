"""Moves on file systems that cannot rename without replacing, broken off half-way."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from filmhand.spool import moves


@pytest.fixture
def old_system(monkeypatch: pytest.MonkeyPatch) -> None:
    """Linux on such a file system: a target that is there is told first, and only then the lack."""

    def cannot(source: Path, target: Path) -> bool:
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, "File exists", str(target))
        return False

    monkeypatch.setattr(moves, "rename_without_replacing", cannot)


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
    moves.publish_new(source, target)
    assert not source.exists()
    assert target.read_bytes() == b"film"


@pytest.mark.usefixtures("old_system")
def test_a_place_held_by_the_same_job_is_taken(tmp_path: Path) -> None:
    source, target = held(tmp_path, "job 1", b"art"), tmp_path / "a.png"
    moves._reserve(source, target)  # killed after this
    moves.move_kept(source, target)
    assert target.read_bytes() == b"art"


@pytest.mark.usefixtures("old_system")
def test_a_place_held_by_another_job_is_taken_by_nobody_else(tmp_path: Path) -> None:
    one, two = held(tmp_path, "job 1", b"art 1"), held(tmp_path, "job 2", b"art 2")
    target = tmp_path / "a.png"
    moves._reserve(one, target)  # one host is as far as this when another chooses the same name
    with pytest.raises(FileExistsError):
        moves.move_kept(two, target)
    moves.move_kept(one, target)
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
            moves.move_kept(source, target)
    assert target.read_bytes() == b""
    moves.move_kept(source, target)
    assert target.read_bytes() == b"art"


@pytest.mark.usefixtures("old_system")
def test_an_empty_file_that_was_there_before_stays(tmp_path: Path) -> None:
    source, target = held(tmp_path, "job 1", b"art"), tmp_path / "a.png"
    target.write_bytes(b"")
    for _ in range(2):
        with pytest.raises(FileExistsError):
            moves.move_kept(source, target)
    assert source.read_bytes() == b"art"

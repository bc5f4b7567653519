from __future__ import annotations

import ast
import errno
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from filmhand.disk import atomic


@pytest.fixture(params=["system call", "fallback"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Both ways: the kernel's rename without replacing, and a file system that has none."""
    if request.param == "fallback":
        monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    yield request.param


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("move", [atomic.publish_no_replace, atomic.move_no_replace])
def test_a_move_keeps_bytes_and_inode(tmp_path: Path, move: object) -> None:
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    inode = source.stat().st_ino
    move(source, target)  # type: ignore[operator]
    assert not source.exists()
    assert (target.read_bytes(), target.stat().st_ino) == (b"art", inode)


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("move", [atomic.publish_no_replace, atomic.move_no_replace])
@pytest.mark.parametrize("there", [b"other", b""])
def test_a_move_never_replaces(tmp_path: Path, move: object, there: bytes) -> None:
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    target.write_bytes(there)
    with pytest.raises(FileExistsError):
        move(source, target)  # type: ignore[operator]
    assert (source.read_bytes(), target.read_bytes()) == (b"art", there)


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("move", [atomic.publish_no_replace, atomic.move_no_replace])
def test_a_dangling_link_counts_as_taken(tmp_path: Path, move: object) -> None:
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    target.symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileExistsError):
        move(source, target)  # type: ignore[operator]
    assert source.read_bytes() == b"art"


def test_a_held_place_is_recognized_after_a_kill(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    atomic._reserve(source, target)  # killed after this
    atomic.move_no_replace(source, target)
    assert target.read_bytes() == b"art"


def test_a_film_that_has_both_names_after_a_kill_loses_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"film")
    os.link(source, target)  # killed after this
    atomic.publish_no_replace(source, target)
    assert not source.exists()
    assert target.read_bytes() == b"film"


def test_neither_call_exists(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_link(*_: object, **__: object) -> None:
        raise OSError(errno.EOPNOTSUPP, "no")

    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    monkeypatch.setattr(os, "link", no_link)
    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"film")
    target.write_bytes(b"other")
    with pytest.raises(FileExistsError):
        atomic.publish_no_replace(source, target)
    target.unlink()
    atomic.publish_no_replace(source, target)
    assert target.read_bytes() == b"film"


def test_a_rename_whose_answer_was_lost_counts_as_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = atomic._rename

    def rename(source: Path, target: Path) -> None:
        real(source, target)
        raise OSError(errno.EIO, "lost")

    source, target = tmp_path / "a", tmp_path / "b"
    source.write_bytes(b"art")
    monkeypatch.setattr(atomic, "_rename", rename)
    atomic.claim_by_rename(source, target)
    assert target.read_bytes() == b"art"


def test_a_rename_that_failed_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"art")
    with pytest.raises(FileNotFoundError):
        atomic.claim_by_rename(tmp_path / "gone", tmp_path / "b")
    with pytest.raises(OSError, match=r"No such file"):
        atomic.publish_no_replace(tmp_path / "a", tmp_path / "no folder" / "b")
    assert (tmp_path / "a").read_bytes() == b"art"


def test_write_whole_leaves_the_old_when_it_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.json"
    atomic.write_atomic(path, b"old")

    def fail(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="full"):
        atomic.write_atomic(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_append_closes_a_line_that_a_power_cut_left(tmp_path: Path) -> None:
    path = tmp_path / "log"
    atomic.append_line(path, b"one", aside=path.with_name("aside"))
    with path.open("ab") as file:
        file.write(b"tw")
    atomic.append_line(path, b"three", aside=path.with_name("aside"))
    assert path.read_bytes() == b"one\ntw\nthree\n"


@pytest.mark.parametrize("kept", [1, 5])
def test_append_that_the_disk_cuts_off_says_so_and_the_next_line_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kept: int
) -> None:
    path = tmp_path / "log"
    atomic.append_line(path, b"one", aside=path.with_name("aside"))
    truly = os.write
    monkeypatch.setattr(atomic.os, "write", lambda file, data: truly(file, data[:kept]))
    with pytest.raises(OSError, match="No space left") as caught:
        atomic.append_line(path, b"two, and more of it", aside=path.with_name("aside"))
    assert caught.value.errno == errno.ENOSPC
    monkeypatch.undo()
    atomic.append_line(path, b"three", aside=path.with_name("aside"))
    assert path.read_bytes() == b"one\n" + b"two, "[:kept] + b"\nthree\n"


def test_append_beside_another_thread_whose_line_breaks_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log"
    atomic.append_line(path, b"one", aside=path.with_name("aside"))
    truly = os.write

    def late(descriptor: int, data: bytes) -> int:
        monkeypatch.undo()
        with path.open("ab") as other:
            other.write(b"tw")
        return truly(descriptor, data)

    monkeypatch.setattr(atomic.os, "write", late)
    atomic.append_line(path, b"three", aside=path.with_name("aside"))
    assert path.read_bytes() == b"one\ntwthree\n\nthree\n"


def renaming_calls(source: str) -> list[int]:
    """Lines that rename or link; str.replace takes two arguments, Path.replace one."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and (
            node.func.attr in {"rename", "renames", "link", "hardlink_to", "move", "symlink_to"}
            or (node.func.attr == "replace" and len(node.args) == 1 and not node.keywords)
        )
    ]


def test_only_this_module_renames() -> None:
    package = Path(atomic.__file__).parent
    assert len(renaming_calls(Path(atomic.__file__).read_text())) > 2  # the check sees them
    for room in ("disk", "intake", "jobs", "peers", "queue", "service", "timing"):
        for path in (package.parent / room).glob("*.py"):
            if path.name != "atomic.py":
                assert renaming_calls(path.read_text()) == [], path


@pytest.mark.usefixtures("way")
def test_set_aside_under_a_free_name_never_over_another(tmp_path: Path) -> None:
    for count in range(3):
        (tmp_path / "thing").mkdir()
        (tmp_path / "thing" / "inside").write_bytes(b"%d" % count)
        atomic.move_aside(tmp_path / "thing", tmp_path / "aside")
    found = {path.parent.name: path.read_bytes() for path in tmp_path.glob("aside/*/inside")}
    assert found == {"thing": b"0", "thing-2": b"1", "thing-3": b"2"}

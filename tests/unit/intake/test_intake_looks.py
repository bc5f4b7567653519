"""What a look at the drop folder tells of files that are no art, and of holes and writers."""

from __future__ import annotations

import contextlib
import gc
import os
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk import beneath
from filmhand.disk.beneath import as_beneath
from filmhand.errors import Quantity, Reason
from filmhand.intake import refusals, settle
from filmhand.intake.scan import DEPTH, Bundle, Found, scan_drop_folder
from filmhand.intake.settle import SettleLook, SettleState, Tracker, ends_in_hole, has_writer


def test_what_each_thing_is_that_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)  # the path of a socket may have 107 bytes (unix(7))
    (tmp_path / "link").symlink_to("/etc/passwd")
    (tmp_path / "sub").mkdir()
    os.mkfifo(tmp_path / "sub" / "pipe")
    with socket.socket(socket.AF_UNIX) as channel:
        channel.bind("socket")
        seen = scan_drop_folder(as_beneath(tmp_path))
    assert dict(seen.left_alone) == {
        "link": "a link; drop the file itself",
        "sub/pipe": "a pipe, not a file",
        "socket": "a device or socket, not a file",
    }


def test_folders_are_read_to_a_depth_of_twelve(tmp_path: Path) -> None:
    assert DEPTH == 12
    deepest = tmp_path.joinpath(*"abcdefghijkl")
    (deepest / "m").mkdir(parents=True)
    (deepest / "art.png").touch()
    (deepest / "m" / "art.png").touch()
    seen = scan_drop_folder(as_beneath(tmp_path))
    assert [bundle.shown for bundle in seen.bundles] == ["a/b/c/d/e/f/g/h/i/j/k/l/art.png"]
    assert seen.left_alone == [
        ("a/b/c/d/e/f/g/h/i/j/k/l/m", "a folder too deep inside other folders")
    ]


def test_of_two_tickets_for_one_art_the_second_is_alone(tmp_path: Path) -> None:
    for name in ("a.png", "a.png.ticket.yaml", "a.png.ticket.yml", "a.png.clear.png"):
        (tmp_path / name).touch()
    bundles = {bundle.shown: bundle for bundle in scan_drop_folder(as_beneath(tmp_path)).bundles}
    (alone,) = [name for name in bundles if name != "a.png"]
    assert alone in {"a.png.ticket.yaml", "a.png.ticket.yml"}
    assert bundles[alone].alone == "ticket"
    assert len(bundles["a.png"].companions()) == 2


def test_paths_of_the_pass_before_are_used_again(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    for name in ("a.png", "sub/b.png"):
        (tmp_path / name).touch()
    first = scan_drop_folder(as_beneath(tmp_path))
    assert set(first.paths) == {("a.png",), ("sub", "b.png")}
    again = scan_drop_folder(as_beneath(tmp_path), first.paths)
    assert {id(one.art.path) for one in again.bundles} == {id(p) for p in first.paths.values()}
    assert again.paths == first.paths


@pytest.mark.skipif(not hasattr(os, "SEEK_HOLE"), reason="this system tells no holes")
def test_a_hole_at_the_end_is_told_from_zeros_that_were_written(tmp_path: Path) -> None:
    sparse, full = tmp_path / "sparse", tmp_path / "full"
    sparse.touch()
    os.truncate(sparse, 10_000_000)
    full.write_bytes(bytes(100_000))
    with sparse.open("rb") as file:
        if os.lseek(file.fileno(), 0, os.SEEK_HOLE) > 0:
            pytest.skip("this file system tells no holes")
    assert ends_in_hole(as_beneath(sparse), 10_000_000)
    assert not ends_in_hole(as_beneath(full), 100_000)
    with sparse.open("r+b") as file:
        file.seek(9_999_999)
        file.write(b"x")
    assert not ends_in_hole(as_beneath(sparse), 10_000_000)  # the very last byte is there
    assert not ends_in_hole(as_beneath(tmp_path / "gone"), 1)
    assert not ends_in_hole(as_beneath(tmp_path), 1)


def test_a_hole_of_one_byte_behind_a_whole_block(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * 65_536)
    os.truncate(path, 65_537)
    with path.open("rb") as file:
        if os.lseek(file.fileno(), 0, os.SEEK_HOLE) != 65_536:
            pytest.skip("this file system tells no holes, or only large ones")
    assert ends_in_hole(as_beneath(path), 65_537)


def test_a_system_that_tells_no_holes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "sparse"
    path.touch()
    os.truncate(path, 10_000_000)
    monkeypatch.delattr(os, "SEEK_HOLE", raising=False)
    monkeypatch.delattr(os, "SEEK_DATA", raising=False)
    assert not ends_in_hole(as_beneath(path), 10_000_000)


def test_a_file_that_goes_while_the_folder_is_read_is_left_to_the_next_pass(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    truly = os.scandir

    class Going:
        """An entry that is gone when it is looked at."""

        name = "a.png"

        def stat(self, *, follow_symlinks: bool) -> os.stat_result:
            raise FileNotFoundError

    @contextlib.contextmanager
    def scandir(where: int) -> Iterator[list[Any]]:
        with truly(where) as entries:
            yield [*entries, Going()]

    monkeypatch.setattr(beneath.os, "scandir", scandir)
    (tmp_path / "b.png").touch()
    seen = scan_drop_folder(as_beneath(tmp_path))
    assert [bundle.shown for bundle in seen.bundles] == ["b.png"]
    assert (seen.noise, seen.left_alone) == (0, [])


def test_nobody_writes_a_file_that_lies_still(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"art")
    if has_writer(as_beneath(path)) is None:
        pytest.skip("this file system or user cannot tell whether somebody writes")
    assert has_writer(as_beneath(path)) is False
    with path.open("ab"):
        assert has_writer(as_beneath(path)) is True
    with path.open("r+b"):  # no lease was left on it, which would hold the writer up
        pass
    assert has_writer(as_beneath(tmp_path / "gone")) is None


def test_a_system_without_leases_cannot_tell_of_writers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"art")
    monkeypatch.delattr(settle.fcntl, "F_SETLEASE", raising=False)
    assert has_writer(as_beneath(path)) is None


def test_looks_close_what_they_open(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"art")
    gc.collect()  # what earlier tests left open would be closed in between, or not
    before = len(list(Path("/proc/self/fd").iterdir()))
    looks = 20
    for _ in range(looks):
        has_writer(as_beneath(path))
        ends_in_hole(as_beneath(path), 3)
        scan_drop_folder(as_beneath(tmp_path))
    assert len(list(Path("/proc/self/fd").iterdir())) < before + looks


class Still:
    """An end that looks finished."""

    finished, why, hard = True, "", True


def test_a_file_settles_anew_after_a_refused_claim_and_others_go_on(tmp_path: Path) -> None:
    now = [0.0]
    tracker = Tracker(lambda path: Still(), lambda: now[0])
    one, other = tmp_path / "a", tmp_path / "b"
    for path in (one, other):
        path.write_bytes(b"art")

    def rests() -> list[SettleState]:
        return [
            tracker.look(as_beneath(path), path.lstat(), settle=2).rest for path in (one, other)
        ]

    wait, ready = SettleState.WAIT, SettleState.READY
    assert rests() == [wait, wait]
    now[0] = 2.0
    assert rests() == [ready, ready]
    tracker.restart(as_beneath(one))
    tracker.restart(as_beneath(tmp_path / "unknown"))
    assert rests() == [wait, ready]
    tracker.keep_only([as_beneath(one)])
    assert rests() == [wait, wait]
    now[0] = 4.0
    assert rests() == [ready, ready]


@pytest.mark.parametrize(
    ("settle", "after", "state"),
    [(2.0, 19.9, "wait"), (2.0, 20.0, "empty"), (0.1, 4.9, "wait"), (0.1, 5.0, "empty")],
)
def test_when_an_empty_file_is_given_up(
    tmp_path: Path, settle: float, after: float, state: str
) -> None:
    now = [0.0]
    tracker = Tracker(lambda path: Still(), lambda: now[0])
    path = tmp_path / "a"
    path.touch()
    tracker.look(as_beneath(path), path.lstat(), settle=settle)
    now[0] = after
    look = tracker.look(as_beneath(path), path.lstat(), settle=settle)
    assert (look.rest, look.why, look.stuck) == (SettleState(state), "it is empty", False)


def test_an_end_is_not_asked_for_where_it_need_not_be(tmp_path: Path) -> None:
    now = [0.0]

    def refuse(path: Path) -> Still:
        raise OSError(5, "asked")

    tracker = Tracker(refuse, lambda: now[0])
    path = tmp_path / "a"
    path.write_bytes(b"art")
    tracker.look(as_beneath(path), path.lstat(), settle=2)
    now[0] = 2.0
    assert (
        tracker.look(as_beneath(path), path.lstat(), settle=2, check_end=False).rest
        is SettleState.READY
    )
    look = tracker.look(as_beneath(path), path.lstat(), settle=2)
    assert look == SettleLook(SettleState.WAIT, "filmhand cannot read it: asked", stuck=False)


def found(size: int) -> os.stat_result:
    return os.stat_result((0o100644, 1, 1, 1, 0, 0, size, 0, 0, 0))


def test_refusals_that_need_no_look_inside() -> None:
    ready = SettleLook(SettleState.READY, "")
    assert refusals.of_look(ready, found(1_000_000), 1_000_000) is None
    too_big = refusals.of_look(ready, found(1_000_001), 1_000_000)
    assert too_big is not None and too_big.reason is Reason.TOO_BIG
    assert too_big.needed == Quantity(1.0, "megabytes")
    empty = refusals.of_look(SettleLook(SettleState.EMPTY, ""), found(0), 1)
    assert empty is not None and empty.reason is Reason.DAMAGED
    assert (empty.found, empty.needed) == (
        Quantity(0, "bytes"),
        Quantity("at least one byte", "bytes"),
    )
    cut = refusals.of_look(SettleLook(SettleState.CUT_OFF, "it has no end mark."), found(9), 1)
    assert cut is not None and cut.reason is Reason.DAMAGED
    assert cut.say == "The file broke off on its way: it has no end mark."


@pytest.mark.parametrize(
    ("kind", "name", "end"),
    [("ticket", "a.ticket.txt", ".ticket.yaml"), ("mask", "a.clear.png", ".clear.png")],
)
def test_companions_without_their_art_are_told_the_right_name(
    tmp_path: Path, kind: str, name: str, end: str
) -> None:
    told = refusals.misnamed("a.png", name)
    assert told.reason is Reason.BAD_TICKET
    assert told.say.startswith(f"Beside this art lies {name}, and a {kind} takes")
    assert (told.found, told.needed) == (Quantity(name, "file"), Quantity(f"a.png{end}", "file"))
    assert told.do.startswith(f"Name it a.png{end}, ")
    path = tmp_path / f"b.jpg{end}"
    path.touch()
    alone = refusals.alone(Bundle(Found(path, (), path.lstat()), alone=kind))
    assert alone.say.startswith(f"This {kind} belongs to art named b.jpg, which did not come")
    assert f"must be named poster.jpg{end}." in alone.do
    assert (alone.found, alone.needed) == (Quantity("no art", "file"), Quantity("b.jpg", "file"))

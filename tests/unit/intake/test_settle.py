from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from filmhand.disk.beneath import as_beneath
from filmhand.intake import settle
from filmhand.intake.settle import (
    SettleLook,
    SettleState,
    Tracker,
    ends_in_hole,
    give_up_after,
    has_writer,
    sees_all_writers,
)

SETTLE = 2.0


@dataclass
class Ending:
    finished: bool = True
    why: str = ""
    hard: bool = True


class Clock:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


class Bank:
    """One file, a tracker, and a clock that only moves when told."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "art.png"
        self.path.write_bytes(b"art")
        self.clock = Clock()
        self.ending = Ending()
        self.tracker = Tracker(lambda path: self.ending, self.clock)

    def look(self, after: float = 0.0) -> SettleLook:
        self.clock.now += after
        return self.tracker.look(as_beneath(self.path), self.path.lstat(), settle=SETTLE)


@pytest.fixture
def bank(tmp_path: Path) -> Bank:
    return Bank(tmp_path)


def test_ready_only_after_the_settle_time(bank: Bank) -> None:
    assert bank.look().rest is SettleState.WAIT
    assert bank.look(1.99).rest is SettleState.WAIT
    assert bank.look(0.02).rest is SettleState.READY


def test_one_look_is_never_enough_however_old_the_file(bank: Bank) -> None:
    os.utime(bank.path, (0, 0))
    assert bank.look().rest is SettleState.WAIT


@pytest.mark.parametrize(
    "change",
    [
        lambda path: path.write_bytes(b"more art"),
        lambda path: os.utime(path, (5, 5)),
        lambda path: os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns)),
        lambda path: (path.rename(path.with_name("old")), path.write_bytes(b"art")),
    ],
    ids=["grows", "new time", "only the change time", "another file of the same name"],
)
def test_every_change_starts_the_time_again(bank: Bank, change: Callable[[Path], object]) -> None:
    bank.look()
    bank.look(1.9)
    change(bank.path)
    assert bank.look(0.2).rest is SettleState.WAIT
    assert bank.look(1.9).rest is SettleState.WAIT
    assert bank.look(0.2).rest is SettleState.READY


def test_a_size_and_time_that_stay_while_the_content_changes(bank: Bank) -> None:
    before = bank.path.stat()
    bank.look()
    bank.path.write_bytes(b"tra")
    os.utime(bank.path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert bank.look(2.1).rest is SettleState.WAIT  # the change time cannot be set back


def test_a_pause_with_the_file_open_is_not_the_end(bank: Bank) -> None:
    if has_writer(as_beneath(bank.path)) is None:
        pytest.skip("this file system or user cannot tell whether somebody writes")
    with bank.path.open("ab"):
        bank.look()
        for _ in range(20):
            look = bank.look(10.0)
            assert look.rest is SettleState.WAIT
            assert "writing" in look.why
    assert bank.look(1.9).rest is SettleState.WAIT
    assert bank.look(0.2).rest is SettleState.READY


def test_readers_do_not_matter(bank: Bank) -> None:
    with bank.path.open("rb"):
        bank.look()
        assert bank.look(2.1).rest is SettleState.READY


def test_where_no_writer_can_be_seen_art_rests_three_times_as_long(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settle, "has_writer", lambda path: None)
    bank.look()
    look = bank.look(5.9)
    assert look.rest is SettleState.WAIT
    assert look.why.startswith("it is settling (6 s, since filmhand cannot see")
    assert bank.look(0.2).rest is SettleState.READY


@pytest.mark.parametrize(("rests", "state"), [(5.99, SettleState.WAIT), (6.0, SettleState.READY)])
def test_three_times_as_long_is_enough(
    bank: Bank, monkeypatch: pytest.MonkeyPatch, rests: float, state: SettleState
) -> None:
    monkeypatch.setattr(settle, "has_writer", lambda path: None)
    bank.clock.now = 0.0
    bank.look()
    assert bank.look(rests).rest is state


def test_on_a_share_the_settle_time_is_that_of_shares(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settle, "has_writer", lambda path: None)

    def look(after: float) -> SettleState:
        bank.clock.now += after
        found = bank.path.lstat()
        return bank.tracker.look(as_beneath(bank.path), found, settle=15, network=True).rest

    assert [look(0), look(14.9), look(0.2)] == [*[SettleState.WAIT] * 2, SettleState.READY]
    bank.ending = Ending(False, "no end mark")
    with bank.path.open("r+b") as file:
        file.truncate(400_000_000)
    assert [look(0), look(459.9), look(0.2)] == [*[SettleState.WAIT] * 2, SettleState.CUT_OFF]


def test_how_long_a_copy_that_broke_off_is_waited_for() -> None:
    assert give_up_after(0.1, 10**9, unseen=False) == 5
    assert give_up_after(2, 10**9, unseen=False) == 20
    assert give_up_after(2, 0, unseen=True) == 20
    assert give_up_after(2, 10**6, unseen=True) == 61
    assert give_up_after(2, 10**10, unseen=True) == 1800
    assert give_up_after(600, 10**10, unseen=True) == 6000


@pytest.mark.parametrize(
    ("text", "sees"),
    [
        ("Name:\tx\nCapEff:\t0000000010000000\n", True),
        ("CapEff:\t000001ffefffffff\n", False),
        ("CapEff:\t0000000000000000\n", False),
        ("nothing\n", False),
    ],
)
def test_the_power_to_see_all_writers(tmp_path: Path, text: str, *, sees: bool) -> None:
    (tmp_path / "status").write_text(text)
    assert sees_all_writers(tmp_path / "status") is sees
    assert sees_all_writers(tmp_path / "none") is False


def test_an_empty_file_waits_ten_times_as_long(bank: Bank) -> None:
    bank.path.write_bytes(b"")
    bank.look()
    assert bank.look(19.9).rest is SettleState.WAIT
    assert bank.look(0.2).rest is SettleState.EMPTY


def test_a_short_settle_time_gives_up_after_five_seconds(bank: Bank) -> None:
    bank.path.write_bytes(b"")

    def look(after: float) -> SettleState:
        bank.clock.now += after
        return bank.tracker.look(as_beneath(bank.path), bank.path.lstat(), settle=0.1).rest

    assert [look(0), look(4.9), look(0.2)] == [
        SettleState.WAIT,
        SettleState.WAIT,
        SettleState.EMPTY,
    ]


def test_a_placeholder_that_is_filled_later(bank: Bank) -> None:
    bank.path.write_bytes(b"")
    bank.look()
    bank.look(15)
    bank.path.write_bytes(b"art")
    assert bank.look(0.1).rest is SettleState.WAIT
    assert bank.look(2.1).rest is SettleState.READY


def test_a_missing_end_waits_and_is_then_refused(bank: Bank) -> None:
    bank.ending = Ending(False, "no end mark", hard=True)
    bank.look()
    look = bank.look(5)
    assert (look.rest, "no end mark" in look.why) == (SettleState.WAIT, True)
    assert bank.look(15.1).rest is SettleState.CUT_OFF


def test_an_end_that_only_looks_odd_goes_on_after_the_wait(bank: Bank) -> None:
    bank.ending = Ending(False, "zeros at the end", hard=False)
    bank.look()
    assert bank.look(5).rest is SettleState.WAIT
    assert bank.look(15.1).rest is SettleState.READY


def test_an_end_that_was_found_is_looked_for_again_only_after_a_change(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[object] = []
    tracker = Tracker(lambda path: asked.append(path) or bank.ending, bank.clock)  # type: ignore[func-returns-value]
    bank.tracker = tracker
    bank.look()
    for _ in range(3):
        assert bank.look(2.1).rest is SettleState.READY
    assert len(asked) == 1
    bank.path.write_bytes(b"more art")
    bank.ending = Ending(finished=False, why="the end is missing")
    assert bank.look().rest is SettleState.WAIT
    for _ in range(2):  # what is not whole is looked into each time
        assert bank.look(2.1).why
    assert len(asked) == 3


def test_an_end_is_looked_for_again_after_somebody_had_the_art_open(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Writing through a mapping of the file may change its times only later (mmap(2))."""
    written = [False]
    monkeypatch.setattr("filmhand.intake.settle.has_writer", lambda path: written[0])
    bank.look()
    assert bank.look(2.1).rest is SettleState.READY
    written[0] = True
    assert bank.look(0.1).rest is SettleState.WAIT
    written[0], bank.ending = False, Ending(finished=False, why="the end is missing")
    assert bank.look(2.1).rest is SettleState.WAIT


def test_an_end_that_arrives_is_seen(bank: Bank) -> None:
    bank.ending = Ending(False, "no end mark")
    bank.look()
    bank.look(5)
    bank.ending = Ending()
    assert bank.look(0.1).rest is SettleState.READY


def test_a_file_that_cannot_be_read_waits_with_the_reason(bank: Bank) -> None:
    def refuse(path: Path) -> Ending:
        raise PermissionError(13, "Permission denied")

    tracker = Tracker(refuse, bank.clock)
    tracker.look(as_beneath(bank.path), bank.path.lstat(), settle=SETTLE)
    bank.clock.now += 100
    look = tracker.look(as_beneath(bank.path), bank.path.lstat(), settle=SETTLE)
    assert (look.rest, look.stuck) == (SettleState.WAIT, True)
    assert "Permission denied" in look.why


def test_a_reserved_end_that_was_never_written(bank: Bank) -> None:
    with bank.path.open("wb") as file:
        file.write(b"begin" * 2000)
        file.truncate(10_000_000)
    if not ends_in_hole(as_beneath(bank.path), 10_000_000):
        pytest.skip("this file system does not tell holes")
    bank.look()
    look = bank.look(2.1)
    assert (look.rest, "not been written" in look.why) == (SettleState.WAIT, True)
    assert bank.look(20).rest is SettleState.READY  # a sparse file may be good: the decoder decides


def test_a_file_that_went_and_came_settles_anew(bank: Bank) -> None:
    bank.look()
    bank.clock.now += 2.1
    bank.tracker.keep_only([])
    assert bank.look().rest is SettleState.WAIT


def test_a_link_is_not_followed_when_looking_for_a_writer(tmp_path: Path) -> None:
    target = tmp_path / "target"
    target.write_bytes(b"x")
    link = tmp_path / "link"
    link.symlink_to(target)
    assert has_writer(as_beneath(link)) is None

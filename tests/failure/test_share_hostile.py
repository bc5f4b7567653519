"""A share that answers with errors, lies, hangs and goes away: nothing is lost, made twice or
held against a file. The share is a file system of our own that fails on demand; see `sharing`.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import job_harness
import pytest
from job_harness import assert_invariants, assert_invariants_in_hand, files_in, make_queue
from sharing import Share, share
from test_service_station import PROFILE, Shop, shop, stop, wait_until

from filmhand.disk.folders import Folders
from filmhand.queue.job_queue import JobQueue

__all__ = ["share", "shop"]

CONTENTS = [b"art 1", b"refuse 2", b"pages 3", b"ticket of 3"]
NAMES = ["a.png", "b.gif", "class 4/c.tif", "class 4/c.tif.ticket.yaml"]
OPERATIONS = (
    "getattr", "readdir", "mkdir", "rmdir", "unlink", "rename", "open", "create", "read", "write",
    "fsync",
)  # fmt: skip


class Case:
    """A queue on the share whose waits are short, with all that it said."""

    def __init__(self, share: Share, state: Path, **options: Any) -> None:
        self.root = share.mount / "small"
        self.behind = share.behind / "small"
        self.ahead = 0.0
        self.said: list[str] = []
        self.queue: JobQueue = make_queue(
            self.root,
            state,
            elsewhere=True,
            clock=lambda: time.monotonic() + self.ahead,
            say=lambda event, **facts: self.said.append(event),
            **options,
        )
        Folders(self.root).make()

    def drop_all(self) -> None:
        for name, data in zip(NAMES, CONTENTS, strict=True):
            path = self.behind / "drop" / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(data)

    def settle(self) -> None:
        for _ in range(2):
            self.queue.look()
            time.sleep(2 * job_harness.SETTLE)

    def go_on(self, rounds: int) -> None:
        """Look and work so many times, without waiting for the pauses in between."""
        for _ in range(rounds):
            self.queue.look()
            while (work := self.queue.take()) is not None:
                self.queue.do(work)
            self.ahead += 700
            time.sleep(0.01)

    def finish(self, contents: list[bytes] = CONTENTS) -> None:
        """Everything is well again: the rest is done, and all is as it should be."""
        until = time.monotonic() + 30
        while not self.queue.idle() or files_in(self.behind / "drop"):
            self.go_on(1)
            time.sleep(job_harness.SETTLE)
            assert time.monotonic() < until, self.queue.status()
        assert_invariants(self.behind, contents)
        assert not {"worker failed", "filmhand itself failed"} & set(self.said)


@pytest.mark.parametrize("error", ["ESTALE", "EIO", "ENOTCONN"])
@pytest.mark.parametrize("operation", OPERATIONS)
def test_a_burst_of_errors_at_each_operation_counts_against_no_file(
    share: Share, tmp_path: Path, operation: str, error: str
) -> None:
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": operation, "error": error})
    case.go_on(4)
    assert share.hits() > 0
    share.faults()
    assert_invariants_in_hand(case.behind, CONTENTS)
    case.finish()


@pytest.mark.parametrize("error", ["ESTALE", "EIO", "ENOTCONN"])
def test_every_fifth_operation_fails(share: Share, tmp_path: Path, error: str) -> None:
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    for _ in range(12):
        share.faults({"error": error, "chance": 0.2})
        case.go_on(1)
        share.faults()
        assert_invariants_in_hand(case.behind, CONTENTS)
    assert share.hits() > 10
    case.finish()


@pytest.mark.parametrize("error", ["EIO", "ETIMEDOUT"])
@pytest.mark.parametrize("good", range(0, 30, 2))
def test_a_rename_that_happened_though_it_says_it_failed(
    share: Share, tmp_path: Path, good: int, error: str
) -> None:
    """The n-th rename takes place, and its answer is an error: nothing is lost or made twice."""
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": "rename", "error": error, "after": True, "skip": good, "times": 2})
    case.go_on(4)
    assert share.hits() > 0
    case.finish()


@pytest.mark.parametrize("good", [0, 1, 3, 6])
@pytest.mark.parametrize("operation", ["link", "unlink", "mkdir", "rmdir", "create", "write"])
def test_anything_else_that_happened_though_it_says_it_failed(
    share: Share, tmp_path: Path, operation: str, good: int
) -> None:
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": operation, "error": "EIO", "after": True, "skip": good, "times": 2})
    case.go_on(4)
    assert share.hits() > 0
    case.finish()


@pytest.mark.parametrize("error", ["ENOTSUP", "EPERM", "ENOSYS"])
def test_a_share_without_links_and_without_renaming_that_keeps(
    share: Share, tmp_path: Path, error: str
) -> None:
    """The ways without either are used, and a name that is taken stays what it is."""
    from filmhand.disk import atomic

    case = Case(share, tmp_path / "state")
    share.faults({"operation": "link", "error": error})
    for kind in ("originals", "rejected", "positives"):
        (case.behind / kind).mkdir(exist_ok=True)
    probe = case.root / "probe"
    probe.write_bytes(b"")
    assert not atomic.rename_no_replace(probe, case.root / "probe 2")
    probe.unlink()
    there = {"originals/a.png": b"an older a", "positives/a.pdf": b"an older film"}
    for name, data in there.items():
        (case.behind / name).write_bytes(data)
    case.drop_all()
    case.settle()
    case.go_on(4)
    assert share.hits() > 0
    for name, data in there.items():
        assert (case.behind / name).read_bytes() == data
        (case.behind / name).unlink()
    assert (case.behind / "originals" / "a-2.png").read_bytes() == CONTENTS[0]
    case.finish()


def test_a_file_that_is_busy_at_the_claim_waits_and_is_then_taken(
    share: Share, tmp_path: Path
) -> None:
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": "rename", "path": "/drop/a.png", "error": "EBUSY", "times": 3})
    case.go_on(1)
    assert (case.behind / "drop" / "a.png").read_bytes() == CONTENTS[0]
    assert not case.queue.trouble.pause.why  # one file that is busy stops nobody else
    case.queue.look()
    assert "a.png" in [one["name"] for one in case.queue.status()["waiting"]]
    case.go_on(8)
    assert share.hits() == 3
    case.finish()


@pytest.mark.parametrize("good", range(16))
def test_what_could_not_be_made_durable_is_written_anew(
    share: Share, tmp_path: Path, good: int
) -> None:
    """The n-th fsync fails: nothing of that write is published; it is written again."""
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": "fsync", "error": "EIO", "skip": good, "times": 1})
    case.go_on(3)
    assert share.hits() == 1
    assert {"paused", "waits by itself"} & set(case.said)
    assert_invariants_in_hand(case.behind, CONTENTS)
    case.finish()


def test_while_nothing_can_be_made_durable_nothing_is_published(
    share: Share, tmp_path: Path
) -> None:
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": "fsync", "error": "EIO"})
    case.go_on(6)
    assert share.hits() > 3
    for kind in ("positives", "proofs", "records", "originals"):
        assert files_in(case.behind / kind) == []
    share.faults()
    case.finish()


def test_a_film_that_is_out_under_its_name_is_not_published_again(
    share: Share, tmp_path: Path
) -> None:
    """Linked to its final name, and then the share fails before the old name is gone."""
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": "unlink", "path": "/out/0.pdf", "error": "EIO", "times": 3})
    case.go_on(6)
    assert share.hits() == 3
    case.finish()
    assert sorted(path.name for path in (case.behind / "positives").glob("a*")) == [
        "a.pdf",
        "a.tif",
    ]


def test_a_share_that_fills_up_while_films_are_written(share: Share, tmp_path: Path) -> None:
    case = Case(share, tmp_path / "state")
    case.drop_all()
    case.settle()
    share.faults({"operation": "write", "path": "/out/", "error": "ENOSPC"})
    case.go_on(3)
    assert share.hits() > 0
    assert "no space left" in case.queue.trouble.pause.why
    share.faults()
    case.finish()


def test_files_of_others_are_found_without_events(share: Share, tmp_path: Path) -> None:
    """What is written behind the mount, as by another computer, causes no event here."""
    case = Case(share, tmp_path / "state")
    case.finish([])
    case.drop_all()
    case.settle()
    case.finish()


# --- the service on a share ----------------------------------------------------------------------


def away(shop: Shop, share: Share) -> Path:
    """A profile whose folder is on the share, prepared; the folder behind."""
    root = share.mount / "away"
    Folders(root).make()
    shop.profile("away", PROFILE + f"folder: {root}\n")
    return share.behind / "away"


def state_of(shop: Shop, name: str) -> str:
    """Empty while the service that has just begun does not tell of the profile yet."""
    profiles = shop.status()["profiles"]
    return str(next((one["state"] for one in profiles if one["name"] == name), ""))


def put(behind: Path, name: str, data: bytes) -> None:
    (behind / "drop" / name).write_bytes(data)


def test_a_share_that_hangs_holds_up_nobody_else(shop: Shop, share: Share) -> None:
    behind = away(shop, share)
    service = shop.serve(LATE="1", EVERY_NETWORK="0.3")
    put(behind, "before.png", b"art before")
    wait_until((behind / "originals" / "before.png").exists)
    share.faults({"operation": "readdir", "delay": 600})
    wait_until(lambda: share.hits() > 0)
    put(behind, "b.png", b"art b")
    for number in range(5):
        shop.drop(f"{number}.png", b"art %d" % number)
    wait_until(lambda: all(shop.made(f"{number}.png") for number in range(5)))
    wait_until(lambda: state_of(shop, "away") == "unreachable")
    assert state_of(shop, "small") == "working"
    service.send_signal(signal.SIGTERM)
    wait_until(lambda: shop.said("stops"))  # the system keeps the process until the share lets go
    share.unmount()
    assert service.wait(timeout=120) == 0
    share.connect()
    assert shop.once() == 0
    assert_invariants(behind, [b"art before", b"art b"])
    assert_invariants(shop.root(), [b"art %d" % number for number in range(5)])


@pytest.mark.parametrize("how", ["unmounted", "server dead"])
def test_a_share_that_goes_away_under_the_service_and_comes_back(
    shop: Shop, share: Share, how: str
) -> None:
    behind = away(shop, share)
    service = shop.serve(EVERY_NETWORK="0.2", FIRST_PAUSE="0.3")
    put(behind, "before.png", b"art before")
    wait_until((behind / "originals" / "before.png").exists)
    leave: Callable[[], None] = share.unmount if how == "unmounted" else share.break_off
    leave()
    wait_until(lambda: state_of(shop, "away") == "paused")
    put(behind, "b.png", b"art b")
    shop.drop("a.png", b"art a")
    wait_until(lambda: shop.made("a.png"))
    share.unmount()
    assert list(share.mount.iterdir()) == []  # nothing was written where the share had been
    share.connect()
    wait_until((behind / "originals" / "b.png").exists)
    wait_until(lambda: state_of(shop, "away") == "working")
    assert stop(service) == 0  # without having been started again
    assert_invariants(behind, [b"art before", b"art b"])
    assert_invariants(shop.root(), [b"art a"])
    assert len(shop.said("paused")) <= 3


def test_a_share_that_is_down_for_long_does_not_flood_the_log(shop: Shop, share: Share) -> None:
    """Two different errors in turn for 12 s, in which the pause grows a hundredfold."""
    behind = away(shop, share)
    service = shop.serve(EVERY_NETWORK="0.05", FIRST_PAUSE="0.05")
    put(behind, "before.png", b"art before")
    wait_until((behind / "originals" / "before.png").exists)
    before = len(shop.events())
    until = time.monotonic() + 12
    while time.monotonic() < until:
        for error in ("ESTALE", "EIO"):
            share.faults({"error": error})
            time.sleep(0.2)
    share.faults()
    put(behind, "b.png", b"art b")
    wait_until((behind / "originals" / "b.png").exists)
    assert share.hits() >= 5
    assert len(shop.events()) - before < 20
    assert stop(service) == 0
    assert_invariants(behind, [b"art before", b"art b"])


def test_two_services_on_a_share(share: Share, tmp_path: Path) -> None:
    """Neither can rename without replacing there, and the same names come again and again."""
    case = Case(share, tmp_path / "state")
    contents = [b"art %d" % number for number in range(30)]
    for number, data in enumerate(contents):
        sub = case.behind / "drop" / f"class {number // 10}"
        sub.mkdir(exist_ok=True)
        (sub / f"{number % 10}.png").write_bytes(data)
    command = [sys.executable, job_harness.__file__, str(case.root)]
    hosts = [
        subprocess.Popen([*command, str(tmp_path / name), f"{name}-00000000"])
        for name in ("one", "two")
    ]
    assert [one.wait(timeout=120) for one in hosts] == [0, 0]
    assert_invariants(case.behind, contents)


@pytest.mark.parametrize("links", [True, False])
def test_two_services_that_want_the_same_names(share: Share, tmp_path: Path, links: bool) -> None:
    """All art has one stem, so both choose the same next name; without links by looks alone."""
    case = Case(share, tmp_path / "state")
    if not links:
        share.faults({"operation": "link", "error": "ENOTSUP"})
    contents = [b"art %d" % number for number in range(12)]
    sub = case.behind / "drop" / "class 4"
    sub.mkdir()
    for number, data in enumerate(contents):
        (sub / f"a.p{number:02}").write_bytes(data)
    command = [sys.executable, job_harness.__file__, str(case.root)]
    hosts = [
        subprocess.Popen([*command, str(tmp_path / name), f"{name}-00000000"])
        for name in ("one", "two")
    ]
    assert [one.wait(timeout=120) for one in hosts] == [0, 0]
    assert links or share.hits() > 0
    assert_invariants(case.behind, contents)
    stems = {path.stem for path in (case.behind / "positives" / "class 4").iterdir()}
    assert stems == {"a", *(f"a-{number}" for number in range(2, 13))}

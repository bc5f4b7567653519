"""A bundle or job with a trouble of its own waits by itself, and all others go on.

Root may read everything, so where the tests run as root the thread gives up the powers that make it
so (capabilities(7)) while the queue works: then the rights of files hold for it as for anybody.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import job_harness
import pytest
from job_harness import make_queue, render

from filmhand.disk import file_names
from filmhand.jobs import claim, put_away
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.job_queue import JobQueue
from filmhand.request import JobRequest
from filmhand.timing.lone_wait import GIVEN_UP_AFTER
from filmhand.worker.parent import Interrupted

_POWERS = 1 << 1 | 1 << 2 | 1 << 3  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH, CAP_FOWNER


@contextlib.contextmanager
def bound_by_rights() -> Iterator[None]:
    """In this thread the rights of files hold, for root too (capset(2))."""
    libc = ctypes.CDLL(None, use_errno=True)
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)
    before, without = (ctypes.c_uint32 * 6)(), (ctypes.c_uint32 * 6)()
    if libc.capget(header, before):
        pytest.skip("this system does not tell a thread its powers")
    ctypes.memmove(without, before, ctypes.sizeof(before))
    without[0] &= ~_POWERS
    if libc.capset(header, without):
        pytest.skip("this system does not let a thread give up its powers")
    try:
        yield
    finally:
        libc.capset(header, before)


class Shop:
    """A queue on a clock of its own, with what it said."""

    def __init__(self, place: Path, **options: Any) -> None:
        self.root = place / "small"
        self.now = 0.0
        self.said: list[str] = []
        self.place, self.options = place, options
        self.queue = self.start()

    def start(self, **options: Any) -> JobQueue:
        self.queue = make_queue(
            self.root,
            self.place / "state",
            clock=lambda: self.now,
            say=lambda event, **facts: self.said.append(event),
            **{**self.options, **options},
        )
        with bound_by_rights():
            self.queue.look()
        return self.queue

    def drop(self, name: str, data: bytes, *, mode: int = 0o644, age: int = 0) -> None:
        path = self.root / "drop" / name
        path.write_bytes(data)
        path.chmod(mode)
        os.utime(path, (1_700_000_000 - age, 1_700_000_000 - age))

    def work(self, looks: int = 3, step: float = 0.2) -> None:
        with bound_by_rights():
            for _ in range(looks):
                self.queue.look()
                while (task := self.queue.take()) is not None:
                    self.queue.do(task)
                self.now += step
            self.queue.look()

    def waiting(self) -> dict[str, str]:
        return {one["name"]: one["why"] for one in self.queue.status()["waiting"]}

    def names(self, folder: str) -> set[str]:
        return {path.name for path in (self.root / folder).iterdir()}

    def refusals(self) -> list[dict[str, Any]]:
        log = self.root / "rejected" / "rejections.jsonl"
        return [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []


def interrupted(order: JobRequest) -> Any:
    raise Interrupted


def test_a_thousand_sound_drops_behind_twenty_that_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "fsync", lambda descriptor: None)  # it only takes time here
    shop = Shop(tmp_path)
    for number in range(20):
        kind = ("", file_names.TICKET_END, file_names.MASK_END)[number % 3]
        shop.drop(f"bad {number}.png", b"art of bad %d" % number, age=100)
        shop.drop(f"bad {number}.png{kind}", b"for: them", mode=0o000, age=100)
    for number in range(1000):
        shop.drop(f"{number}.png", b"art %d" % number)
    shop.work(looks=8)
    sound = {f"{number}.png" for number in range(1000)}
    assert shop.names("originals") == sound
    assert not shop.queue.trouble.why and "paused" not in shop.said
    waiting = shop.waiting()
    assert set(waiting) == {f"bad {number}.png" for number in range(20)}
    for name, why in waiting.items():
        assert f"filmhand cannot read {name}" in why and "the right to read it" in why
        assert "it belongs to root, its rights are ----------" in why or os.geteuid()
    shop.now += 6
    shop.work(looks=1)
    assert shop.queue.idle()  # nothing that the service could do about it
    for path in (shop.root / "drop").iterdir():
        path.chmod(0o644)
    shop.work()
    bad = {f"bad {number}.png" for number in range(20)}
    assert sound | bad <= shop.names("originals") and not shop.names("drop")


def test_it_is_tried_less_and_less_often_and_refused_after_a_day(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.drop("a.png", b"art", mode=0o000)
    shop.drop("b.png", b"art b")
    shop.drop("b.png.ticket.yaml", b"for: them", mode=0o000)
    tries = []
    shop.work(step=1.0)
    while shop.now < 2000:
        (tried,) = {why.partition("(tried ")[2].split(",")[0] for why in shop.waiting().values()}
        tries.append(int(tried.removesuffix(" times").replace("once", "1")))
        shop.work(looks=1, step=5.0)
    assert tries[-1] <= 12 and tries == sorted(tries)
    shop.now = GIVEN_UP_AFTER - 5
    shop.work()
    assert shop.names("drop") and not shop.refusals()
    shop.now += 310
    shop.work()
    first, second = sorted(shop.refusals(), key=lambda one: one["name"])
    assert first["reason"] == second["reason"] == "unreadable"
    assert first["sha256"] == "" and second["sha256"] == job_harness.sha256(b"art b")
    assert "could not be read for a day" in first["say"] and "belongs to" in first["say"]
    assert "b.png.ticket.yaml could not be read" in second["say"]
    assert shop.names("rejected") >= {"a.png", "a.png.why.txt", "b.png", "b.png.ticket.yaml"}
    assert not shop.names("drop") and shop.queue.idle()


def test_jobs_in_hand_that_cannot_be_read_hold_up_nobody(tmp_path: Path) -> None:
    shop = Shop(tmp_path, render=interrupted)
    for number in range(5):
        shop.drop(f"taken {number}.png", b"art taken %d" % number)
    shop.work(looks=2)
    held = sorted((shop.root / ".filmhand").glob("*/*/held/*.png"))
    assert len(held) == 5
    for path in held[:3]:
        path.chmod(0o000)
    shop.start(render=render)  # as after a restart: they are the first in the queue
    for number in range(50):
        shop.drop(f"{number}.png", b"art %d" % number)
    shop.work()
    taken = {f"taken {number}.png" for number in range(5)}
    assert len(shop.names("originals") & taken) == 2
    assert shop.names("originals") >= {f"{number}.png" for number in range(50)}
    assert not shop.queue.trouble.why and shop.said.count("waits by itself") == 3
    waiting = shop.waiting()
    assert len(waiting) == 3 and set(waiting) < taken
    assert all("filmhand cannot read taken" in why for why in waiting.values())
    for _ in range(4):
        shop.now += 300
        shop.work()
    assert shop.said.count("waits by itself") == 3  # told in the status, not again in the log
    held[0].chmod(0o644)
    shop.now += 300
    shop.work()
    assert len(shop.names("originals") & taken) == 3
    shop.now += GIVEN_UP_AFTER
    shop.work()
    shop.work()
    assert [one["reason"] for one in shop.refusals()] == ["unreadable"] * 2
    assert len(shop.names("rejected") & taken) == 2
    assert not list((shop.root / ".filmhand").glob("*/*/held"))


def test_notes_of_a_job_that_cannot_be_read_hold_up_nobody(tmp_path: Path) -> None:
    shop = Shop(tmp_path, render=interrupted)
    shop.drop("taken.png", b"art taken")
    shop.work(looks=2)
    (notes,) = (shop.root / ".filmhand").glob("*/*/job.json")
    notes.chmod(0o000)
    shop.start(render=render)
    shop.drop("a.png", b"art a")
    shop.work()
    assert shop.names("originals") == {"a.png"} and not shop.queue.trouble.why
    ((name, why),) = shop.waiting().items()
    assert name == notes.parent.name and "no right to do its work" in why
    notes.chmod(0o644)
    shop.now += 300
    shop.work()
    assert shop.names("originals") == {"a.png", "taken.png"}


def test_of_a_gang_only_the_one_that_cannot_be_read_waits(tmp_path: Path) -> None:
    shop = Shop(tmp_path, gang=GangWishes(0.1))
    for name in ("a", "b", "c"):
        shop.drop(f"{name}.png", b"art " + name.encode())
    while not (gangs := list(shop.queue.view.ready)):
        shop.queue.look()
        shop.now += 0.2
        if gangs := [task for task in shop.queue.view.ready if hasattr(task, "room")]:
            break
    real = claim.claim_art

    def claim_and_spoil(job: Any, context: Any) -> Any:
        made = real(job, context)
        if made.taken.art == "b.png":
            (made.held / "b.png").path.chmod(0o000)
        return made

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("filmhand.jobs.gang.claim_art", claim_and_spoil)
        shop.work(looks=5)
    assert gangs and not shop.queue.trouble.why
    assert shop.names("originals") == {"a.png", "c.png"}
    assert set(shop.waiting()) == {"b.png"}


@pytest.mark.parametrize("code", [errno.EIO, errno.EBUSY, errno.ESTALE])
def test_one_file_that_cannot_be_claimed(tmp_path: Path, code: int) -> None:
    shop = Shop(tmp_path)
    real = claim.atomic.claim_by_rename

    def failing(source: Any, target: Any) -> None:
        if source.name == "bad.png":
            raise OSError(code, os.strerror(code), str(source))
        real(source, target)

    shop.drop("bad.png", b"art of bad", age=100)
    for number in range(20):
        shop.drop(f"{number}.png", b"art %d" % number)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("filmhand.disk.atomic.claim_by_rename", failing)
        shop.work()
        assert len(shop.names("originals")) == 20 and not shop.queue.trouble.why
        assert "move bad.png" in shop.waiting()["bad.png"]
        assert "belongs to" in shop.waiting()["bad.png"]
        shop.now += GIVEN_UP_AFTER
        shop.work()
        assert "refused as unreadable and cannot be moved" in shop.waiting()["bad.png"]
        said = len(shop.said)
        shop.now += 300
        shop.work()
        assert len(shop.said) == said and not shop.refusals()
    shop.now += 300
    shop.work()
    assert "bad.png" in shop.names("originals")


def test_art_that_cannot_be_put_away_waits_and_its_film_is_made_once(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    real = put_away.atomic.move_no_replace

    def failing(source: Any, target: Any) -> None:
        if source.name == "bad.png":
            raise OSError(errno.EPERM, os.strerror(errno.EPERM), str(source))
        real(source, target)

    shop.drop("bad.png", b"art of bad", age=100)
    shop.drop("a.png", b"art a")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("filmhand.disk.atomic.move_no_replace", failing)
        shop.work()
        shop.now += GIVEN_UP_AFTER
        shop.work()
        assert shop.names("originals") == {"a.png"} and not shop.queue.trouble.why
        assert "bad.png" in shop.waiting() and not shop.refusals()
    shop.now += 300
    shop.work()
    assert shop.names("originals") == {"a.png", "bad.png"}
    assert {name for name in shop.names("positives") if name.startswith("bad")} == {
        "bad.pdf",
        "bad.tif",
    }


def test_a_folder_that_cannot_be_written_pauses_all(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    (shop.root / "originals").chmod(0o555)
    shop.drop("a.png", b"art a")
    shop.drop("b.png", b"art b")
    shop.work()
    assert "no right" in shop.queue.trouble.why and shop.said.count("paused") == 1
    assert "waits by itself" not in shop.said
    assert not list(shop.root.rglob("*.trial*"))
    (shop.root / "originals").chmod(0o755)
    shop.now += 10
    shop.work()
    assert shop.names("originals") == {"a.png", "b.png"}

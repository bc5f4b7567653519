"""What becomes of each dropped file at a look, on a clock that the test moves."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.errors import Reason
from filmhand.intake.scan import scan_drop_folder
from filmhand.jobs.claim import NotSettled
from filmhand.queue import triage as module
from filmhand.queue.settings import QueueSettings
from filmhand.queue.task import ClaimOne
from filmhand.queue.triage import FolderView, Triage, TriageRules, WaitingArt


class End:
    finished, why, hard = True, "", True


class Drop:
    """A drop folder, and its triage; art rests for two seconds."""

    def __init__(self, folder: Path, *, patient: bool = True) -> None:
        self.path = folder / "drop"
        self.path.mkdir()
        self.now = 1000.0
        self.handed_out = 0
        self.unreadable: set[str] = set()
        self.own_sign = Beneath(folder) / "alive"
        self.own_sign.touch()
        self.triage = Triage(self.finished, lambda: self.now, patient=patient)

    def finished(self, path: Beneath) -> End:
        if path.name in self.unreadable:
            raise PermissionError(errno.EACCES, "Permission denied")
        return End()

    def put(self, name: str, data: bytes = b"art", *, time: float = 10**9) -> Path:
        path = self.path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (time, time))
        return path

    def at(self, name: str) -> Beneath:
        return (Beneath(self.path.parent) / "drop").joinpath(*name.split("/"))

    def look(self, after: float = 0.0, *in_hand: str) -> FolderView:
        self.now += after
        rules = TriageRules(2.0, 1000, self.own_sign, self.handed_out)
        taken = {self.at(name) for name in in_hand}
        scan = scan_drop_folder(Beneath(self.path.parent) / "drop")
        return self.triage.judge(scan, rules, taken.__contains__)

    def rested(self, *in_hand: str) -> FolderView:
        self.look(0, *in_hand)
        return self.look(2.0, *in_hand)


@pytest.fixture
def drop(tmp_path: Path) -> Drop:
    return Drop(tmp_path)


def ready(view: FolderView) -> list[str]:
    return [task.bundle.shown for task in view.ready if isinstance(task, ClaimOne)]


def waiting(view: FolderView) -> list[tuple[str, str]]:
    return [(one.name, one.why) for one in view.waiting]


@pytest.mark.parametrize(
    ("handed_out", "ready"), [(0, 64), (32, 64), (33, 66), (1024, 2048), (1025, 2048)]
)
def test_how_much_is_looked_into(tmp_path: Path, handed_out: int, ready: int) -> None:
    assert TriageRules(2.0, 1, Beneath(tmp_path), handed_out).ready == ready


def test_the_oldest_is_first_and_what_is_in_hand_is_on_no_list(drop: Drop) -> None:
    drop.put("b.png", time=5)
    drop.put("sub/a.png", time=3)
    drop.put("a.png", time=3)
    drop.put("c.png", time=1)
    assert waiting(drop.look())[0] == ("c.png", "it has just arrived or changed")
    assert ready(drop.look(1.9)) == []
    assert ready(drop.look(0.1)) == ["c.png", "a.png", "sub/a.png", "b.png"]
    view = drop.look(0, "c.png")
    assert (ready(view), view.waiting) == (["a.png", "sub/a.png", "b.png"], [])


def test_of_very_many_five_hundred_are_named(drop: Drop) -> None:
    for number in range(566):
        drop.put(f"{number:03}.png", time=number + 1)
    view = drop.rested()
    assert len(view.ready) == 64
    assert waiting(view)[0] == ("064.png", "its turn comes")
    assert (len(view.waiting), view.more) == (500, 2)
    assert len(drop.look(0, "000.png").ready) == 64  # the next has rested meanwhile


def test_a_ticket_waits_ten_minutes_for_its_art(drop: Drop) -> None:
    drop.put("a.png.ticket.yaml", b"lpi: 25")
    drop.look()
    (wait,) = drop.look(1.9).waiting
    assert wait == WaitingArt("a.png.ticket.yaml", "its art has not come yet")
    (wait,) = drop.look(0.1).waiting
    assert wait.stuck  # nothing but its art can change that
    assert drop.look(597.9).ready == []
    (task,) = drop.look(0.1).ready
    assert isinstance(task, ClaimOne) and task.refusal is not None
    assert task.refusal.reason is Reason.BAD_TICKET
    drop.put("a.png")
    drop.rested()
    (path,) = drop.path.glob("*.png")
    path.unlink()
    drop.look()
    assert drop.look(599.9).ready == []  # it waits anew


@pytest.mark.parametrize(("age", "taken"), [(599, False), (601, True)])
def test_once_waits_only_for_what_came_lately(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, age: float, *, taken: bool
) -> None:
    """By the file system's own clock: its own sign of life against the ticket."""
    drop = Drop(tmp_path, patient=False)
    drop.put("a.png.ticket.yaml", b"lpi: 25")
    truly = Beneath.lstat

    def later(path: Beneath) -> os.stat_result:
        found = truly(path)
        if path == drop.own_sign:
            fields = list(found)[:10]
            fields[9] = int(found.st_ctime + age)
            return os.stat_result(fields)
        return found

    monkeypatch.setattr(Beneath, "lstat", later)
    assert bool(drop.rested().ready) is taken


def test_what_is_empty_too_large_or_beside_a_wrong_name_is_refused(drop: Drop) -> None:
    drop.put("a.png", b"x" * 1000)
    drop.put("b.png", b"x" * 1001)
    drop.put("c.png")
    drop.put("c.ticket.yaml")
    drop.put("d.png", b"")
    view = drop.rested()
    refused = {task.bundle.shown: task.refusal for task in view.ready if isinstance(task, ClaimOne)}
    assert refused["a.png"] is None
    assert refused["b.png"] is not None and refused["b.png"].reason is Reason.TOO_BIG
    assert refused["c.png"] is not None and refused["c.png"].reason is Reason.BAD_TICKET
    assert "d.png" not in refused
    refused = {one.bundle.shown: one.refusal for one in drop.look(18).ready}  # type: ignore
    assert refused["d.png"] is not None and refused["d.png"].reason is Reason.DAMAGED


def test_a_ticket_that_still_comes_holds_its_art_up(drop: Drop) -> None:
    drop.put("a.png")
    drop.look()
    drop.look(1.5)
    drop.put("a.png.ticket.yaml", b"lpi: 25")
    assert ready(drop.look(1.0)) == []
    assert ready(drop.look(1.0)) == []
    assert ready(drop.look(1.0)) == ["a.png"]


# --- art that cannot be read or moved -----------------------------------------------------------


def test_art_that_cannot_be_read_waits_longer_each_time_and_is_refused_after_a_day(
    drop: Drop,
) -> None:
    drop.put("a.png")
    drop.put("b.png")
    drop.unreadable = {"a.png"}
    view = drop.rested()
    assert ready(view) == ["b.png"]
    (wait,) = view.waiting
    assert (wait.name, wait.stuck) == ("a.png", False)  # perhaps it is only busy
    assert "tried once" in wait.why
    (wait,) = drop.look(4.9, "b.png").waiting
    assert "tried once" in wait.why  # not tried before its pause is over
    (wait,) = drop.look(0.1, "b.png").waiting
    assert "tried 2 times" in wait.why and wait.stuck
    for _ in range(400):
        (wait,) = drop.look(200, "b.png").waiting
    drop.now = 1002.0 + 86_400
    view = drop.look(301, "b.png")
    (task,) = view.ready
    assert isinstance(task, ClaimOne) and task.refusal is not None
    assert task.refusal.reason is Reason.UNREADABLE


def test_whoever_changes_it_has_it_tried_at_once(drop: Drop) -> None:
    path = drop.put("a.png")
    drop.unreadable = {"a.png"}
    drop.rested()
    for _ in range(5):
        drop.look(300)
    drop.unreadable = set()
    assert ready(drop.look(1)) == []
    path.chmod(0o604)  # as somebody does who puts the rights right
    drop.look(0.1)
    assert ready(drop.look(2.0)) == ["a.png"]


@pytest.mark.parametrize(
    ("error", "waits"),
    [
        (PermissionError(errno.EACCES, "Permission denied"), True),
        (NotSettled("it is held"), False),
        (RuntimeError("odd"), False),
    ],
)
def test_art_that_could_not_be_claimed_settles_anew(
    drop: Drop, error: Exception, *, waits: bool
) -> None:
    drop.put("a.png")
    assert ready(drop.rested()) == ["a.png"]
    drop.triage.wait_again(drop.at("a.png"), error)
    view = drop.look()
    assert ready(view) == []
    assert ("tried once" in view.waiting[0].why) is waits
    assert ready(drop.look(2.0)) == ([] if waits else ["a.png"])
    assert ready(drop.look(3.0)) == ["a.png"]


def test_what_the_system_will_not_let_go_says_why(drop: Drop) -> None:
    drop.put("a.png")
    drop.rested()
    error: Any = NotSettled("somebody holds it")
    error.immovable = True
    drop.triage.wait_again(drop.at("a.png"), error)
    (wait,) = drop.look().waiting
    assert wait.why.startswith("somebody holds it; ")


def test_art_that_goes_and_comes_again_is_another(drop: Drop) -> None:
    path = drop.put("a.png")
    drop.rested()
    drop.triage.wait_again(drop.at("a.png"), PermissionError(errno.EACCES, "x"))
    drop.look()
    path.unlink()
    drop.look()
    drop.put("a.png")
    drop.look()
    assert ready(drop.look(2.0)) == ["a.png"]


# --- since when ---------------------------------------------------------------------------------


def test_how_long_the_oldest_has_been_there(drop: Drop) -> None:
    drop.look()
    assert drop.triage.oldest() == 0
    path = drop.put("a.png")
    drop.look(5)
    drop.put("b.png")
    drop.look(30)
    drop.now += 7
    assert drop.triage.oldest() == 37
    path.unlink()
    drop.look()
    assert drop.triage.oldest() == 7


def test_an_empty_sub_folder_stays_for_an_hour(drop: Drop) -> None:
    (drop.path / "class").mkdir()

    def empty(after: float) -> list[str]:
        drop.look(after)
        scan = scan_drop_folder(Beneath(drop.path.parent) / "drop")
        return [folder.name for folder in drop.triage.empty_for_long(scan)]

    assert [empty(0), empty(3599), empty(1)] == [[], [], ["class"]]
    path = drop.put("class/a.png")
    assert empty(1) == []
    path.unlink()
    assert [empty(1), empty(3599), empty(1)] == [[], [], ["class"]]


def test_files_in_a_jobs_hands_rest_as_long_as_in_the_drop_folder(drop: Drop) -> None:
    for name in ("a.png.ticket.yaml", "a.png"):
        drop.put(name)
    held = [drop.at("a.png.ticket.yaml"), drop.at("a.png")]
    drop.look()
    assert drop.triage.why_wait(held) == "it has just arrived or changed"
    drop.now += 1.9
    assert drop.triage.why_wait(held) == "it is settling"
    drop.now += 0.1
    assert drop.triage.why_wait(held) == ""
    assert drop.triage.why_wait(held) == "it has just arrived or changed"  # for whoever asks next
    drop.unreadable = {"a.png", "a.png.ticket.yaml"}
    drop.now += 2
    assert "cannot read it" in drop.triage.why_wait(held)
    drop.unreadable = {"a.png.ticket.yaml"}  # of which no end is looked for
    assert drop.triage.why_wait(held) == ""


# --- settings -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("settle", "network", "rest"),
    [(None, False, 2.0), (None, True, 15.0), (7.0, False, 7.0), (0.5, True, 0.5)],
)
def test_how_long_art_rests(settle: float | None, rest: float, *, network: bool) -> None:
    settings = QueueSettings(snapshot={}, settle=settle)
    assert settings.rest(network=network) == rest
    assert (settings.takeover, settings.max_bytes) == (900.0, 512_000_000)
    assert module.READY == 64
